"""The chart: a test picture for the real box, true in millimetres on the ghost plane."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np

from ghostprep.arrays import Doubles, Frame, Mask
from ghostprep.black import NEUTRAL
from ghostprep.chart.brush import Brush
from ghostprep.chart.layout import STEPS, ChartLayout
from ghostprep.eye.pane import pane_light
from ghostprep.optics import Plan
from ghostprep.optics.vectors import meet_plane, vector
from ghostprep.transfer import linear_table

LOOP_S: Final = 4
"""Seconds in which the travelling dot goes round once."""
_FINER: Final = 3  # painted at three times the raster's pixels, then joined
_DOT: Final = 170
"""Code of the travelling dot."""


@dataclass(frozen=True, slots=True)
class Ruler:
    """A ruler on the ghost plane, mm."""

    start: tuple[float, float]
    end: tuple[float, float]
    """x and y of its ends (x right, y up from the floor), middle of the end ticks."""
    length: float
    """Between them."""


@dataclass(frozen=True, eq=False)
class Chart:
    """The chart of one scene."""

    still: Frame
    """(h, w, 3): the raster without the travelling dot; greys only."""
    across: Ruler
    up: Ruler
    """The two rulers."""
    range_window: Mask
    """(h, w): where the range is tested: luma there is given to the file as it is, see `to_planes`."""
    orbit: Doubles
    """(n, 2): raster positions of the dot, once round, evenly, clockwise as seen; its first is at the top."""
    dot_px: float
    """Radius of the dot."""

    def frame(self, number: int, count: int) -> Frame:
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
    """
    raster = plan.layout.image.raster
    pitch = min(plan.mount.pitch_mm)  # the chart is laid out in raster pixels of the finer pitch
    left, low, right, high = _inside(plan)
    brush = Brush(((right - left) / pitch, (high - low) / pitch), _FINER)
    layout = ChartLayout(brush, pitch, plan.scene.units)
    across, up = layout.rulers()
    layout.sign()
    layout.steps()
    layout.pair(_doubling(plan), plan.doubling.ratio)
    window, centre, radius = layout.range_window(), layout.orbit_centre, layout.orbit_radius

    def plane(x: float, y: float) -> tuple[float, float]:
        return left + x * pitch, low + y * pitch

    still = _to_raster(brush.picture, plan, (left, high), pitch / _FINER)
    for edge in (np.s_[0, :], np.s_[-1, :], np.s_[:, 0], np.s_[:, -1]):
        still[edge] = 255
    angle = np.linspace(0, 2 * math.pi, 720, endpoint=False)
    ring = np.stack([centre[0] + radius * np.sin(angle), centre[1] + radius * np.cos(angle)], axis=-1)
    orbit = plan.mount.to_raster(np.array([left, low]) + ring * pitch)
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


def to_planes(frame: Frame, chart: Chart, *, full_range: bool) -> Frame:
    """Return a frame of the chart as planes (h * 3 // 2, w), every grey exact, with the range test.

    Greys have neutral chroma whatever the matrix is, so luma alone is computed. In limited range
    the window R gets luma 1, blacker than black (16): a player that keeps to the range shows
    nothing there, one that ignores it shows its black as grey and the window darker. In full
    range it gets luma 16, a dark grey; a player that takes the file for limited range shows
    black instead. h and w are even.
    """
    height, width = frame.shape[:2]
    planes = np.full((height * 3 // 2, width), NEUTRAL, np.uint8)
    grey = frame[..., 1].astype(np.float32)
    planes[:height] = grey if full_range else np.rint(16 + grey * np.float32(219 / 255))
    planes[:height][chart.range_window] = 16 if full_range else 1
    return planes


def glow_contrast(step: int) -> float:
    """Return the screen's contrast at which its black glows as much as step `step` (from 1) adds.

    That step's light over white is then black's light over white.
    """
    return 1 / float(linear_table()[STEPS[step - 1]])


def _inside(plan: Plan) -> tuple[float, float, float, float]:
    """Return the largest upright rectangle of the ghost plane about the ghost that the raster fills."""
    w, h = plan.layout.image.raster
    corners = plan.mount.to_ghost(np.array([(0, 0), (w, 0), (w, h), (0, h)], np.float64))
    x, y = np.sort(corners[:, 0]), np.sort(corners[:, 1])
    return float(x[1]), float(y[1]), float(x[2]), float(y[2])


def _doubling(plan: Plan) -> Doubles:
    """Return how the second image is set off from the first on the ghost plane, in raster pixels (x, y)."""
    ghost, eye = plan.layout.ghost, plan.layout.eye
    second = pane_light(plan).second_face(plan, eye).image(plan.layout.screen.centre)
    met = meet_plane(eye, second, ghost, vector((0.0, 0.0, -1.0)))
    return (met - ghost)[:2] / min(plan.mount.pitch_mm)


def _to_raster(picture: Frame, plan: Plan, top_left: tuple[float, float], mm_per_px: float) -> Frame:
    """Return the raster (h, w, 3) that shows a picture of the ghost plane."""
    w, h = plan.layout.image.raster
    to_plane = np.array([[mm_per_px, 0, top_left[0]], [0, -mm_per_px, top_left[1]], [0, 0, 1]])
    finer, middle = np.diag([_FINER, _FINER, 1.0]), np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
    matrix = np.linalg.inv(middle) @ finer @ plan.mount.homography @ to_plane @ middle
    fine = cv2.warpPerspective(picture, matrix, (w * _FINER, h * _FINER), flags=cv2.INTER_LINEAR)
    return np.asarray(cv2.resize(fine, (w, h), interpolation=cv2.INTER_AREA), np.uint8)
