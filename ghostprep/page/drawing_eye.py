"""The scene as the middle eye sees it through the opening, in true perspective."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from ghostprep.optics import Plan
from ghostprep.optics.advice.words import Words
from ghostprep.optics.sightlines import Rectangle, crossings, opening_of
from ghostprep.optics.vectors import Vector
from ghostprep.page.drawing_views import STEP_MM, Mark
from ghostprep.page.frame import View
from ghostprep.page.look import BLACKED, GHOST, GHOST_PALE, PANE, SCREEN, WOOD
from ghostprep.page.sheet import FAINT, INK, Sheet

_PURSER: Final = (
    [(-0.07, 0.0), (-0.16, 0.03), (-0.12, 0.42), (-0.09, 0.58), (-0.15, 0.60), (-0.24, 0.70), (-0.27, 0.68)]
    + [(-0.18, 0.55), (-0.13, 0.56), (-0.10, 0.79), (-0.05, 0.83), (-0.05, 0.92), (-0.07, 0.95), (-0.06, 1.0)]
    + [(0.06, 1.0), (0.07, 0.95), (0.05, 0.92), (0.05, 0.83), (0.10, 0.79), (0.15, 0.60), (0.14, 0.48)]
    + [(0.10, 0.48), (0.12, 0.42), (0.16, 0.03), (0.07, 0.0)]
)
"""A standing figure in a coat, in its own heights; it only shows size and place."""


def draw_eye(sheet: Sheet, view: View, plan: Plan, numbers: dict[str, int]) -> list[Mark]:
    """Draw what the middle eye sees on the opening's plane."""
    scene, box, o = plan.scene, plan.scene.box, opening_of(plan.scene)
    half, t = box.width / 2, box.wall
    hole = _clip(sheet, view, o)

    def seen(points: Vector) -> Vector:
        return view.flat(crossings(plan.layout.eye[None, :], np.asarray(points, np.float64))[:, :2])

    _front(sheet, view, half, box.height, t, o)
    back = np.array([(x, y, box.depth) for x, y in Rectangle(-half, 0.0, half, box.height).corners()])
    near = back * (1, 1, 0)
    sheet.area(seen(back), "#f7f7f5", FAINT, 0.2, clip_path=hole, zorder=2)
    for a, b in zip(near, back, strict=True):
        sheet.line(seen(np.array([a, b])), FAINT, 0.2, clip_path=hole, zorder=2)
    marks: list[Mark] = []
    picture = seen(plan.layout.image.corners())
    sheet.area(picture, GHOST_PALE, GHOST, 0.35, clip_path=hole, zorder=3, linestyle=(0, (4, 2)))
    top = picture[picture[:, 1].argmax()]
    marks.append((numbers["ghost"], (float(top[0]), float(top[1])), 45.0))
    figure = plan.figure
    body = np.array([(x, y, 0.0) for x, y in _PURSER]) * figure.height_mm
    body = seen(body + (plan.layout.ghost[0], figure.feet_mm, plan.layout.ghost[2]))
    sheet.area(body, GHOST, GHOST, 0.2, clip_path=hole, zorder=3.2, alpha=0.75)
    marks.append((numbers["figure"], (float(body[:, 0].mean()), float(body[:, 1].mean())), 200.0))
    pane = seen(plan.pane.corners)
    sheet.area(pane, "none", PANE, 0.35, clip_path=hole, zorder=3.4)
    _screen(sheet, plan, seen, hole)
    for side, width in plan.sight.trims().items():
        strip = _strip(o, side, width)
        sheet.area(view.flat(strip), BLACKED, BLACKED, 0.15, zorder=4.5, alpha=0.85)
        x, y = view.flat(strip).mean(axis=0)
        away = {"left": 160.0, "right": 20.0, "top": 80.0, "bottom": 280.0}[side]
        marks.append((numbers[f"trim {side}"], (float(x), float(y)), away))
    _measures(sheet, view, plan, o)
    return marks


def _clip(sheet: Sheet, view: View, o: Rectangle) -> object:
    from matplotlib.patches import Polygon

    hole = Polygon(view.flat(o.corners()), closed=True, facecolor="none", edgecolor="none")
    sheet.axes.add_patch(hole)
    return hole


def _front(sheet: Sheet, view: View, half: float, height: float, t: float, o: Rectangle) -> None:
    outer = Rectangle(-half - t, -t, half + t, height + t)
    sheet.area(view.flat(outer.corners()), WOOD, INK, 0.2, zorder=1)
    sheet.area(view.flat(o.corners()), "#ececea", INK, 0.4, zorder=1.5)
    at = view.flat(np.array((outer.left, outer.high)))
    sheet.text(
        float(at[0]),
        float(at[1]) + 2.4,
        "as the middle eye sees it",
        size_pt=7.5,
        style="italic",
        weight="bold",
    )


def _screen(sheet: Sheet, plan: Plan, seen: Callable[[Vector], Vector], hole: object) -> None:
    """Draw the screen where it would be seen directly, and the baffle before it."""
    baffle, box = plan.sight.baffle, plan.scene.box
    if baffle is None:
        return
    sheet.area(seen(plan.layout.screen.corners()), SCREEN, SCREEN, 0.2, clip_path=hole, zorder=3.6, alpha=0.5)
    start = {"left": -box.width / 2, "right": box.width / 2, "floor": 0.0, "ceiling": box.height}[baffle.wall]
    end = start + baffle.reach_mm * (1 if baffle.wall in {"left", "floor"} else -1)
    board = Rectangle(min(start, end), baffle.low_mm, max(start, end), baffle.high_mm).corners()
    if baffle.wall in {"floor", "ceiling"}:
        board = Rectangle(baffle.low_mm, min(start, end), baffle.high_mm, max(start, end)).corners()
    points = np.column_stack([board, np.full(4, baffle.depth_mm)])
    sheet.area(seen(points), BLACKED, BLACKED, 0.2, clip_path=hole, zorder=4)


def _strip(o: Rectangle, side: str, width: float) -> Vector:
    return {
        "left": Rectangle(o.left, o.low, o.left + width, o.high),
        "right": Rectangle(o.right - width, o.low, o.right, o.high),
        "bottom": Rectangle(o.left, o.low, o.right, o.low + width),
        "top": Rectangle(o.left, o.high - width, o.right, o.high),
    }[side].corners()


def _measures(sheet: Sheet, view: View, plan: Plan, o: Rectangle) -> None:
    box, words = plan.scene.box, Words(plan.scene.units)
    left = -box.width / 2 - box.wall
    x = float(view.flat(np.array((left, 0.0)))[0]) - 4.0
    rows = [
        (o.low, o.high, f"opening {words(o.high - o.low)}"),
        (0.0, box.height, f"inside {words(box.height)}"),
    ]
    if o.low > 0:
        rows.insert(1, (0.0, o.low, f"sill {words(o.low)}"))
    for row, (low, high, text) in enumerate(rows):
        a, b = view.flat(np.array([(left, low), (left, high)]))
        sheet.measure(a, b, text, level=x - STEP_MM * row)
