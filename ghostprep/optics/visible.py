"""Who sees what: straight lines from the whole range of eyes to whole surfaces, past bodies and over mirrors.

A question is asked twice: over an even net of eyes and points, and, where that found nothing, along
lines that just pass an edge of a body, since what is seen only a little is seen beside an edge.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.arrays import Mask
from ghostprep.optics.solids import Block
from ghostprep.optics.vectors import Vector, meet_plane, pairs, unit
from ghostprep.optics.world import OUT, SCREEN, Sheet, World, lit_area

_INSET: Final = 1e-3
"""Shares of a side: a net of points stays off its very edge."""
_BESIDE_MM: Final = 0.2
"""How closely lines pass an edge."""
_ON_EDGE: Final = np.array([0.03, 0.35, 0.65, 0.97])
"""Shares of an edge where lines pass it."""
_MOST: Final = 6000
"""Lines that are followed at most; of more some are drawn."""
_TOUCH_MM: Final = 1e-4
"""What ends nearer touches."""


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Lines of sight that arrive."""

    eyes: Vector
    points: Vector
    """Where each starts and what it sees (n, 3), mm."""

    def __bool__(self) -> bool:
        return len(self.eyes) > 0

    def __add__(self, other: Lines) -> Lines:
        return Lines(np.vstack([self.eyes, other.eyes]), np.vstack([self.points, other.points]))

    def past(self, world: World) -> Lines:
        """Return those that no body and no mirror stops."""
        free = clear(world, self.eyes, self.points)
        return Lines(self.eyes[free], self.points[free])

    def crossing(self, depth_mm: float) -> Vector:
        """Return where the lines cross a depth (k, 3); those that end before it are left out."""
        beyond = self.points[:, 2] > depth_mm + _TOUCH_MM
        a, b = self.eyes[beyond], self.points[beyond]
        share = (depth_mm - a[:, 2]) / (b[:, 2] - a[:, 2])
        return a + share[:, None] * (b - a)


NO_LINES: Final = Lines(np.empty((0, 3)), np.empty((0, 3)))


def net(sheet: Sheet, across: int, up: int) -> Vector:
    """Return evenly spread points of a rectangle (across * up, 3), its corners among them."""
    a, b = sheet.sides
    x, y = np.meshgrid(np.linspace(_INSET, 1 - _INSET, across), np.linspace(_INSET, 1 - _INSET, up))
    points: Vector = sheet.corners[0] + x.reshape(-1, 1) * a + y.reshape(-1, 1) * b
    return points


def faces(block: Block) -> list[Sheet]:
    """Return the six faces of a block, their normals outwards."""
    found = []
    for axis, sign in itertools.product(range(3), (-1.0, 1.0)):
        u, v = (k for k in range(3) if k != axis)
        middle = block.centre + sign * block.half[axis] * block.axes[axis]
        a, b = block.half[u] * block.axes[u], block.half[v] * block.axes[v]
        corners = np.array([middle - a - b, middle + a - b, middle + a + b, middle - a + b])
        found.append(Sheet("", corners, sign * block.axes[axis]))
    return found


def clear(world: World, starts: Vector, ends: Vector) -> Mask:
    """Return whether no body and no mirror stands between starts and ends (n, 3); the pane does not count."""
    ways = ends - starts
    far = np.linalg.norm(ways, axis=1)
    ways = ways / far[:, None]
    first, length = world.first_body(starts, ways)
    free = (first < 0) | (length >= far - _TOUCH_MM)
    for mirror in world.mirrors:
        free &= mirror.meets(starts, ways) >= far - _TOUCH_MM
    seen: Mask = free
    return seen


def lines_to(world: World, eyes: Sheet, target: Sheet) -> Lines:
    """Return lines from a range of eyes to the front of a rectangle that nothing stops.

    `world` is without the bodies that are looked at. Where an even net finds nothing, lines that just pass an
    edge of a body are tried.
    """
    if ((eyes.corners - target.corners[0]) @ target.normal).max() <= _TOUCH_MM:
        return NO_LINES
    found = _arriving(world, Lines(*pairs(net(eyes, 9, 3), net(target, 9, 9))), target)
    if found:
        return found
    edges = np.concatenate([body.block.edges() for body in world.bodies])
    ahead, back = _beside(net(eyes, 5, 3), edges, target), _beside(net(target, 4, 4), edges, eyes)
    return _arriving(world, ahead + Lines(back.points, back.eyes), target)


def _arriving(world: World, lines: Lines, target: Sheet) -> Lines:
    """Return the lines that come to the front of a rectangle, past all that stands in the world."""
    facing = (lines.eyes - lines.points) @ target.normal > _TOUCH_MM
    return Lines(lines.eyes[facing], lines.points[facing]).past(world)


def _beside(sources: Vector, edges: Vector, on: Sheet) -> Lines:
    """Return lines from points (k, 3) that pass an edge (e, 2, 3) closely and meet a rectangle."""
    along = edges[:, None, 0] + _ON_EDGE[:, None] * (edges[:, None, 1] - edges[:, None, 0])
    way = np.broadcast_to(unit(edges[:, 1] - edges[:, 0])[:, None], along.shape).reshape(-1, 3)
    passed = along.reshape(-1, 3)
    starts, passed = pairs(sources, passed)
    way, ahead = np.tile(way, (len(sources), 1)), passed - starts
    speed = ahead @ on.normal
    with np.errstate(all="ignore"):
        share = ((on.corners[0] - starts) @ on.normal) / speed
    good = (np.abs(speed) > 1e-9) & (share > 1 + 1e-9)
    starts, passed, way, share, ahead = starts[good], passed[good], way[good], share[good], ahead[good]
    # at right angles to the edge and to the line: the shortest way past the edge
    aside = np.cross(way, ahead)
    size = np.linalg.norm(aside, axis=1, keepdims=True)
    aside = np.divide(aside, size, out=np.zeros_like(aside), where=size > 1e-9)
    a, b = on.sides
    if a @ a == 0 or b @ b == 0:
        # an eye that does not move has no other lines past the edge
        return NO_LINES
    found = NO_LINES
    for mm in (-_BESIDE_MM, _BESIDE_MM):
        end = meet_plane(starts, passed + mm * aside, on.corners[0], on.normal)
        x, y = (end - on.corners[0]) @ a / (a @ a), (end - on.corners[0]) @ b / (b @ b)
        kept = (x > 0) & (x < 1) & (y > 0) & (y < 1)
        found += Lines(starts[kept], end[kept])
    if (count := len(found.eyes)) > _MOST:
        some = np.random.default_rng(0).choice(count, _MOST, replace=False)
        return Lines(found.eyes[some], found.points[some])
    return found


def lines_by(world: World, eyes: Sheet, target: Sheet, via: Sequence[Sheet]) -> Lines:
    """Return lines of sight to the lit screen that are turned by given sheets in their order.

    They are aimed at the screen's image, unfolded through the sheets from the last to the first, and
    then followed: each must meet just these sheets, and nothing before the screen.

    `via` are mirrors of the world and its pane; the pane once at most.
    """
    image = target.corners
    for sheet in reversed(via):
        image = sheet.image(image)
    starts, ends = pairs(net(eyes, 9, 3), net(Sheet("image", image, target.normal), 11, 11))
    # only lines that meet the first sheet are worth following
    met = via[0].meets(starts, unit(ends - starts)) < np.inf
    starts, ends = starts[met], ends[met]
    ways = ends - starts
    wanted = sum(sheet is not world.pane for sheet in via)
    turns = wanted < len(via)
    arrived = np.zeros(len(starts), np.bool_)
    # the pane may be passed once or twice before it turns the line
    for passes in range(3) if turns else (0,):
        traced = world.trace(starts, ways, (False,) * passes + (True,) * turns)
        good = (traced.end == SCREEN) & (traced.mirrors == wanted)
        good &= (~np.isnan(traced.turned)).sum(axis=1) == turns
        good &= np.abs(traced.length - np.linalg.norm(ways, axis=1)) < 0.01
        arrived |= good
    return Lines(starts[arrived], ends[arrived])


def ways_round(world: World) -> list[tuple[Sheet, ...]]:
    """Return the ways over mirrors by which the screen could be seen: two at most, and the pane once."""
    sheets = world.mirrors
    found: list[tuple[Sheet, ...]] = [(m,) for m in sheets]
    found += [(a, b) for a in sheets for b in sheets if a is not b]
    for m in sheets:
        found += [(world.pane, m), (m, world.pane)]
        found += [(m, world.pane, other) for other in sheets]
    return found


_GRID: Final = 13
"""Rays along each side of the pane."""


@dataclass(frozen=True, slots=True)
class Patch:
    """A part of a surface that is seen mirrored in the pane."""

    surface: str
    """The body's name; "opening" means the room before the box."""
    low: tuple[float, ...]
    high: tuple[float, ...]
    """Its lowest and highest x, y, z, mm."""


def find_patches(world: World, eyes: Sheet) -> tuple[Patch, ...]:
    """Return what is seen mirrored in the pane, traced on a net of rays from the outer eye positions."""
    starts, ends = pairs(net(eyes, 3, 3), net(world.pane, _GRID, _GRID))
    before = (starts - world.pane.centre) @ world.pane.normal > 0
    traced = world.trace(starts[before], (ends - starts)[before], (True,))
    turned = ~np.isnan(traced.turned[:, 0])
    found: dict[str, list[Vector]] = {}
    for end in np.unique(traced.end[turned]):
        if end == OUT or (end >= 0 and world.bodies[end].role not in {"player", "holder", "front"}):
            name = "opening" if end == OUT else world.bodies[end].name
            found.setdefault(name, []).append(traced.point[turned & (traced.end == end)])
    return tuple(
        Patch(name, tuple(np.vstack(at).min(axis=0).tolist()), tuple(np.vstack(at).max(axis=0).tolist()))
        for name, at in found.items()
    )


@dataclass(frozen=True, slots=True, eq=False)
class ScreenInMirror:
    """The lit screen, seen by way of a mirror."""

    via: tuple[str, ...]
    """The sheets that turn the sight, from the eye on: mirrors' names and "pane"."""
    mirror: str
    """The first mirror on the way."""
    through_pane: bool
    """Whether it looks through the pane on its way."""
    lines: Lines
    """Lines of sight, to the screen's unfolded image."""
    places: Vector
    """Where they meet that mirror (n, 3), mm."""


def find_in_mirrors(world: World, eyes: Sheet) -> tuple[ScreenInMirror, ...]:
    """Return each way over mirrors by which the lit screen is seen from somewhere."""
    lit = lit_area(world.screen)
    found = []
    for via in ways_round(world):
        lines = lines_by(world, eyes, lit, via)
        if lines:
            mirror, places = _first_mirror(world, lines, via)
            through = bool((world.pane.meets(lines.eyes, unit(places - lines.eyes)) < np.inf).any())
            names = tuple(sheet.name for sheet in via)
            found.append(ScreenInMirror(names, mirror.name, through, lines, places))
    return tuple(found)


def _first_mirror(world: World, lines: Lines, via: tuple[Sheet, ...]) -> tuple[Sheet, Vector]:
    starts, image = lines.eyes, lines.points
    for sheet in via:
        places = meet_plane(starts, image, sheet.centre, sheet.normal)
        if sheet is not world.pane:
            break
        starts, image = places, sheet.image(image)
    return sheet, places
