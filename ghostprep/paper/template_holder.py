"""The holder's parts: a tray with a window, open where the player is drawn out."""

from __future__ import annotations

from typing import Final

import numpy as np

from ghostprep.optics import Plan
from ghostprep.optics.advice.words import Words
from ghostprep.optics.vectors import AXES, vector
from ghostprep.paper.look import DASHED, FAINT, INK, SCREEN
from ghostprep.paper.template_pages import Part, Pen

_SIDES: Final = ("right", "left", "top", "bottom")


def holder_parts(plan: Plan) -> list[Part]:
    """Return front and back plate, both long strips and the end strip.

    Plates are seen by someone who faces the screen, the picture's top upwards. The strips stand on
    edge between the plates and leave the side open through which the player slides.
    """
    words, room, t = Words(plan.scene.units), plan.room, plan.scene.box.wall
    (inner_w, inner_h, depth), window = room.holder_mm, room.window_mm
    open_side = _open_side(plan)
    # a strip stands at every side but the open one
    right, left, high, low = (0.0 if open_side == side else t for side in range(4))
    size = (inner_w + left + right, inner_h + high + low)

    def back(pen: Pen) -> None:
        pen.box(0, 0, size, INK, width_mm=0.35)
        pen.box(left, low, (inner_w, inner_h), FAINT, width_mm=0.15, dash=DASHED)

    def front(pen: Pen) -> None:
        back(pen)
        x, y = left + (inner_w - window[0]) / 2, low + (inner_h - window[1]) / 2
        pen.box(x, y, window, SCREEN, width_mm=0.35)
        pen.label((x + window[0] / 2, y + window[1] / 2), "window", SCREEN)
        pen.label((size[0] / 2, y + window[1]), "top of the picture", INK)

    open_at = f"open at the picture's {_SIDES[open_side]}"
    parts = [
        Part(f"holder's front, of thin card, window {words.fit(window)}, {open_at}", size, front),
        Part(f"holder's back, {words.fit(size)}", size, back),
    ]
    along, across = (0, 1) if open_side < 2 else (1, 0)
    long, end = (size[along], depth), ((inner_w, inner_h)[across], depth)
    parts += [_strip(f"holder's long strip {n} of 2, {words.fit(long)}", long) for n in (1, 2)]
    return [*parts, _strip(f"holder's end strip, {words.fit(end)}", end)]


def _strip(name: str, size: tuple[float, float]) -> Part:
    return Part(name, size, lambda pen: pen.box(0, 0, size, INK, width_mm=0.35))


def _open_side(plan: Plan) -> int:
    """Return the side of the picture through which the player slides, by its place in `_SIDES`."""
    way = min(plan.room.ways_out, key=lambda way: (not way.clear, way.travel_mm))
    wanted = vector(AXES[way.direction])
    screen = plan.layout.screen
    sides = np.array([screen.right, -screen.right, screen.up, -screen.up])
    return int((sides @ wanted).argmax())
