"""Wood, baffle, trims and lamps on a drawing."""

from __future__ import annotations

from typing import Final

import numpy as np

from ghostprep.optics import Plan
from ghostprep.optics.sightlines import Rectangle, opening_of
from ghostprep.optics.solids import Block, upright_block
from ghostprep.paper.frame import DrawnView
from ghostprep.paper.look import BLACKED, INK, LAMP, LIT, WOOD
from ghostprep.paper.sheet import PaperSheet
from ghostprep.paper.tags import Mark
from ghostprep.scene import Scene

_THICK_MM: Final = 2.0
"""How thick trims are drawn, in the scene."""


def draw_wood(sheet: PaperSheet, view: DrawnView, plan: Plan, cut: set[str]) -> None:
    """Draw a cut through those sheets of the box whose names are given, the front's pieces among them."""
    for body in plan.world.bodies:
        if body.role == "wall" and body.name in cut:
            sheet.area(view.hull(body.block.corners()), WOOD, INK, 0.2, zorder=1.5)
    for part, block in front_boards(plan).items():
        if part in cut:
            sheet.area(view.hull(block.corners()), WOOD, INK, 0.2, zorder=1.5)


def front_boards(plan: Plan) -> dict[str, Block]:
    """Return the front's pieces round the opening, as thick as they are; for the sight they are thin."""
    if plan.scene.box.open_front:
        return {}
    boards = {}
    for body in plan.world.bodies:
        if body.role == "front":
            low, high = body.block.corners().min(axis=0), body.block.corners().max(axis=0)
            low[2] = -plan.scene.box.wall
            boards[body.part] = upright_block(low, high)
    return boards


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
        stands = (baffle.wall in {"left", "right"}) == (axis == 0)
        at = view.hull(baffle.body(scene).block.corners())
        sheet.area(at, BLACKED, BLACKED, 0.2, zorder=5, alpha=1.0 if stands else 0.35)
        marks.append(("baffle", _centre(at), 250.0 if axis == 0 else 160.0))
    for side, width in plan.sight.trims().items():
        if (side in {"left", "right"}) != (axis == 0):
            continue
        face = trim_face(scene, side, width)
        block = upright_block((face.left, face.low, -_THICK_MM), (face.right, face.high, 0.0))
        at = view.hull(block.corners())
        sheet.area(at, BLACKED, BLACKED, 0.2, zorder=5)
        marks.append((f"trim, {side}", _centre(at), 270.0 if axis == 0 else 180.0))
    return marks


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
