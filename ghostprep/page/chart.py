"""The chart: a test picture for the real box, true in millimetres on the ghost plane."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.optics import Plan
from ghostprep.optics.vectors import meet_plane, vector
from ghostprep.page.brush import Brush, Colour
from ghostprep.page.view_stage import stage_of

Codes = npt.NDArray[np.uint8]

STEPS: Final = (3, 5, 7, 10, 13, 16, 20, 26, 34)
"""Codes of the grey steps, number 1 first: their light is 1/1100 to 1/63 of white's."""

LOOP_S: Final = 4
"""Once round for the travelling dot."""

_FINER: Final = 3  # painted at three times the raster's pixels, then joined
_SIGN: Final = 200
_RULER: Final = 150
_WORDS: Final = 100
_DOT: Final = 170


@dataclass(frozen=True, slots=True)
class Ruler:
    """A ruler on the ghost plane, mm.

    Attributes
    ----------
    start, end : tuple of float
        x and y of its ends (x right, y up from the floor), middle of the end ticks.
    length : float
        Between them.
    """

    start: tuple[float, float]
    end: tuple[float, float]
    length: float


@dataclass(frozen=True, eq=False)
class Chart:
    """The chart of one scene.

    Attributes
    ----------
    still : ndarray of uint8 (h, w, 3)
        The raster without the travelling dot; greys only.
    across, up : Ruler
        The two rulers.
    range_window : ndarray of bool (h, w)
        Where the range is tested: luma there is given to the file as it is, see `to_planes`.
    orbit : ndarray of float (n, 2)
        Raster positions of the dot, once round, evenly, clockwise as seen; its first is at the top.
    dot_px : float
        Radius of the dot.
    """

    still: Codes
    across: Ruler
    up: Ruler
    range_window: npt.NDArray[np.bool_]
    orbit: npt.NDArray[np.float64]
    dot_px: float

    def frame(self, number: int, count: int) -> Codes:
        """Return frame `number` of a loop of `count`: the dot goes round once."""
        picture = self.still.copy()
        x, y = self.orbit[number * len(self.orbit) // count]
        at = round(float(x) * 16 - 8), round(float(y) * 16 - 8)
        cv2.circle(picture, at, round(self.dot_px * 16), (_DOT,) * 3, -1, cv2.LINE_AA, 4)
        return picture


def draw_chart(plan: Plan) -> Chart:
    """Draw the chart for a scene, so that it is upright and true as seen from the middle eye.

    Its outermost pixels are lit; it holds a sign that looks like no other of its eight flips
    and turns, two rulers, numbered steps near black, a window for the range test, and a line
    beside a pair of lines that stand as far apart as the pane's two images should.

    Parameters
    ----------
    plan : Plan
    """
    raster = plan.layout.image.raster
    pitch = min(plan.mount.pitch_mm)
    left, low, right, high = _inside(plan)
    unit = pitch  # the chart is laid out in raster pixels of the finer pitch
    brush = Brush(((right - left) / unit, (high - low) / unit), _FINER)
    layout = _Layout(brush, pitch)
    across, up = layout.rulers()
    layout.sign()
    layout.steps()
    layout.pair(_doubling(plan), plan.doubling.ratio)
    window, centre, radius = layout.range_window(), layout.orbit_centre, layout.orbit_radius

    def plane(x: float, y: float) -> tuple[float, float]:
        return left + x * unit, low + y * unit

    still = _to_raster(brush.picture, plan, (left, high), unit / _FINER)
    for edge in (np.s_[0, :], np.s_[-1, :], np.s_[:, 0], np.s_[:, -1]):
        still[edge] = 255
    angle = np.linspace(0, 2 * math.pi, 720, endpoint=False)
    ring = np.stack([centre[0] + radius * np.sin(angle), centre[1] + radius * np.cos(angle)], axis=-1)
    orbit = plan.mount.to_raster(np.array([left, low]) + ring * unit)
    corners = plan.mount.to_raster(np.array([plane(*corner) for corner in window]))
    mask = np.zeros((raster[1], raster[0]), np.uint8)
    cv2.fillConvexPoly(mask, np.rint(corners - 0.5).astype(np.int32), 1)
    return Chart(
        still=still,
        across=Ruler(plane(*across[0]), plane(*across[1]), across[2]),
        up=Ruler(plane(*up[0]), plane(*up[1]), up[2]),
        range_window=mask.view(np.bool_),
        orbit=orbit,
        dot_px=max(2.0, radius * 0.16),
    )


def to_planes(frame: Codes, chart: Chart, *, full_range: bool) -> Codes:
    """Return a frame of the chart as planes (h * 3 // 2, w), every grey exact, with the range test.

    Greys have neutral chroma whatever the matrix is, so luma alone is computed. In limited range
    the window R gets luma 1, blacker than black (16): a player that keeps to the range shows
    nothing there, one that ignores it shows its black as grey and the window darker. In full
    range it gets luma 16, a dark grey; a player that takes the file for limited range shows
    black instead.

    Parameters
    ----------
    frame : ndarray of uint8 (h, w, 3)
        Of `Chart.frame`; h and w even.
    chart : Chart
    full_range : bool
        Whether black is luma 0.
    """
    height, width = frame.shape[:2]
    planes = np.full((height * 3 // 2, width), 128, np.uint8)
    grey = frame[..., 1].astype(np.float32)
    planes[:height] = grey if full_range else np.rint(16 + grey * np.float32(219 / 255))
    planes[:height][chart.range_window] = 16 if full_range else 1
    return planes


def glow_contrast(step: int) -> float:
    """Return the screen's contrast at which its black glows as much as step `step` (from 1) adds.

    That step's light over white is then black's light over white.
    """
    code = STEPS[step - 1] / 255
    return ((code + 0.055) / 1.055) ** -2.4 if code > 0.04045 else 12.92 / code


def _inside(plan: Plan) -> tuple[float, float, float, float]:
    """Return the largest upright rectangle of the ghost plane about the ghost that the raster fills."""
    w, h = plan.layout.image.raster
    corners = plan.mount.to_ghost(np.array([(0, 0), (w, 0), (w, h), (0, h)], np.float64))
    x, y = np.sort(corners[:, 0]), np.sort(corners[:, 1])
    return float(x[1]), float(y[1]), float(x[2]), float(y[2])


def _doubling(plan: Plan) -> npt.NDArray[np.float64]:
    """Return how the second image is set off from the first on the ghost plane, in raster pixels (x, y)."""
    stage = stage_of(plan)
    ghost = plan.layout.ghost
    second = stage.second_image(stage.reflection(stage.eye)).centre
    met = meet_plane(stage.eye, second, ghost, vector((0.0, 0.0, -1.0)))
    offset: npt.NDArray[np.float64] = (met - ghost)[:2] / min(plan.mount.pitch_mm)
    return offset


def _to_raster(picture: Codes, plan: Plan, top_left: tuple[float, float], mm_per_px: float) -> Codes:
    """Return the raster (h, w, 3) that shows a picture of the ghost plane."""
    w, h = plan.layout.image.raster
    to_plane = np.array([[mm_per_px, 0, top_left[0]], [0, -mm_per_px, top_left[1]], [0, 0, 1]])
    finer, middle = np.diag([_FINER, _FINER, 1.0]), np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
    matrix = np.linalg.inv(middle) @ finer @ plan.mount.homography @ to_plane @ middle
    fine = cv2.warpPerspective(picture, matrix, (w * _FINER, h * _FINER), flags=cv2.INTER_LINEAR)
    return np.asarray(cv2.resize(fine, (w, h), interpolation=cv2.INTER_AREA), np.uint8)


class _Layout:
    """Where each part of the chart lies; all in raster pixels, y up."""

    def __init__(self, brush: Brush, pitch: float) -> None:
        self._b, self._pitch = brush, pitch
        self._wide, self._high = brush.wide, brush.high
        self._small = min(brush.wide, brush.high)
        self._text = max(0.045 * self._small, 8.0)
        self._left = 0.13 * self._wide  # the ruler that stands up is left of it
        self.orbit_radius = 0.12 * self._small
        self.orbit_centre = (0.78 * self._wide, 0.76 * self._high)

    def sign(self) -> None:
        """Draw a letter F, an arrow up and the ring of the dot, which runs clockwise."""
        b, h = self._b, 0.36 * self._high
        x, y, grey = self._left + 0.06 * self._wide, 0.58 * self._high, _grey(_SIGN)
        t = 0.2 * h
        b.box(round(x), round(y), round(x + t), round(y + h), grey)
        b.box(round(x), round(y + h - t), round(x + 0.72 * h), round(y + h), grey)
        b.box(round(x), round(y + 0.42 * h), round(x + 0.52 * h), round(y + 0.42 * h + t), grey)
        b.ring(*self.orbit_centre, self.orbit_radius, 0.7, _grey(60))
        cx, cy = self.orbit_centre
        r = 0.5 * self.orbit_radius
        b.fill([(cx - 0.7 * r, cy), (cx + 0.7 * r, cy), (cx, cy + r)], _grey(_WORDS))
        b.box(round(cx - 0.2 * r), round(cy - r), round(cx + 0.2 * r), round(cy), _grey(_WORDS))

    def rulers(self) -> tuple[tuple[tuple[float, float], tuple[float, float], float], ...]:
        """Draw one across and one up; return start, end and length in mm of each."""
        across = self._ruler((self._left, 0.46 * self._high), (1, 0), 0.82 * self._wide)
        up = self._ruler((0.085 * self._wide, 0.08 * self._high), (0, 1), 0.86 * self._high)
        return across, up

    def _ruler(
        self, start: tuple[float, float], way: tuple[int, int], room: float
    ) -> tuple[tuple[float, float], tuple[float, float], float]:
        b, millimetre = self._b, 1 / self._pitch
        every = 5 if room * self._pitch < 40 else 10
        length = max(math.floor(room * self._pitch / every) * every, 1)
        aside = (-way[1], way[0])  # to the left of the way: ticks stand on that side
        fine = 1 if millimetre >= 4 else 5
        for mm in range(0, length + 1, fine):
            tall = (0.035 if mm % 5 else 0.05 if mm % 10 else 0.07) * self._small
            x, y = start[0] + way[0] * mm * millimetre, start[1] + way[1] * mm * millimetre
            end = (x + aside[0] * tall, y + aside[1] * tall)
            self._stroke((x, y), end, 1.4 if mm in {0, length} else 0.9)
        last = (start[0] + way[0] * length * millimetre, start[1] + way[1] * length * millimetre)
        self._stroke(start, last, 0.9)
        if way[0]:
            for mm in range(0, length + 1, 10):
                b.word(
                    str(mm),
                    start[0] + mm * millimetre,
                    start[1] - 1.4 * self._text,
                    self._text,
                    _grey(_WORDS),
                )
        else:
            b.word(str(length), start[0], last[1] + 0.5 * self._text, self._text, _grey(_WORDS))
        return start, last, float(length)

    def _stroke(self, start: tuple[float, float], end: tuple[float, float], wide: float) -> None:
        """Draw a straight line along x or y, flat at its ends, centred on its path."""
        (x0, y0), (x1, y1) = start, end
        half = wide / 2
        dx, dy = (half, 0.0) if x0 == x1 else (0.0, half)
        self._b.fill(
            [
                (x0 - dx, y0 - dy),
                (x1 + dx, y1 - dy) if y0 == y1 else (x0 + dx, y0 - dy),
                (x1 + dx, y1 + dy),
                (x0 - dx, y0 + dy) if y0 == y1 else (x1 - dx, y1 + dy),
            ],
            _grey(_RULER),
        )

    def steps(self) -> None:
        """Draw the numbered steps near black, in one row."""
        b, room = self._b, (0.95 * self._wide - self._left) / len(STEPS)
        side = math.floor(0.82 * room)
        y = round(0.25 * self._high)
        for number, code in enumerate(STEPS, 1):
            x = round(self._left + (number - 1) * room)
            b.box(x, y, x + side, y + side, _grey(code))
            b.word(str(number), x + side / 2, y - 1.3 * self._text, self._text, _grey(_WORDS))

    def range_window(self) -> Sequence[tuple[float, float]]:
        """Draw the window R; return its corners, all the way round."""
        b, side = self._b, round(0.1 * self._small)
        x, y = round(self._left + 1.6 * self._text), round(0.05 * self._high)
        b.word("R", x - 1.1 * self._text, y + 0.3 * side, self._text, _grey(_WORDS))
        for edge in ((x - 3, y - 3, x + side + 3, y - 2), (x - 3, y + side + 2, x + side + 3, y + side + 3)):
            b.box(*edge, _grey(60))
        return (x, y), (x + side, y), (x + side, y + side), (x, y + side)

    def pair(self, offset: npt.NDArray[np.float64], ratio: float) -> None:
        """Draw one line L1, and two lines L2 that stand `offset` apart, the second darker by `ratio`."""
        b, length = self._b, 0.11 * self._high
        distance = float(np.linalg.norm(offset))
        along = np.array([0.0, 1.0]) if distance < 1e-6 else np.array([-offset[1], offset[0]]) / distance
        along *= -1 if along[1] < 0 else 1
        second = _grey(round(_SIGN * ratio ** (1 / 2.2)))
        for name, x, twice in (("L1", 0.5, False), ("L2", 0.72, True)):
            middle = np.array([x * self._wide, 0.05 * self._high + 0.5 * length])
            if twice:
                self._thin(middle + offset, along, length, second)
            self._thin(middle, along, length, _grey(_SIGN))
            b.word(
                name,
                middle[0] - 1.5 * self._text - abs(offset[0]),
                0.05 * self._high,
                self._text,
                _grey(_WORDS),
            )

    def _thin(
        self, middle: npt.NDArray[np.float64], along: npt.NDArray[np.float64], length: float, grey: Colour
    ) -> None:
        aside = np.array([along[1], -along[0]]) * 0.75
        ends = middle - along * length / 2, middle + along * length / 2
        outline = (ends[0] - aside, ends[0] + aside, ends[1] + aside, ends[1] - aside)
        self._b.fill([(float(x), float(y)) for x, y in outline], grey)


def _grey(code: int) -> Colour:
    return code, code, code
