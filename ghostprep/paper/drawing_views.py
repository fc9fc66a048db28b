"""The box from above, from the side and as the middle eye sees it in true perspective, with all in it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Final

import numpy as np

from ghostprep.optics import Plan
from ghostprep.optics.advice.words import Words
from ghostprep.optics.bodies import named
from ghostprep.optics.panefit import pane_hits
from ghostprep.optics.sightlines import Rectangle, bounds, crossings, keep_above, opening_of
from ghostprep.optics.vectors import Vector, meet_plane, vector
from ghostprep.optics.visible import faces
from ghostprep.paper.colours import (
    BLACKED,
    BODY,
    CORD,
    DASHED,
    FAINT,
    GHOST,
    GHOST_PALE,
    INK,
    INSIDE,
    PANE,
    RAY,
    RAY_PALE,
    SCREEN,
    WOOD,
)
from ghostprep.paper.drawing_furniture import (
    draw_boards,
    draw_furniture,
    draw_lamps,
    draw_wood,
    faces_seen,
)
from ghostprep.paper.frame import BOARD_MM, CAPTION_MM, EYE_MM, DrawnView
from ghostprep.paper.measures import FIRST_MM, STEP_MM, measure
from ghostprep.paper.sheet import PaperSheet, middle
from ghostprep.paper.tags import Mark


def draw_above(sheet: PaperSheet, view: DrawnView, plan: Plan) -> list[Mark]:
    """Draw the box from above: x to the right, deeper is up."""
    draw_wood(sheet, view, plan, {"left wall", "right wall", "back wall", "left", "right"})
    marks = _contents(sheet, view, plan, 0)
    caption(sheet, view, "from above")
    _measures_above(sheet, view, plan)
    return marks


def draw_side(sheet: PaperSheet, view: DrawnView, plan: Plan) -> list[Mark]:
    """Draw the box from the viewer's right: deeper is to the right, y up."""
    front = 0.0 if plan.scene.box.open_front else -plan.scene.box.wall
    draw_wood(sheet, view, plan, {"floor", "ceiling", "back wall", "below", "above"})
    marks = _contents(sheet, view, plan, 1) + _shelf(sheet, view, plan, front)
    caption(sheet, view, "from the right side")
    _measures_side(sheet, view, plan, front)
    return marks


def caption(sheet: PaperSheet, view: DrawnView, words: str) -> None:
    """Write what a view is, above its upper left corner."""
    sheet.text(view.room.left, view.room.high + CAPTION_MM - 2.4, words, size_pt=7.5, bold=True)


def _contents(sheet: PaperSheet, view: DrawnView, plan: Plan, axis: int) -> list[Mark]:
    """Draw rays, ghost, pane, player, baffle and trims into a view that shows `axis` and depth."""
    layout = plan.layout
    # an eye that moves far aside sends its lines far aside, too
    with sheet.window(view.room.grown(EYE_MM)):
        for seen, apparent, from_middle in _rays(plan, axis, EYE_MM / view.factor):
            colour, wide, order = (RAY, 0.22, 3.2) if from_middle else (RAY_PALE, 0.15, 3.0)
            sheet.line(view.on(seen), colour, wide, zorder=order)
            sheet.line(view.on(apparent), colour, wide, dash=DASHED, zorder=order)
    player = named(plan.world.bodies)["player"][0]
    body = view.hull(player.block.corners())
    sheet.area(body, BODY, CORD, 0.2, zorder=4, alpha=0.45)
    lit = view.on(layout.screen.corners())
    sheet.area(lit, SCREEN, SCREEN, 0.9, zorder=4.5, alpha=0.9)
    image = view.hull(layout.image.corners())
    # edge on it is one line: drawn there and back, its dashes would fill each other's gaps
    closed = image if len(image) == 2 else np.vstack([image, image[:1]])
    sheet.line(closed, GHOST, 0.8, zorder=4.4, dash=(2.2, 0.8))
    sheet_corners = np.vstack([plan.pane.corners, plan.pane.back_corners])
    pane = view.hull(sheet_corners)
    sheet.area(pane, PANE, "none", 0.0, zorder=3.8, alpha=0.2)
    sheet.area(pane, "none", PANE, 0.35, zorder=4.6)
    near = plan.pane.corners[[1, 2]] * 0.3 + plan.pane.corners[[0, 3]] * 0.7
    marks: list[Mark] = [
        ("ghost", middle(view.on(layout.ghost[None, :])), 60.0),
        ("pane", middle(view.on(near)), 150.0),
        ("screen", middle(lit), 20.0),
        ("player", _outer(body, lit), 200.0),
    ]
    marks += draw_furniture(sheet, view, plan)
    return marks + draw_boards(sheet, view, plan, axis) + draw_lamps(sheet, view, plan)


def _rays(plan: Plan, axis: int, before_mm: float) -> Iterator[tuple[Vector, Vector, bool]]:
    """Yield the lines from the eye to the two outermost edges of the ghost along an axis (0 is x, 1 is y).

    Each is the way from `before_mm` before the opening, or from the eye, to the pane and on to the screen
    (3, 3); the way from the pane to the ghost, straight on (2, 3), mm; and whether it starts at the middle
    eye, and not at an end of the eye's range along that axis.
    """
    layout, sway = plan.layout, plan.scene.viewer.sway[axis]
    w, h = layout.image.raster
    middles = np.array([(0, h / 2), (w, h / 2), (w / 2, 0), (w / 2, h)], np.float64)
    edges = layout.image.at(middles)
    pair = sorted((int(edges[:, axis].argmin()), int(edges[:, axis].argmax())))
    start = vector((0.0, 0.0, -min(before_mm, plan.scene.viewer.distance)))
    for shift in (-sway, sway, 0.0) if sway else (0.0,):
        eye = layout.eye.copy()
        eye[axis] += shift
        for index in pair:
            hit = pane_hits(layout, eye[None, :], edges[index][None, :])[0]
            first = meet_plane(eye, hit, start, vector((0.0, 0.0, -1.0)))
            seen = np.array([first, hit, layout.screen.at(middles[index])])
            yield seen, np.array([hit, edges[index]]), shift == 0.0


def _outer(body: Vector, lit: Vector) -> tuple[float, float]:
    """Return a point of the body near the corner that lies farthest from the lit area."""
    corner = body[np.hypot(*(body - lit.mean(axis=0)).T).argmax()]
    return middle(np.array([corner * 0.86 + body.mean(axis=0) * 0.14]))


def _shelf(sheet: PaperSheet, view: DrawnView, plan: Plan, front: float) -> list[Mark]:
    """Draw the room for plug and cord behind the box, and the shelf under it."""
    box, t, shelf = plan.scene.box, plan.scene.box.wall, plan.scene.shelf
    behind = Rectangle(box.depth + t, -t, front + plan.room.shelf.depth_needed_mm, box.height + t)
    sheet.area(view.flat(behind.corners()), "none", CORD, 0.2, dash=DASHED, zorder=2)
    x, y = view.flat(np.array([behind.left + behind.size[0] / 2, behind.low + behind.size[1] * 0.12]))
    marks: list[Mark] = [("cord", (float(x), float(y)), 0.0)]
    if shelf is not None:
        (left, high), (right, _) = view.flat(np.array([(front, -t), (front + shelf.depth, -t)]))
        board = Rectangle(float(left), float(high) - BOARD_MM, float(right), float(high))
        sheet.box(board, WOOD, INK, 0.2, zorder=1.4)
        # the wall, or whatever ends the shelf
        sheet.line([(right, board.low), (right, view.room.high)], INK, 0.35, dash=(8, 2, 1, 2), zorder=2)
    return marks


def _measures_above(sheet: PaperSheet, view: DrawnView, plan: Plan) -> None:
    box, words, layout = plan.scene.box, Words(plan.scene.units), plan.layout
    t, half, o = box.wall, box.width / 2, opening_of(plan.scene)
    depths = [("screen", float(layout.screen.centre[2])), ("inside", box.depth)]
    baffle = plan.sight.baffle
    if baffle is not None and baffle.depth_mm > 0:
        depths.append(("baffle", baffle.depth_mm))
    measure_column(sheet, view, -half - t, [(0.0, z, f"{n} {words(z)}") for n, z in depths])
    ends_z = plan.pane.corners[:, 2]
    depths = [("pane from", float(ends_z.min())), ("ghost", float(layout.ghost[2]))]
    measure_column(sheet, view, half + t, [(0.0, z, f"{n} {words(z)}") for n, z in depths])
    low = min(view.room.low, float(view.flat(np.zeros(2))[1]) - EYE_MM) - FIRST_MM
    front = 0.0 if box.open_front else -t
    for row, (side, name) in enumerate(((o.right, "opening"), (half, "inside"))):
        if row and box.open_front:
            continue
        ends = view.flat(np.array([(-side, front), (side, front)]))
        measure(sheet, ends, f"{name} {words(2 * side)}", axis=0, level=low - STEP_MM * row)


def _measures_side(sheet: PaperSheet, view: DrawnView, plan: Plan, front: float) -> None:
    box, words, layout = plan.scene.box, Words(plan.scene.units), plan.layout
    heights = [
        ("ghost", float(layout.ghost[1])),
        ("screen", float(layout.screen.centre[1])),
        ("inside", box.height),
    ]
    measure_column(sheet, view, box.depth + box.wall, [(0.0, y, f"{n} {words(y)}") for n, y in heights])
    level = view.room.low - BOARD_MM - FIRST_MM
    spans = [("box and cord", plan.room.shelf.depth_needed_mm)]
    if plan.scene.shelf is not None:
        spans.append(("shelf", plan.scene.shelf.depth))
    for row, (name, deep) in enumerate(spans):
        ends = view.flat(np.array([(front, -box.wall), (front + deep, -box.wall)]))
        measure(sheet, ends, f"{name} {words(deep)}", axis=0, level=level - STEP_MM * row)


def measure_column(
    sheet: PaperSheet, view: DrawnView, at: float, spans: list[tuple[float, float, str]]
) -> None:
    """Draw upright measures beside a view, the shortest nearest to it.

    `at` is where on the view's x, mm of the scene, the measured things stand: left of the view's
    middle the measures stand at its left, else at its right.
    """
    extent, room = view.extent, view.room
    side, edge = (1, room.right) if 2 * at > extent.left + extent.right else (-1, room.left)
    for row, (low, high, words) in enumerate(sorted(spans, key=lambda span: abs(span[1] - span[0]))):
        ends = view.flat(np.array([(at, low), (at, high)]))
        measure(sheet, ends, words, axis=1, level=edge + side * (FIRST_MM + STEP_MM * row))


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
    for trim in plan.sight.trims():
        strip = view.flat(trim.face(scene).corners())
        sheet.area(strip, BLACKED, BLACKED, 0.15, zorder=4.5, alpha=0.85)
        away = {"left": 160.0, "right": 20.0, "top": 80.0, "bottom": 280.0}[trim.side]
        marks.append((trim.name, middle(strip), away))
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
