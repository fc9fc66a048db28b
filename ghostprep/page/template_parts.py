"""The large parts of the template: the floor plan, the side wall, the pane, baffle and trims."""

from __future__ import annotations

from typing import Final

import numpy as np

from ghostprep.optics import Plan
from ghostprep.optics.advice.words import Words
from ghostprep.optics.sightlines import opening_of, outline
from ghostprep.optics.solids import player_block
from ghostprep.optics.vectors import Vector
from ghostprep.page.look import GHOST, PANE, SCREEN
from ghostprep.page.sheet import FAINT, INK
from ghostprep.page.template_pages import Part, Pen

_DASH: Final = (0, (5, 3))


def floor_part(plan: Plan) -> Part:
    """Return the floor plan: walls, pane line, screen, player, baffle; the front is below."""
    box, words = plan.scene.box, Words(plan.scene.units)
    t = box.wall
    front = 0.0 if box.open_front else t
    size = (box.width + 2 * t, box.depth + t + front)
    shift = np.array([box.width / 2 + t, front])
    name = f"floor, inside {words(box.width)} x {words(box.depth)}, front below"

    def draw(pen: Pen) -> None:
        o = opening_of(plan.scene)
        pen.box(0, 0, *size, width_mm=0.2)
        pen.box(t, front, box.width, box.depth, width_mm=0.35)
        if front:
            for x in (o.left, o.right):
                pen.line(np.array([(x, -t), (x, 0.0)]) + shift, width_mm=0.35)
        middle = np.array([(0.0, -front), (0.0, box.depth + t)]) + shift
        pen.line(middle, FAINT, 0.15, linestyle=(0, (12, 3, 2, 3)))
        _contents(pen, plan, (0, 2), shift)
        x, y = np.array([plan.layout.ghost[0], plan.layout.ghost[2]]) + shift
        pen.line([(x - 4, y), (x + 4, y)], GHOST, 0.25)
        pen.line([(x, y - 4), (x, y + 4)], GHOST, 0.25)
        pen.text(x + 2, y + 3, "the ghost stands here", colour=GHOST, size_pt=7)
        baffle = plan.sight.baffle
        if baffle is not None and baffle.wall in {"left", "right"}:
            wall = box.width / 2 * (-1 if baffle.wall == "left" else 1)
            end = wall + baffle.reach_mm * (1 if baffle.wall == "left" else -1)
            pen.line(np.array([(wall, baffle.depth_mm), (end, baffle.depth_mm)]) + shift, INK, 0.5)
            pen.text(float(min(wall, end) + shift[0] + 2), baffle.depth_mm + shift[1] - 2.5, "baffle's back", size_pt=7)

    return Part(name, size, draw)


def side_part(plan: Plan) -> Part:
    """Return a side wall with the leaning pane's line; the front is at the left."""
    box, words = plan.scene.box, Words(plan.scene.units)
    name = f"side wall, inside {words(box.depth)} x {words(box.height)}, front at the left"

    def draw(pen: Pen) -> None:
        pen.box(0, 0, box.depth, box.height, width_mm=0.35)
        _contents(pen, plan, (2, 1), np.zeros(2))

    return Part(name, (box.depth, box.height), draw)


def _contents(pen: Pen, plan: Plan, axes: tuple[int, int], shift: Vector) -> None:
    """Draw pane, player and screen as seen along the third axis."""

    def flat(points: Vector) -> Vector:
        return points[:, list(axes)] + shift

    body = player_block(plan.layout.screen, plan.scene.screen.body)
    pen.area(outline(flat(body.corners())), edge=FAINT, width_mm=0.25, linestyle=_DASH)
    lit = flat(plan.layout.screen.corners())
    pen.area(lit, edge=SCREEN, width_mm=0.6)
    x, y = lit.mean(axis=0)
    pen.text(float(x), float(y), "screen", colour=SCREEN, size_pt=7, ha="center", rotation=_along(outline(lit)))
    faces = np.vstack([plan.pane.corners, plan.pane.back_corners])
    upright = plan.scene.screen.wall in {"left", "right"}
    if upright == (axes == (0, 2)):
        strip = outline(flat(faces))
        pen.area(strip, edge=PANE, width_mm=0.3)
        front = flat(plan.pane.corners[[0, 1]])
        pen.line(front, PANE, 0.5)
        x, y = front.mean(axis=0)
        pen.text(
            float(x), float(y), "pane, front face on the thick line", colour=PANE, size_pt=7,
            ha="center", va="bottom", rotation=_along(front), rotation_mode="anchor",
        )
        return
    # a leaning pane from above: the lower edge stands on wood, the upper one is only above it
    pairs = sorted(([0, 3], [1, 2]), key=lambda pair: float(plan.pane.corners[pair, 1].mean()))
    for pair, style, words in ((pairs[0], "-", "pane's lower edge"), (pairs[1], _DASH, "pane's upper edge, above")):
        edge = np.vstack([plan.pane.corners[pair], plan.pane.back_corners[pair]])
        strip = outline(flat(edge))
        pen.area(strip, edge=PANE, width_mm=0.3, linestyle=style)
        x, y = strip.mean(axis=0)
        pen.text(float(x), float(strip[:, 1].max()) + 2, words, colour=PANE, size_pt=7, ha="center")


def _along(line: Vector) -> float:
    """Return the direction of a line's longest stretch, so that text on it stands upright, degrees."""
    way = line[np.hypot(*(line - line[0]).T).argmax()] - line[0]
    turn = float(np.degrees(np.arctan2(way[1], way[0])))
    return (turn + 90) % 180 - 90


def pane_part(plan: Plan) -> Part:
    """Return the pane's outline, with the part that the ghost needs."""
    words, pane = Words(plan.scene.units), plan.pane
    name = f"pane, {plan.scene.pane.material}, {words.size(pane.cut)} x {words(plan.scene.pane.thickness)}"

    def draw(pen: Pen) -> None:
        wide, high = pane.cut
        pen.box(0, 0, wide, high, edge=PANE, width_mm=0.35)
        n, p = pane.needed_place, pane.place
        pen.box(n.left - p.left, n.low - p.low, *n.size, edge=GHOST, width_mm=0.2, linestyle=_DASH)
        pen.text(3, high / 2, "front edge", colour=PANE, size_pt=7, rotation=90)
        pen.text(wide - 3, high / 2, "back edge", colour=PANE, size_pt=7, rotation=90, ha="right")
        x, y = n.left - p.left + n.size[0] / 2, n.low - p.low + n.size[1] / 2
        pen.text(x, y, "the ghost is seen through here: no scratch", colour=GHOST, size_pt=7, ha="center")

    return Part(name, pane.cut, draw)


def board_parts(plan: Plan) -> list[Part]:
    """Return the baffle and the trims."""
    words, sight, o = Words(plan.scene.units), plan.sight, opening_of(plan.scene)
    parts = []
    if sight.baffle is not None:
        size = (sight.baffle.reach_mm, sight.baffle.high_mm - sight.baffle.low_mm)
        upright = sight.baffle.wall in {"left", "right"}
        where = "above the floor" if upright else "from the middle"
        name = f"baffle, {words.size(size)}, from {words(sight.baffle.low_mm)} {where}"
        parts.append(_plain(name, size if upright else size[::-1]))
    for side, width in sight.trims().items():
        upright = side in {"left", "right"}
        long = o.size[1] if upright else o.size[0]
        parts.append(_plain(f"trim, {side}, {words.size((width, long))}", (width, long) if upright else (long, width)))
    return parts


def _plain(name: str, size: tuple[float, float]) -> Part:
    return Part(name, size, lambda pen: pen.box(0, 0, *size, width_mm=0.3))
