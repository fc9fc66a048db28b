"""The holder's parts: a tray of the box's own sheet, open where the player is drawn out."""

from __future__ import annotations

from typing import Final

import numpy as np

from ghostprep.optics import Plan
from ghostprep.optics.advice.words import Words
from ghostprep.optics.vectors import AXES, vector
from ghostprep.page.look import SCREEN
from ghostprep.page.sheet import FAINT
from ghostprep.page.template_pages import Part, Pen

_SIDES: Final = ("raster's right", "raster's left", "raster's top", "raster's bottom")


def holder_parts(plan: Plan) -> list[Part]:
    """Return front and back plate, both long strips and the end strip.

    Plates are seen by someone who faces the screen, the raster's top upwards. The strips stand on
    edge between the plates and leave the side open through which the player slides.
    """
    words, room, t = Words(plan.scene.units), plan.room, plan.scene.box.wall
    (inner_w, inner_h, depth), window = room.holder_mm, room.window_mm
    open_side = _open_side(plan)
    # a strip stands at every side but the open one
    left, right, high, low = (t if open_side != side else 0.0 for side in (1, 0, 2, 3))
    size = (inner_w + left + right, inner_h + high + low)

    def front(pen: Pen) -> None:
        pen.box(0, 0, *size, width_mm=0.35)
        x, y = left + (inner_w - window[0]) / 2, low + (inner_h - window[1]) / 2
        pen.box(x, y, *window, edge=SCREEN, width_mm=0.35)
        pen.text(x + window[0] / 2, y + window[1] - 3, "window; the raster's top is up", size_pt=6.5, ha="center")
        inside(pen)

    def inside(pen: Pen) -> None:
        pen.box(left, low, inner_w, inner_h, edge=FAINT, width_mm=0.15, linestyle=(0, (5, 3)))

    def back(pen: Pen) -> None:
        pen.box(0, 0, *size, width_mm=0.35)
        inside(pen)

    outside = words.fit(size)
    parts = [
        Part(f"holder's front, {outside}, window {words.fit(window)}, open at the {_SIDES[open_side]}", size, front),
        Part(f"holder's back, {outside}", size, back),
    ]
    along, across = (0, 1) if open_side < 2 else (1, 0)
    long, end = size[along], (inner_w, inner_h)[across]
    for name, length, count in (("long strip", long, 2), ("end strip", end, 1)):
        for index in range(count):
            which = f" {index + 1} of {count}" if count > 1 else ""
            parts.append(_strip(f"holder's {name}{which}, {words.fit((length, depth))}", (length, depth)))
    return parts


def _strip(name: str, size: tuple[float, float]) -> Part:
    return Part(name, size, lambda pen: pen.box(0, 0, *size, width_mm=0.35))


def _open_side(plan: Plan) -> int:
    """Return the side of the raster through which the player slides: right, left, top or bottom."""
    ways = sorted(plan.room.ways_out, key=lambda way: (not way.clear, way.travel_mm))
    wanted = vector(AXES[ways[0].direction])
    screen = plan.layout.screen
    sides = np.array([screen.right, -screen.right, screen.up, -screen.up])
    return int((sides @ wanted).argmax())
