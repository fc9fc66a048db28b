"""What stands around the optics: shelf and cords, the player's holder, the way to draw it out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.optics.layout import Layout
from ghostprep.optics.panefit import FACE_NAMES, PaneFit, box_faces
from ghostprep.optics.sightlines import opening_of
from ghostprep.optics.solids import Block, gap, pane_block, player_block
from ghostprep.optics.vectors import AXES, Vector, vector
from ghostprep.scene import Scene

SLIDE_MM: Final = 0.5
"""Clearance on each side with which a player slides in its holder. Common practice, no source."""
_DEFAULT_CORD_MM: Final = 20.0


@dataclass(frozen=True, slots=True)
class ShelfFit:
    """The box on its shelf.

    Attributes
    ----------
    depth_needed_mm : float
        Inside depth, the back sheet, the front sheet where the opening is smaller than the front,
        and the room for plug and cord.
    fits : bool or None
        Whether the shelf is that deep; None if no shelf is given.
    """

    depth_needed_mm: float
    fits: bool | None

    def as_dict(self) -> dict[str, object]:
        """Return the keys of the report."""
        return {"depth_needed": self.depth_needed_mm, "fits": self.fits}


@dataclass(frozen=True, slots=True, eq=False)
class WayOut:
    """One direction in which the player could be drawn out of the box.

    Attributes
    ----------
    direction : str
        up, down, left, right, front or back (nearest to the way of the slide).
    surface : str
        What it passes: it needs a slot there, or the opening.
    slot_mm : tuple of float
        Size of the slot: the player's body with its clearance, mm.
    travel_mm : float
        How far it must be drawn until it is out.
    clear : bool
        Whether neither the pane, the front's frame nor the baffle is in the way.
    """

    direction: str
    surface: str
    slot_mm: tuple[float, float]
    travel_mm: float
    clear: bool


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """Shelf, holder and the player's way out.

    Attributes
    ----------
    shelf : ShelfFit
    holder_mm : tuple of float
        Inside size along the raster's width and height, and its depth.
    window_mm : tuple of float
        Hole before the lit area, along the raster's width and height.
    body_outside : dict
        How far the player's body reaches through each surface of the box, mm.
    body_to_pane_mm : float
        Free room between body and pane; 0 or less if they meet.
    ways_out : tuple of WayOut
    """

    shelf: ShelfFit
    holder_mm: tuple[float, float, float]
    window_mm: tuple[float, float]
    body_outside: dict[str, float]
    body_to_pane_mm: float
    ways_out: tuple[WayOut, ...]


def find_room(scene: Scene, layout: Layout, pane: PaneFit, *, baffled: bool) -> Room:
    """Return how the parts sit in the box and the box on its shelf.

    `baffled` says that a baffle will stand before the player.
    """
    w, h, thick = scene.screen.body
    body = player_block(layout.screen, scene.screen.body)
    sheet = pane_block(scene, layout, pane)
    window = tuple(
        min(lit + 2 * SLIDE_MM, side) for lit, side in zip(scene.screen.active, (w, h), strict=True)
    )
    return Room(
        _shelf(scene),
        (w + 2 * SLIDE_MM, h + 2 * SLIDE_MM, thick + SLIDE_MM),
        (window[0], window[1]),
        _reaches(scene, body),
        gap(body, sheet),
        _ways_out(scene, body, sheet, baffled=baffled),
    )


def _shelf(scene: Scene) -> ShelfFit:
    box = scene.box
    sheets = box.wall if box.open_front else 2 * box.wall
    cord = scene.shelf.cord if scene.shelf else _DEFAULT_CORD_MM
    needed = box.depth + sheets + cord
    return ShelfFit(needed, None if scene.shelf is None else needed <= scene.shelf.depth + 1e-6)


def _reaches(scene: Scene, body: Block) -> dict[str, float]:
    corners = body.corners()
    over = {
        name: float((corners @ normal).max()) - limit
        for name, (normal, limit) in zip(FACE_NAMES, box_faces(scene), strict=True)
    }
    return {name: reach for name, reach in over.items() if reach > 1e-6}


def _ways_out(scene: Scene, body: Block, sheet: Block, *, baffled: bool) -> tuple[WayOut, ...]:
    """Return the four slides in the plane of the screen, each with what is in its way."""
    loose = Block(body.centre, body.axes, body.half + SLIDE_MM)
    ways = []
    for axis in (0, 1):
        for sign in (-1.0, 1.0):
            direction = sign * body.axes[axis]
            name = max(AXES, key=lambda word: float(direction @ vector(AXES[word])))
            surface, travel = _travel(scene, loose, direction)
            swept = loose.swept(axis, sign * travel)
            clear = gap(swept, sheet) > 0
            if surface == "opening":
                clear = clear and not baffled and _passes_opening(scene, body)
            slot = (2 * float(loose.half[1 - axis]), 2 * float(loose.half[2]))
            ways.append(WayOut(name, surface, slot, travel, clear))
    return tuple(ways)


def _travel(scene: Scene, block: Block, direction: Vector) -> tuple[str, float]:
    """Return the surface that a block passes first, and how far it goes until it is past it."""
    corners = block.corners()
    best = ("", np.inf)
    for name, (normal, limit) in zip(FACE_NAMES, box_faces(scene), strict=True):
        speed = float(direction @ normal)
        if speed > 0.3:  # a swivelled player slides at an angle to its wall
            way = (limit + scene.box.wall - float((corners @ normal).min())) / speed
            best = min(best, (name, way), key=lambda pair: pair[1])
    return best[0], float(best[1])


def _passes_opening(scene: Scene, block: Block) -> bool:
    corners, o = block.corners(), opening_of(scene)
    return bool(
        corners[:, 0].min() >= o.left - 1e-6
        and corners[:, 0].max() <= o.right + 1e-6
        and corners[:, 1].min() >= o.low - 1e-6
        and corners[:, 1].max() <= o.high + 1e-6
    )
