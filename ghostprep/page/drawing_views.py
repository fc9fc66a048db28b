"""The box from above and from the side, with everything in it."""

from __future__ import annotations

from typing import Final, TypeAlias

import numpy as np

from ghostprep.optics import Plan
from ghostprep.optics.advice.words import Words
from ghostprep.optics.sightlines import opening_of
from ghostprep.optics.solids import player_block
from ghostprep.optics.vectors import Vector
from ghostprep.page.frame import EYE_MM, View
from ghostprep.page.look import BLACKED, BODY, GHOST, PANE, RAY, RAY_PALE, SCREEN, WOOD
from ghostprep.page.rays import rays_in
from ghostprep.page.sheet import FAINT, INK, Sheet

Mark: TypeAlias = tuple[int, tuple[float, float], float]
"""A tag's number, the point that it names, and the direction to try first."""

STEP_MM: Final = 5.0
"""From one row of measures to the next."""
BOARD_MM: Final = 2.0
"""How thick baffle and trims are drawn, in the scene."""


def draw_above(sheet: Sheet, view: View, plan: Plan, numbers: dict[str, int]) -> list[Mark]:
    """Draw the box from above: x to the right, deeper is up."""
    box = plan.scene.box
    o = opening_of(plan.scene)
    _walls(sheet, view, box.width / 2, box.depth, box.wall, (o.left, o.right))
    marks = _contents(sheet, view, plan, numbers, 0)
    _caption(sheet, view, "from above", -box.width / 2 - box.wall, box.depth + box.wall)
    _measures_above(sheet, view, plan)
    return marks


def draw_side(sheet: Sheet, view: View, plan: Plan, numbers: dict[str, int]) -> list[Mark]:
    """Draw the box from the viewer's right: deeper is to the right, y up."""
    box, t = plan.scene.box, plan.scene.box.wall
    o = opening_of(plan.scene)
    for low, high in ((-t, 0.0), (box.height, box.height + t)):
        _wood(sheet, view, 0.0 if box.open_front else -t, box.depth + t, low, high)
    _wood(sheet, view, box.depth, box.depth + t, 0.0, box.height)
    if not box.open_front:
        for low, high in ((0.0, o.low), (o.high, box.height)):
            if high > low:
                _wood(sheet, view, -t, 0.0, low, high)
    marks = _contents(sheet, view, plan, numbers, 1)
    _caption(sheet, view, "from the right side", 0.0, box.height + t)
    _measures_side(sheet, view, plan)
    return marks


def _walls(
    sheet: Sheet, view: View, half: float, depth: float, t: float, opening: tuple[float, float]
) -> None:
    front = 0.0 if opening[1] - opening[0] >= 2 * half else -t
    for a, b in ((-half - t, -half), (half, half + t)):
        _wood(sheet, view, a, b, front, depth + t)
    _wood(sheet, view, -half, half, depth, depth + t)
    for a, b in ((-half, opening[0]), (opening[1], half)):
        if b > a:
            _wood(sheet, view, a, b, -t, 0.0)


def _wood(sheet: Sheet, view: View, a: float, b: float, low: float, high: float) -> None:
    sheet.area(view.flat(np.array([(a, low), (b, low), (b, high), (a, high)])), WOOD, INK, 0.2, zorder=1.5)


def _caption(sheet: Sheet, view: View, words: str, x: float, y: float) -> None:
    at = view.flat(np.array((x, y)))
    sheet.text(float(at[0]), float(at[1]) + 2.4, words, size_pt=7.5, style="italic", weight="bold")


def _contents(sheet: Sheet, view: View, plan: Plan, numbers: dict[str, int], axis: int) -> list[Mark]:
    """Draw rays, ghost, pane, player, baffle and trims into a view that shows `axis` and depth."""
    layout, scene = plan.layout, plan.scene
    for ray in rays_in(plan, axis, EYE_MM / view.factor):
        order = 3.2 if ray.middle else 3.0
        colour = RAY if ray.middle else RAY_PALE
        sheet.line(view.on(ray.seen), colour, 0.2, zorder=order)
        sheet.line(view.on(ray.apparent), colour, 0.2, linestyle=(0, (4, 3)), zorder=order)
    body = view.hull(player_block(layout.screen, scene.screen.body).corners())
    sheet.area(body, BODY, FAINT, 0.2, zorder=4, alpha=0.5)
    lit = view.on(layout.screen.corners())
    sheet.area(lit, SCREEN, SCREEN, 0.9, zorder=4.5, alpha=0.9)
    image = view.on(layout.image.corners())
    sheet.area(image, "none", GHOST, 0.9, zorder=4.4)
    sheet_corners = np.vstack([plan.pane.corners, plan.pane.back_corners])
    pane = view.hull(sheet_corners)
    sheet.area(pane, PANE, "none", 0.0, zorder=3.8, alpha=0.22)
    sheet.area(pane, "none", PANE, 0.35, zorder=4.6)
    marks: list[Mark] = [
        (numbers["ghost"], _middle(view, layout.ghost[None, :]), 60.0),
        (
            numbers["pane"],
            _middle(view, plan.pane.corners[[1, 2]] * 0.35 + plan.pane.corners[[0, 3]] * 0.65),
            150.0,
        ),
        (numbers["screen"], _middle(view, layout.screen.corners()), 20.0),
        (numbers["body"], _outer(body, lit), 200.0),
    ]
    return marks + _boards(sheet, view, plan, numbers, axis) + _lamps(sheet, view, plan, numbers)


def _middle(view: View, points: Vector) -> tuple[float, float]:
    x, y = view.on(points).mean(axis=0)
    return float(x), float(y)


def _outer(body: Vector, lit: Vector) -> tuple[float, float]:
    """Return a point of the body near the corner that lies farthest from the lit area."""
    middle = lit.mean(axis=0)
    corner = body[np.hypot(*(body - middle).T).argmax()]
    x, y = corner * 0.86 + body.mean(axis=0) * 0.14
    return float(x), float(y)


def _boards(sheet: Sheet, view: View, plan: Plan, numbers: dict[str, int], axis: int) -> list[Mark]:
    """Draw the baffle, and the trims that lie along this axis."""
    scene, box = plan.scene, plan.scene.box
    marks: list[Mark] = []
    baffle = plan.sight.baffle
    if baffle is not None:
        start = {"left": -box.width / 2, "right": box.width / 2, "floor": 0.0, "ceiling": box.height}[
            baffle.wall
        ]
        end = start + baffle.reach_mm * (1 if baffle.wall in {"left", "floor"} else -1)
        stands = (baffle.wall in {"left", "right"}) == (axis == 0)
        reach = (start, end) if stands else (baffle.low_mm, baffle.high_mm)
        corners = _band(axis, reach, (baffle.depth_mm - BOARD_MM, baffle.depth_mm))
        sheet.area(view.flat(corners), BLACKED, BLACKED, 0.2, zorder=5, alpha=1.0 if stands else 0.35)
        x, y = view.flat(corners).mean(axis=0)
        marks.append((numbers["baffle"], (float(x), float(y)), 250.0 if axis == 0 else 160.0))
    o = opening_of(scene)
    for side, width in plan.sight.trims().items():
        if (side in {"left", "right"}) != (axis == 0):
            continue
        edge = {"left": o.left, "right": o.right, "bottom": o.low, "top": o.high}[side]
        inner = edge + width * (1 if side in {"left", "bottom"} else -1)
        corners = _band(axis, (edge, inner), (-BOARD_MM, 0.0))
        sheet.area(view.flat(corners), BLACKED, BLACKED, 0.2, zorder=5)
        x, y = view.flat(corners).mean(axis=0)
        marks.append((numbers[f"trim {side}"], (float(x), float(y)), 270.0 if axis == 0 else 180.0))
    return marks


def _band(axis: int, reach: tuple[float, float], deep: tuple[float, float]) -> Vector:
    (a, b), (near, far) = reach, deep
    corners = np.array([(a, near), (b, near), (b, far), (a, far)])
    return corners if axis == 0 else corners[:, ::-1]


def _lamps(sheet: Sheet, view: View, plan: Plan, numbers: dict[str, int]) -> list[Mark]:
    from matplotlib.patches import Circle

    marks: list[Mark] = []
    for index, lamp in enumerate(plan.scene.light.lamps):
        x, y = view.on(np.array(lamp.at))
        sheet.axes.add_patch(
            Circle((x, y), 1.0, facecolor="#f4c542", edgecolor="#b5502a", linewidth=0.6, zorder=6)
        )
        if index == 0:
            marks.append((numbers["lamp"], (float(x), float(y)), 90.0))
    return marks


def _measures_above(sheet: Sheet, view: View, plan: Plan) -> None:
    box, words, layout = plan.scene.box, Words(plan.scene.units), plan.layout
    t, half = box.wall, box.width / 2
    o = opening_of(plan.scene)
    low = float(view.flat(np.array((0.0, -t)))[1]) - EYE_MM - 2.0
    _level(sheet, view, (o.left, 0.0), (o.right, 0.0), f"opening {words(o.right - o.left)}", low)
    _level(sheet, view, (-half, 0.0), (half, 0.0), f"inside {words(box.width)}", low - STEP_MM)
    left = float(view.flat(np.array((-half - t, 0.0)))[0]) - 4.0
    rows = [("screen", float(layout.screen.centre[2])), ("inside", box.depth)]
    if plan.sight.baffle is not None and plan.sight.baffle.depth_mm > 0:
        rows.insert(0, ("baffle", plan.sight.baffle.depth_mm))
    for row, (name, depth) in enumerate(rows):
        _upright(
            sheet, view, (-half - t, 0.0), (-half - t, depth), f"{name} {words(depth)}", left - STEP_MM * row
        )
    right = float(view.flat(np.array((half + t, 0.0)))[0]) + 5.5
    ends = sorted({round(float(z), 3) for z in plan.pane.corners[:, 2]})
    rows = [("pane from", ends[0]), ("ghost", float(layout.ghost[2]))]
    for row, (name, depth) in enumerate(rows):
        _upright(
            sheet, view, (half + t, 0.0), (half + t, depth), f"{name} {words(depth)}", right + STEP_MM * row
        )


def _measures_side(sheet: Sheet, view: View, plan: Plan) -> None:
    box, words, layout = plan.scene.box, Words(plan.scene.units), plan.layout
    t = box.wall
    right = float(view.flat(np.array((box.depth + t, 0.0)))[0]) + 5.5
    rows = [
        ("ghost", float(layout.ghost[1])),
        ("screen", float(layout.screen.centre[1])),
        ("inside", box.height),
    ]
    for row, (name, height) in enumerate(rows):
        at = box.depth + t
        _upright(sheet, view, (at, 0.0), (at, height), f"{name} {words(height)}", right + STEP_MM * row)
    low = float(view.flat(np.array((0.0, -t)))[1]) - 4.5
    start = 0.0 if box.open_front else -t
    shelf = plan.room.shelf.depth_needed_mm
    _level(sheet, view, (start, -t), (start + shelf, -t), f"on the shelf, with cord {words(shelf)}", low)


def _level(
    sheet: Sheet, view: View, a: tuple[float, float], b: tuple[float, float], words: str, level: float
) -> None:
    sheet.measure(view.flat(np.array(a)), view.flat(np.array(b)), words, level=level)


_upright = _level
