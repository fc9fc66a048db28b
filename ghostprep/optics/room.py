"""What stands around the optics: shelf and cords, holder, and the player's way out."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ghostprep.errors import InputError
from ghostprep.optics.bodies import Body
from ghostprep.optics.collisions import LEAST_MM
from ghostprep.optics.holder import HolderFit, fit_holder
from ghostprep.optics.layout import Layout
from ghostprep.optics.panefit import box_faces, outside
from ghostprep.optics.sightlines import bounds, opening_of
from ghostprep.optics.solids import Block, gap, player_block
from ghostprep.optics.vectors import AXES, Vector, vector
from ghostprep.scene import Scene
from ghostprep.scene.model import CORD_MM


@dataclass(frozen=True, slots=True)
class ShelfFit:
    """The box on its shelf."""

    needed_mm: tuple[float, float, float]
    """Width and height over the walls; and depth: inside depth, the back sheet, the front sheet where the
    opening is smaller than the front, and the room for plug and cord."""
    over_mm: tuple[float, float, float]
    """How much of each the shelf lacks; 0 where it has room or nothing is known of it."""
    known: bool
    """Whether the scene says anything of the shelf."""

    @property
    def depth_needed_mm(self) -> float:
        """The depth it needs, with plug and cord."""
        return self.needed_mm[2]

    @property
    def fits(self) -> bool | None:
        """Whether the box fits on the shelf; None if no shelf is given."""
        return max(self.over_mm) <= 1e-6 if self.known else None

    def as_dict(self) -> dict[str, object]:
        """Return the keys of the report."""
        width, height, depth = self.needed_mm
        return {"depth_needed": depth, "width_needed": width, "height_needed": height, "fits": self.fits}


@dataclass(frozen=True, slots=True, eq=False)
class WayOut:
    """One direction in which the player could be drawn out of the box."""

    direction: str
    """up, down, left, right, front or back (nearest to the way of the slide)."""
    surface: str
    """What it passes: it needs a slot there, or the opening."""
    slot_mm: tuple[float, float]
    """Size of the slot: the player's body with its clearance, mm."""
    travel_mm: float
    """How far it must be drawn until it is out."""
    in_the_way: tuple[str, ...]
    """What stands in the way; empty if it is free."""

    @property
    def clear(self) -> bool:
        """Whether nothing stands in the way."""
        return not self.in_the_way


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """Shelf, holder and the player's way out."""

    shelf: ShelfFit
    holder: HolderFit
    out: str
    """The way in which the holder lets the player slide out."""
    body_to_pane_mm: float
    """Free room between the player's body and the pane; 0 or less if they meet."""
    ways_out: tuple[WayOut, ...]


def find_shelf(scene: Scene) -> ShelfFit:
    """Return how large a shelf the box needs."""
    box, shelf = scene.box, scene.shelf
    sheets = box.wall if box.open_front else 2 * box.wall
    cord = shelf.cord if shelf else CORD_MM
    needed = (box.width + 2 * box.wall, box.height + 2 * box.wall, box.depth + sheets + cord)
    room = (shelf.width, shelf.height, shelf.depth) if shelf else (None, None, None)
    over = [0.0 if r is None else max(n - r, 0.0) for n, r in zip(needed, room, strict=True)]
    return ShelfFit(needed, (over[0], over[1], over[2]), shelf is not None)


def choose_holder(scene: Scene, layout: Layout, ways: Iterable[WayOut]) -> tuple[HolderFit, str]:
    """Return the holder and the way in which the player slides out of it.

    Raises
    ------
    InputError
        The scene wants a way that does not run along the player's face.
    """
    ways = list(ways)
    wanted = scene.holder.out
    if wanted is not None and wanted not in [way.direction for way in ways]:
        raise InputError(
            f"the player cannot be drawn out {towards(wanted)}, across its own face",
            where=scene.where("holder", "out"),
            remedy=f"it slides {', '.join(way.direction for way in ways)}",
        )
    fits = {way.direction: fit_holder(scene, layout.screen, way.direction) for way in ways}

    def cost(way: WayOut) -> tuple[bool, bool, bool, float]:
        parts = [block.corners() for _, block in fits[way.direction].blocks(layout.screen)]
        through = outside(scene, np.vstack(parts)) > LEAST_MM
        # through the front it would pass the scene: only if nothing else is free
        return not way.clear, through, way.surface == "opening", way.travel_mm

    out = wanted or min(ways, key=cost).direction
    return fits[out], out


def towards(way: str) -> str:
    """Return one of the six ways as it stands in a sentence: "up", "to the left"."""
    return f"to the {way}" if way in {"left", "right", "front", "back"} else way


def find_ways_out(scene: Scene, layout: Layout, sheet: Block, bodies: Iterable[Body]) -> tuple[WayOut, ...]:
    """Return the four slides in the plane of the screen, each with what is in its way.

    `sheet` is the pane, `bodies` what else may be in the way; walls can be slotted, and the holder is left
    open on that side.
    """
    body, slack = player_block(layout.screen, scene.screen.body), scene.holder.slack
    loose = Block(body.centre, body.axes, body.half + slack)
    blocks = [(b.name, b.block) for b in bodies if b.role in {"divider", "thing", "baffle"}]
    blocks.append(("pane", sheet))
    through = opening_of(scene).grown(1e-6).holds(bounds(body.corners()))
    ways = []
    for axis, sign in itertools.product((0, 1), (-1.0, 1.0)):
        direction = sign * body.axes[axis]
        name = max(AXES, key=lambda word: float(direction @ vector(AXES[word])))
        surface, travel = _travel(scene, loose, direction)
        swept = loose.swept(axis, sign * travel)
        met = [what for what, block in blocks if gap(swept, block) <= 0]
        if surface == "opening" and not through:
            met.append("front")
        slot = (2 * float(loose.half[1 - axis]), 2 * float(loose.half[2]))
        ways.append(WayOut(name, surface, slot, travel, tuple(dict.fromkeys(met))))
    return tuple(ways)


def _travel(scene: Scene, block: Block, direction: Vector) -> tuple[str, float]:
    """Return the surface that a block passes first, and how far it goes until it is past it."""
    corners, best = block.corners(), ("", np.inf)
    for name, normal, limit in box_faces(scene):
        speed = float(direction @ normal)
        if speed > 0.3:  # a swivelled player slides at an angle to its wall
            way = (limit + scene.box.wall - float((corners @ normal).min())) / speed
            best = min(best, (name, way), key=lambda pair: pair[1])
    return best[0], float(best[1])
