"""The scene as the middle eye sees it through the opening, in true perspective."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import numpy as np

from ghostprep.optics import Plan
from ghostprep.optics.advice.words import Words
from ghostprep.optics.sightlines import Rectangle, bounds, crossings, keep_above, opening_of
from ghostprep.optics.vectors import Vector
from ghostprep.optics.visible import faces
from ghostprep.paper.drawing_furniture import faces_seen, trim_face
from ghostprep.paper.drawing_views import caption, measure_column
from ghostprep.paper.frame import DrawnView
from ghostprep.paper.look import BLACKED, DASHED, FAINT, GHOST, GHOST_PALE, INK, INSIDE, PANE, SCREEN, WOOD
from ghostprep.paper.sheet import PaperSheet, middle
from ghostprep.paper.tags import Mark

_PURSER: Final = np.array(
    [(-0.07, 0.0), (-0.16, 0.03), (-0.12, 0.42), (-0.09, 0.58), (-0.15, 0.60), (-0.24, 0.70), (-0.27, 0.68),
     (-0.18, 0.55), (-0.13, 0.56), (-0.10, 0.79), (-0.05, 0.83), (-0.05, 0.92), (-0.07, 0.95), (-0.06, 1.0),
     (0.06, 1.0), (0.07, 0.95), (0.05, 0.92), (0.05, 0.83), (0.10, 0.79), (0.15, 0.60), (0.14, 0.48),
     (0.10, 0.48), (0.12, 0.42), (0.16, 0.03), (0.07, 0.0)]
)  # fmt: skip
"""A standing figure in a coat, in its own heights; it only shows size and place."""


def draw_eye(sheet: PaperSheet, view: DrawnView, plan: Plan) -> list[Mark]:
    """Draw what the middle eye sees, on the opening's plane."""
    scene, box, o = plan.scene, plan.scene.box, opening_of(plan.scene)
    sheet.area(view.flat(view.extent.corners()), WOOD, INK, 0.2, zorder=1.5)
    room = bounds(view.flat(o.corners()))
    sheet.box(room, "#ececea", INK, 0.4, zorder=1.6)

    def seen(points: Vector) -> Vector:
        # only what lies behind the opening is seen through it; what reaches out of it is cut off there
        inside = keep_above(np.asarray(points, np.float64), np.array([0.0, 0.0, 1.0]), 0.0)
        return view.flat(crossings(plan.layout.eye[None, :], inside)[:, :2])

    with sheet.window(room):
        near = view.flat(_wall(box.width / 2, box.height, 0.0)[:, :2])
        _inside(sheet, near, seen(_wall(box.width / 2, box.height, box.depth)))
        marks = _ghost(sheet, seen(plan.layout.image.corners()), seen(_body(plan)), room)
        marks += _furniture(sheet, plan, seen, room)
        _area(sheet, seen(plan.pane.corners), "none", PANE, 0.35, zorder=3.4)
        baffle = plan.sight.baffle
        if baffle is not None:
            _area(sheet, seen(plan.layout.screen.corners()), SCREEN, SCREEN, 0.2, zorder=3.6, alpha=0.5)
            nearest = min(faces(baffle.body(scene).block), key=lambda face: float(face.centre[2]))
            _area(sheet, seen(nearest.corners), BLACKED, BLACKED, 0.2, zorder=4)
    for side, width in plan.sight.trims().items():
        strip = view.flat(trim_face(scene, side, width).corners())
        sheet.area(strip, BLACKED, BLACKED, 0.15, zorder=4.5, alpha=0.85)
        away = {"left": 160.0, "right": 20.0, "top": 80.0, "bottom": 280.0}[side]
        marks.append((f"trim, {side}", middle(strip), away))
    caption(sheet, view, "as the middle eye sees it")
    _measures(sheet, view, plan, o)
    return marks


def _wall(half: float, height: float, depth: float) -> Vector:
    return np.array([(x, y, depth) for x, y in Rectangle(-half, 0.0, half, height).corners()])


def _body(plan: Plan) -> Vector:
    """Return the figure's outline (n, 3) where the ghost stands."""
    figure, ghost = plan.figure, plan.layout.ghost
    flat = np.column_stack([_PURSER, np.zeros(len(_PURSER))]) * figure.height_mm
    moved: Vector = flat + np.array([ghost[0], figure.feet_mm, ghost[2]])
    return moved


def _inside(sheet: PaperSheet, near: Vector, back: Vector) -> None:
    """Draw the inside of the box: the back wall, and the edges that run to it."""
    sheet.area(back, INSIDE, FAINT, 0.2, zorder=2)
    for a, b in zip(near, back, strict=True):
        sheet.line([a, b], FAINT, 0.2, zorder=2)


def _ghost(sheet: PaperSheet, picture: Vector, body: Vector, room: Rectangle) -> list[Mark]:
    """Draw the picture's outline and the figure in it."""
    _area(sheet, picture, GHOST_PALE, GHOST, 0.35, zorder=3, dash=DASHED)
    _area(sheet, body, GHOST, GHOST, 0.2, zorder=3.2, alpha=0.75)
    marks: list[Mark] = []
    if len(picture):
        corner = picture[[(picture @ (1.0, 1.0)).argmax()]]
        marks.append(("ghost", middle(_clipped(corner, room)), 45.0))
    if len(body):
        marks.append(("figure", middle(_clipped(body.mean(axis=0)[None, :], room)), 200.0))
    return marks


def _clipped(points: Vector, room: Rectangle) -> Vector:
    return np.clip(points, (room.left, room.low), (room.right, room.high))


def _furniture(
    sheet: PaperSheet, plan: Plan, seen: Callable[[Vector], Vector], room: Rectangle
) -> list[Mark]:
    """Draw what stands in the box, the nearer over the farther; one mark each, on its nearest face."""
    marks: dict[str, Mark] = {}
    faces = list(faces_seen(plan))
    for rank, (name, colour, deep, corners) in enumerate(faces):
        points = seen(corners)
        before = deep < plan.layout.ghost[2]
        _area(sheet, points, colour, INK, 0.12, zorder=(3.5 if before else 2.1) + 0.4 * rank / len(faces))
        if len(points) > 1 and name != "player" and (points == _clipped(points, room)).all(axis=1).any():
            marks[name] = (name, middle(_clipped(points.mean(axis=0)[None, :], room)), 30.0)
    return list(marks.values())


def _area(sheet: PaperSheet, points: Vector, fill: str, edge: str, width_mm: float, **style: Any) -> None:
    """Draw an area of which there may be nothing left."""
    if len(points) > 1:
        sheet.area(points, fill, edge, width_mm, **style)


def _measures(sheet: PaperSheet, view: DrawnView, plan: Plan, o: Rectangle) -> None:
    box, words = plan.scene.box, Words(plan.scene.units)
    spans = [(0.0, box.height, f"inside {words(box.height)}")]
    if not box.open_front:
        spans.append((o.low, o.high, f"opening {words(o.high - o.low)}"))
    if o.low > 0:
        spans.append((0.0, o.low, f"sill {words(o.low)}"))
    measure_column(sheet, view, view.extent.left, spans)
