"""The one world: all that stands in the box, and what a ray meets there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from ghostprep.optics.bodies import Body, Role, box_bodies, divider_bodies, mirror_height, thing_bodies
from ghostprep.optics.holder import HolderFit
from ghostprep.optics.layout import Layout, Panel
from ghostprep.optics.panefit import PaneFit
from ghostprep.optics.solids import Block, player_block
from ghostprep.optics.vectors import Vector, reflect_direction, reflect_point, unit, vector
from ghostprep.scene import Scene
from ghostprep.scene.furniture import Mirror

OUT: Final = -1
"""The ray leaves the box, or meets nothing."""
SCREEN: Final = -2
"""The ray meets the lit area's face."""
MIRROR_BACK: Final = -3
"""The ray meets a mirror from behind."""
CAUGHT: Final = -4
"""The ray was followed as often as was asked for and still runs between mirrors."""
_MEETINGS: Final = 9
"""Meetings of a ray with sheets that are followed."""
_NEAR: Final = 1e-6
"""mm: a ray that starts on a surface does not meet it."""
_PANE: Final = -10
"""What a ray meets next, inside `World`: the pane; below it, the mirrors by their numbers."""


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """A flat rectangle that reflects: the pane's front face, or a mirror."""

    name: str
    corners: Vector
    """Its four corners (4, 3), all the way round, mm."""
    normal: Vector
    """Away from the face that looks towards the opening."""

    @property
    def centre(self) -> Vector:
        """Its middle, mm."""
        middle: Vector = self.corners.mean(axis=0)
        return middle

    @property
    def sides(self) -> tuple[Vector, Vector]:
        """Its two sides from the first corner (3,) each, mm."""
        return self.corners[1] - self.corners[0], self.corners[3] - self.corners[0]

    def block(self, thickness_mm: float) -> Block:
        """Return it as a block, whose thickness lies behind its face."""
        a, b = self.sides
        wide, high = float(np.linalg.norm(a)), float(np.linalg.norm(b))
        half = np.array([wide, high, thickness_mm]) / 2
        middle = self.centre - self.normal * thickness_mm / 2
        return Block(middle, np.array([a / wide, b / high, self.normal]), half)

    def image(self, points: Vector) -> Vector:
        """Return the mirror images of points (..., 3)."""
        return reflect_point(points, self.centre, self.normal)

    def meets(self, starts: Vector, ways: Vector) -> Vector:
        """Return how far along unit ways (n, 3) the rays meet the rectangle; infinite where they do not."""
        a, b = self.sides
        with np.errstate(all="ignore"):
            far = ((self.corners[0] - starts) @ self.normal) / (ways @ self.normal)
            places = starts + far[:, None] * ways - self.corners[0]
            x, y = places @ a / (a @ a), places @ b / (b @ b)
            hit = (far > _NEAR) & (x >= -1e-9) & (x <= 1 + 1e-9) & (y >= -1e-9) & (y <= 1 + 1e-9)
        return np.where(hit, far, np.inf)


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """Where rays end."""

    end: npt.NDArray[np.int64]
    """(n,): index into ``World.bodies``, or `OUT`, `SCREEN`, `MIRROR_BACK`, `CAUGHT`."""
    point: Vector
    """Where (n, 3), mm; for `OUT` the place where it last turned."""
    way: Vector
    """The unit direction in which it arrives (n, 3)."""
    length: Vector
    """Way from its start (n,), mm."""
    mirrors: npt.NDArray[np.int64]
    """(n,): how many mirrors turned it."""
    passed: Vector
    turned: Vector
    """Cosines of the incidences on the pane (n, 4) where it passed the pane, and where the pane turned it;
    nan where it did not."""


@dataclass(frozen=True, slots=True, eq=False)
class World:
    """Bodies that block, sheets that reflect, and the lit screen."""

    bodies: tuple[Body, ...]
    """Walls, front, dividers, things, player, holder, baffle, in this order."""
    pane: Sheet
    """Its front face; it lets light through as well, from both sides."""
    mirrors: tuple[Sheet, ...]
    """They send light on from their front, and block it from behind."""
    screen: Panel
    """The lit area, on the player's face."""
    _frames: list[tuple[Vector, slice | list[int], Vector, Vector]] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        groups: dict[bytes, list[int]] = {}
        for place, body in enumerate(self.bodies):
            groups.setdefault((np.round(body.block.axes, 9) + 0.0).tobytes(), []).append(place)
        frames = []
        for places in groups.values():
            blocks = [self.bodies[place].block for place in places]
            axes = blocks[0].axes
            middles = np.array([b.centre for b in blocks]) @ axes.T
            together = places == list(range(places[0], places[-1] + 1))
            mine = slice(places[0], places[-1] + 1) if together else places
            frames.append((axes, mine, middles, np.array([b.half for b in blocks])))
        object.__setattr__(self, "_frames", frames)

    def with_bodies(self, more: Iterable[Body]) -> World:
        """Return the world with more bodies."""
        return replace(self, bodies=(*self.bodies, *more))

    def without(self, *names: str) -> World:
        """Return the world without the bodies of these names."""
        return replace(self, bodies=tuple(body for body in self.bodies if body.name not in names))

    def of_role(self, *roles: Role) -> World:
        """Return the world with the bodies of these roles only, and without mirrors."""
        kept = tuple(body for body in self.bodies if body.role in roles)
        return replace(self, bodies=kept, mirrors=())

    def normals_at(self, ends: npt.NDArray[np.int64], points: Vector) -> Vector:
        """Return the outward unit normals (n, 3) of bodies, or the `SCREEN`, at points of them (n, 3)."""
        normals = np.tile(self.screen.normal, (len(ends), 1))
        for end in np.unique(ends[ends >= 0]):
            here, block = ends == end, self.bodies[end].block
            local = (points[here] - block.centre) @ block.axes.T
            axis = (np.abs(local) - block.half).argmax(axis=1)
            outward = np.where(local[np.arange(len(local)), axis] >= 0, 1.0, -1.0)
            normals[here] = outward[:, None] * block.axes[axis]
        return normals

    def indices(self, *names: str) -> list[int]:
        """Return the places in `bodies` of all blocks of these names."""
        return [place for place, body in enumerate(self.bodies) if body.name in names]

    def name_of(self, end: int) -> str:
        """Return what a ray met, in words."""
        words = {OUT: "the room before the box", SCREEN: "the lit screen", MIRROR_BACK: "a mirror's back"}
        return words.get(end, "nothing") if end < 0 else self.bodies[end].name

    def first_body(self, starts: Vector, ways: Vector) -> tuple[npt.NDArray[np.int64], Vector]:
        """Return which body each ray meets first (`OUT` if none), and how far along its unit way.

        Each block is three pairs of planes; a ray is inside where it is between all of them.
        """
        n = len(starts)
        if not self.bodies:
            return np.full(n, OUT), np.full(n, np.inf)
        near = np.full((n, len(self.bodies)), -np.inf)
        far = np.full((n, len(self.bodies)), np.inf)
        for axes, mine, middles, halves in self._frames:
            # bodies that stand alike share their axes, so the rays are turned once for all of them
            at, speed = starts @ axes.T, ways @ axes.T
            inverse = 1 / np.where(np.abs(speed) < 1e-12, 1e-12, speed)
            for k in range(3):
                middle = (middles[:, k] - at[:, k, None]) * inverse[:, k, None]
                reach = halves[:, k] * np.abs(inverse[:, k, None])
                near[:, mine] = np.maximum(near[:, mine], middle - reach)
                far[:, mine] = np.minimum(far[:, mine], middle + reach)
        near[(near > far) | (far <= _NEAR)] = np.inf
        first = near.argmin(axis=1)
        length = np.maximum(near[np.arange(n), first], 0.0)
        return np.where(np.isfinite(length), first, OUT), length

    def trace(self, starts: Vector, ways: Vector, pane: Sequence[bool] = ()) -> Trace:
        """Follow rays (n, 3), of any length, until they end.

        `pane` says whether the pane turns a ray (True) or lets it pass at its first, second, ... meeting;
        beyond the sequence it lets it pass. The shift in the sheet (a third of its thickness) is left out.
        """
        n = len(starts)
        point, way = np.array(starts, np.float64), unit(np.asarray(ways, np.float64))
        end = np.full(n, CAUGHT)
        length, mirrors, met = np.zeros(n), np.zeros(n, np.int64), np.zeros(n, np.int64)
        passed, turned = np.full((n, 4), np.nan), np.full((n, 4), np.nan)
        choices = np.array([*pane, *([False] * _MEETINGS)])
        todo = np.arange(n)
        for _ in range(_MEETINGS):
            if len(todo) == 0:
                break
            p, d = point[todo], way[todo]
            kind, far = self._first(p, d)
            moved = np.isfinite(far)
            point[todo[moved]] = p[moved] + far[moved, None] * d[moved]
            length[todo[moved]] += far[moved]
            sheet = kind <= _PANE
            end[todo[~sheet]] = kind[~sheet]
            onward = todo[sheet]
            for number, mirror in enumerate(self.mirrors, 1):
                here = todo[kind == _PANE - number]
                way[here] = reflect_direction(way[here], mirror.normal)
                mirrors[here] += 1
            here = todo[kind == _PANE]
            turn, cosine = choices[met[here]], np.abs(way[here] @ self.pane.normal)
            for store, mine in ((turned, turn), (passed, ~turn)):
                store[here[mine], np.minimum(met[here[mine]], 3)] = cosine[mine]
            met[here] += 1
            way[here[turn]] = reflect_direction(way[here[turn]], self.pane.normal)
            todo = onward
        return Trace(end, point, way, length, mirrors, passed, turned)

    def _first(self, p: Vector, d: Vector) -> tuple[npt.NDArray[np.int64], Vector]:
        """Return what each ray meets next: an end, or `_PANE` less the number of the mirror (0: pane)."""
        kind, far = self.first_body(p, d)
        far = np.where(kind == OUT, np.inf, far)
        lit = np.where(d @ self.screen.normal < 0, lit_area(self.screen).meets(p, d), np.inf)
        hit = np.isfinite(lit) & (lit <= far + _NEAR)
        kind, far = np.where(hit, SCREEN, kind), np.where(hit, lit, far)
        for number, sheet in enumerate((self.pane, *self.mirrors)):
            there = sheet.meets(p, d)
            hit = np.isfinite(there) & (there <= far + (_NEAR if number else -_NEAR))
            mark = np.full(len(p), _PANE - number)
            if number:
                mark = np.where(d @ sheet.normal < 0, mark, MIRROR_BACK)
            kind, far = np.where(hit, mark, kind), np.where(hit, there, far)
        return kind, far


def lit_area(screen: Panel) -> Sheet:
    """Return the lit area as a rectangle."""
    return Sheet("the lit screen", screen.corners(), screen.normal)


def build_world(scene: Scene, layout: Layout, pane: PaneFit, holder: HolderFit | None = None) -> World:
    """Return the world of a scene, without a baffle, and without the holder if none is given."""
    bodies = [*box_bodies(scene), *divider_bodies(scene), *thing_bodies(scene)]
    bodies.append(Body("player", "player", "", player_block(layout.screen, scene.screen.body)))
    if holder is not None:
        bodies += [Body("holder", "holder", part, block) for part, block in holder.blocks(layout.screen)]
    mirrors = tuple(
        mirror_sheet(scene, mirror, f"mirror {number}") for number, mirror in enumerate(scene.mirror, 1)
    )
    return World(tuple(bodies), Sheet("pane", pane.corners, layout.pane_normal), mirrors, layout.screen)


def mirror_sheet(scene: Scene, mirror: Mirror, name: str) -> Sheet:
    """Return a mirror as a sheet that looks towards the opening, or else towards the box's middle."""
    (x0, z0), (x1, z1) = mirror.start, mirror.end
    low, high = mirror.sill, mirror.sill + mirror_height(scene, mirror)
    corners = np.array([(x0, low, z0), (x1, low, z1), (x1, high, z1), (x0, high, z0)])
    normal = unit(vector((z1 - z0, 0.0, x0 - x1)))
    wrong = normal[2] > 1e-9 or (abs(normal[2]) <= 1e-9 and normal[0] * (x0 + x1) > 0)
    return Sheet(name, corners, -normal if wrong else normal)
