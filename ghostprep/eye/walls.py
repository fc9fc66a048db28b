"""A drawn scene for the view: the night ferry's ticket hall, painted at the scene's scale.

What is painted has its full-size measures, so a ghost of the wrong size shows at once: the
door's leaf is 2032 mm high, the wainscot 1100 mm, a floor tile 300 mm, the paper figure
beside the ghost 1700 mm.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.eye.brush import Brush, Colour
from ghostprep.eye.stage import Stage
from ghostprep.transfer import codes_to_light, luminance

Codes = npt.NDArray[np.uint8]
Light = npt.NDArray[np.float32]

DOOR_MM: Final = 2032.0
_MOST_PX: Final = 640

_PLASTER: Final[Colour] = (142, 134, 112)
_WAINSCOT: Final[Colour] = (74, 96, 92)
_RAIL: Final[Colour] = (104, 84, 60)
_WOOD: Final[Colour] = (132, 104, 76)
_DARK: Final[Colour] = (52, 40, 30)
_BRASS: Final[Colour] = (206, 170, 92)
_PALE: Final[Colour] = (182, 176, 160)
_TILE: Final[Colour] = (132, 126, 114)
_SLATE: Final[Colour] = (66, 68, 70)


@dataclass(frozen=True, slots=True, eq=False)
class Walls:
    """The painted scene.

    Attributes
    ----------
    reflectance : dict of str to ndarray of float32 (h, w, 3)
        Of ``back``, ``left``, ``right``, ``floor``, ``ceiling`` and ``card``, linear;
        the mean behind the ghost is the scene's own.
    """

    reflectance: Mapping[str, Light]


def paint(stage: Stage) -> Walls:
    """Paint the ticket hall into the scene's box."""
    width, depth = stage.box[0], stage.box[2]
    height = stage.box[1] - stage.floor
    painted = {
        "back": _painted(_back, (width, height), stage.back_factor),
        "left": _painted(_side, (depth, height), stage.factor),
        "right": _painted(_counter, (depth, height), stage.factor),
        "floor": _painted(_floor, (width, depth), stage.factor),
        "ceiling": _painted(_ceiling, (width, depth), stage.factor),
        "card": card_picture(),
    }
    reflectance = {name: codes_to_light(picture) for name, picture in painted.items()}
    behind = _behind_ghost(stage, reflectance["back"])
    factor = np.float32(stage.reflectance / max(float(luminance(behind).mean()), 1e-3))
    return Walls({name: np.minimum(light * factor, 1.0) for name, light in reflectance.items()})


def _behind_ghost(stage: Stage, back: Light) -> Light:
    """Return the part of the back wall that the middle eye sees behind the figure."""
    width, height, depth = stage.box
    rows, columns = back.shape[:2]
    eye, centre = stage.eye, stage.image.centre
    stretch = (depth - eye[2]) / (centre[2] - eye[2])
    low, high = (eye[1] + (y - eye[1]) * stretch for y in (stage.ground, stage.ground + stage.figure_mm))
    middle = eye[0] + (centre[0] - eye[0]) * stretch
    half = stage.figure_mm * stretch * 0.25
    x0, x1 = (int(np.clip((middle + s * half) / width + 0.5, 0, 1) * columns) for s in (-1, 1))
    span = height - stage.floor
    y0, y1 = (int(np.clip(1 - (y - stage.floor) / span, 0, 1) * rows) for y in (high, low))
    part = back[y0 : max(y1, y0 + 1), x0 : max(x1, x0 + 1)]
    return part if part.size else back


def _painted(painter: Callable[[Brush], None], size_mm: tuple[float, float], factor: float) -> Codes:
    full = size_mm[0] / factor, size_mm[1] / factor
    brush = Brush(full, _MOST_PX / max(full))
    painter(brush)
    return brush.picture


def _panelling(b: Brush) -> None:
    b.box(0, 0, b.wide, b.high, _PLASTER)
    b.box(0, 0, b.wide, 1100, _WAINSCOT)
    for x in np.arange(0, b.wide, 150.0):
        b.line((x, 140), (x, 1100), 8, (58, 78, 74))
    b.box(0, 1100, b.wide, 1160, _RAIL)
    b.box(0, 0, b.wide, 140, _DARK)
    b.box(0, b.high - 160, b.wide, b.high, _RAIL)


def _back(b: Brush) -> None:
    _panelling(b)
    middle = b.wide / 2
    b.box(middle - 500, 0, middle + 500, DOOR_MM + 90, _RAIL)
    b.box(middle - 410, 0, middle + 410, DOOR_MM, _WOOD)
    for low, high in ((180, 860), (1000, 1850)):
        for left in (-330, 40):
            b.box(middle + left, low, middle + left + 290, high, (112, 88, 64))
            b.box(middle + left + 22, low + 22, middle + left + 268, high - 22, (126, 99, 72))
    b.disc(middle + 350, 1000, 34, _BRASS)
    b.box(middle - 560, 2300, middle + 560, 2660, _SLATE)
    b.word("TO THE FERRY", middle, 2430, 105, _PALE)
    b.disc(middle, 3150, 270, _RAIL)
    b.disc(middle, 3150, 230, _PALE)
    b.line((middle, 3150), (middle + 0.588 * 180, 3150 - 0.809 * 180), 22, _DARK)  # 24 minutes
    b.line((middle, 3150), (middle + 0.669 * 120, 3150 + 0.743 * 120), 32, _DARK)  # past one


def _side(b: Brush) -> None:
    _panelling(b)
    for x in np.arange(900.0, b.wide - 700, 2100.0):
        b.ring(x + 300, 1850, 260, 130, (150, 66, 52))
        b.ring(x + 300, 1850, 195, 24, _PALE)
        b.ring(x + 300, 1850, 325, 24, _PALE)
        b.box(x - 300, 400, x + 900, 470, _WOOD)
        b.box(x - 260, 0, x - 190, 400, _DARK)
        b.box(x + 790, 0, x + 860, 400, _DARK)


def _counter(b: Brush) -> None:
    _panelling(b)
    for x in np.arange(b.wide * 0.3, b.wide - 900, 2400.0):
        b.box(x - 90, 980, x + 1090, 2250, _RAIL)
        b.box(x, 1130, x + 1000, 2160, _SLATE)
        for bar in np.arange(x + 100, x + 1000, 125.0):
            b.line((bar, 1130), (bar, 2160), 14, _BRASS)
        b.box(x - 150, 1040, x + 1150, 1130, _WOOD)
        b.word("TICKETS", x + 500, 2310, 150, _DARK)


def _floor(b: Brush) -> None:
    b.box(0, 0, b.wide, b.high, _TILE)
    middle = b.wide / 2
    for row, y in enumerate(np.arange(0, b.high, 300.0)):
        for column, x in enumerate(np.arange(-np.ceil(middle / 300) * 300, middle, 300.0)):
            if (row + column) % 2:
                b.box(middle + x, y, middle + x + 300, y + 300, (88, 86, 82))
    b.box(0, 0, b.wide, 0.012 * b.high, _RAIL)  # the front edge of a raised floor


def _ceiling(b: Brush) -> None:
    b.box(0, 0, b.wide, b.high, (120, 114, 100))
    for y in np.arange(0, b.high, 900.0):
        b.box(0, y, b.wide, y + 150, _RAIL)


@functools.cache
def _card_mask() -> npt.NDArray[np.bool_]:
    """Return the outline of a standing passenger with hat and case, 1700 mm tall, as (400, 168)."""
    mask = np.zeros((400, 168), np.uint8)
    k = 400 / 1700

    def blob(*points: tuple[float, float]) -> None:
        cv2.fillPoly(mask, [np.array([(84 + x * k, 400 - y * k) for x, y in points], np.int32)], 1)

    cv2.ellipse(mask, (84, round(400 - 1545 * k)), (round(86 * k), round(120 * k)), 0, 0, 360, 1, -1)
    blob((-150, 1600), (150, 1600), (150, 1622), (-150, 1622))
    blob((-92, 1600), (92, 1600), (80, 1700), (-80, 1700))
    blob((-60, 1400), (60, 1400), (60, 1480), (-60, 1480))
    blob(
        (-205, 1400), (205, 1400), (225, 1300), (250, 560), (190, 540), (-190, 540), (-250, 560), (-225, 1300)
    )
    blob((-250, 900), (-200, 900), (-205, 700), (-255, 700))
    blob((-150, 560), (-20, 560), (-40, 0), (-170, 0))
    blob((150, 560), (20, 560), (40, 0), (170, 0))
    blob((180, 640), (340, 640), (340, 330), (180, 330))
    return mask.view(np.bool_)


def on_card(u: npt.NDArray[np.floating], v: npt.NDArray[np.floating]) -> npt.NDArray[np.bool_]:
    """Return whether places (0..1 from left and top; others are clipped) lie on the paper figure."""
    mask = _card_mask()
    rows, columns = mask.shape
    return np.asarray(
        mask[
            np.clip((v * rows).astype(np.int64), 0, rows - 1),
            np.clip((u * columns).astype(np.int64), 0, columns - 1),
        ]
    )


def card_picture() -> Codes:
    """Return the paper figure on black, RGB; black is not part of it."""
    mask = _card_mask()
    picture = np.zeros((*mask.shape, 3), np.uint8)
    picture[mask] = (124, 118, 108)
    inner = cv2.erode(mask.view(np.uint8), np.ones((5, 5), np.uint8)).view(np.bool_)
    picture[inner] = (86, 82, 76)
    return picture
