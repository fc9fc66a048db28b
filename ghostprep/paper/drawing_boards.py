"""Wood, baffle, trims and lamps on a drawing."""

from __future__ import annotations

from typing import Final

import numpy as np

from ghostprep.optics import Plan
from ghostprep.optics.baffle import Baffle
from ghostprep.optics.sightlines import Rectangle, opening_of
from ghostprep.paper.frame import DrawnView
from ghostprep.paper.look import BLACKED, INK, LAMP, LIT, WOOD
from ghostprep.paper.sheet import PaperSheet
from ghostprep.paper.tags import Mark
from ghostprep.scene import Scene

_THICK_MM: Final = 2.0
"""How thick baffle and trims are drawn, in the scene."""


def draw_wood(sheet: PaperSheet, view: DrawnView, place: Rectangle) -> None:
    """Draw a cut through a sheet of the box, if there is any."""
    if min(place.size) > 0:
        sheet.area(view.flat(place.corners()), WOOD, INK, 0.2, zorder=1.5)


def baffle_face(scene: Scene, baffle: Baffle) -> Rectangle:
    """Return the board as seen from the front (x, y), mm."""
    start = wall_of(scene, baffle.wall)
    end = start + baffle.reach_mm * (1 if baffle.wall in {"left", "floor"} else -1)
    low, high = sorted((start, end))
    if baffle.wall in {"left", "right"}:
        return Rectangle(low, baffle.low_mm, high, baffle.high_mm)
    return Rectangle(baffle.low_mm, low, baffle.high_mm, high)


def wall_of(scene: Scene, wall: str) -> float:
    """Return x or y of the inside of a wall, floor or ceiling, mm."""
    box = scene.box
    return {"left": -box.width / 2, "right": box.width / 2, "floor": 0.0, "ceiling": box.height}[wall]


def trim_face(scene: Scene, side: str, width: float) -> Rectangle:
    """Return a trim as seen from the front (x, y), mm."""
    o = opening_of(scene)
    return {
        "left": Rectangle(o.left, o.low, o.left + width, o.high),
        "right": Rectangle(o.right - width, o.low, o.right, o.high),
        "bottom": Rectangle(o.left, o.low, o.right, o.low + width),
        "top": Rectangle(o.left, o.high - width, o.right, o.high),
    }[side]


def draw_boards(sheet: PaperSheet, view: DrawnView, plan: Plan, axis: int) -> list[Mark]:
    """Draw the baffle, and the trims that lie along an axis, into a view that shows it and depth."""
    scene = plan.scene
    marks: list[Mark] = []
    baffle = plan.sight.baffle
    if baffle is not None:
        face = baffle_face(scene, baffle)
        stands = (baffle.wall in {"left", "right"}) == (axis == 0)
        place = _deep(face, axis, baffle.depth_mm - _THICK_MM, baffle.depth_mm)
        at = view.flat(place.corners())
        sheet.area(at, BLACKED, BLACKED, 0.2, zorder=5, alpha=1.0 if stands else 0.35)
        marks.append(("baffle", _centre(at), 250.0 if axis == 0 else 160.0))
    for side, width in plan.sight.trims().items():
        if (side in {"left", "right"}) != (axis == 0):
            continue
        place = _deep(trim_face(scene, side, width), axis, -_THICK_MM, 0.0)
        at = view.flat(place.corners())
        sheet.area(at, BLACKED, BLACKED, 0.2, zorder=5)
        marks.append((f"trim, {side}", _centre(at), 270.0 if axis == 0 else 180.0))
    return marks


def _deep(face: Rectangle, axis: int, near: float, far: float) -> Rectangle:
    """Return a board of this face in a view of `axis` and depth: (x, z) from above, (z, y) from the side."""
    if axis == 0:
        return Rectangle(face.left, near, face.right, far)
    return Rectangle(near, face.low, far, face.high)


def _centre(points: np.ndarray) -> tuple[float, float]:
    x, y = points.mean(axis=0)
    return float(x), float(y)


def draw_lamps(sheet: PaperSheet, view: DrawnView, plan: Plan) -> list[Mark]:
    """Draw the lamps; the first one gets the tag."""
    marks: list[Mark] = []
    for index, lamp in enumerate(plan.scene.light.lamps):
        x, y = view.on(np.array(lamp.at))
        sheet.disc((float(x), float(y)), 1.0, LIT, LAMP, width_mm=0.2, zorder=6)
        if index == 0:
            marks.append(("lamp", (float(x), float(y)), 90.0))
    return marks
