"""How much of the eye's field the raster's spots take up.

References
----------
.. [1] W3C, Understanding SC 2.3.1: 0.006 sr within any 10 degrees; a balanced pattern finer than 0.1
   degrees is exempt; technique G176.
.. [2] Recommendation ITU-R BT.1702: a quarter of the displayed screen.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Figure, Floats, Frame, Light
from ghostprep.transfer import codes_to_light, luminance

LIMIT_SR: Final = 0.006
"""Largest area that may flash at one time [1]_."""
LIMIT_SHARE: Final = 0.25
"""The same as a share of the screen, where its size is unknown [2]_."""
_FIELD_DEG: Final = 10.0
_FINE_DEG: Final = 0.1
"""The field over which flashing area is summed, and the fineness of patterns that are exempt [1]_."""
_BAND: Final = 96
"""Rows whose light is worked out at a time, at least."""
_SIDE_UNKNOWN: Final = 3
"""Pixels within 0.1 degrees where 341 of them make 10, as WCAG takes a screen that is not known [1]_."""


@dataclass(frozen=True, slots=True)
class SeenScreen:
    """How a screen looks to the eye."""

    size_mm: tuple[float, float]
    """Its lit area along the raster's width and height."""
    distance_mm: float
    """From the eye to its image, the ghost."""
    white_cd_m2: float
    """Luminance of its white."""


def screen_sr(screen_mm: tuple[float, float], distance_mm: float) -> float:
    """Return the solid angle (sr) of a screen seen square on from its axis.

    >>> round(screen_sr((40.8, 30.6), 500), 5)
    0.00499
    """
    w, h = screen_mm
    return 4 * math.atan(w * h / (2 * distance_mm * math.sqrt(4 * distance_mm**2 + w**2 + h**2)))


def spot_side(raster: tuple[int, int], screen: SeenScreen | None) -> int:
    """Return the side in pixels of the squares that are judged as one: within 0.1 degrees, at least 1."""
    if screen is None:
        return _SIDE_UNKNOWN
    pitch = max(screen.size_mm[0] / raster[0], screen.size_mm[1] / raster[1])
    return max(1, int(screen.distance_mm * math.tan(math.radians(_FINE_DEG)) / pitch))


def luminance_and_spots(frame: Frame | Figure, side: int) -> tuple[Light, Floats]:
    """Return luminance (h, w) and `spots_of` of a frame's linear light.

    A band of rows at a time: three floats a pixel of all of it would have to be fetched from memory again.
    """
    step = -(-_BAND // side) * side
    grey, spots = np.empty(frame.shape[:2], np.float32), []
    for top in range(0, len(frame), step):
        light = codes_to_light(frame[top : top + step])
        grey[top : top + step] = luminance(light)
        spots.append(spots_of(light, side))
    return grey, np.concatenate(spots)


def spots_of(light: Floats, side: int) -> Floats:
    """Return the mean light (rows, columns, 3) of each square; squares at the edge may be smaller."""
    height, width = light.shape[:2]
    rows, columns = -(-height // side), -(-width // side)
    down, right = rows * side - height, columns * side - width
    if not (down or right):
        return np.asarray(cv2.resize(light, (columns, rows), interpolation=cv2.INTER_AREA), np.float32)
    # padded with black, and the mean corrected for it
    whole = cv2.copyMakeBorder(light, 0, down, 0, right, cv2.BORDER_CONSTANT, value=0)
    means = cv2.resize(whole, (columns, rows), interpolation=cv2.INTER_AREA)
    return np.asarray(means * (side * side / _pixels(height, width, side))[..., None], np.float32)


@functools.lru_cache(4)
def _pixels(height: int, width: int, side: int) -> Floats:
    tall = np.minimum(side, height - np.arange(0, height, side))
    wide = np.minimum(side, width - np.arange(0, width, side))
    return np.outer(tall, wide).astype(np.float32)


class Field:
    """The areas of the spots, `side` pixels wide, and the limit; in shares of the raster without a screen."""

    def __init__(self, raster: tuple[int, int], side: int, screen: SeenScreen | None) -> None:
        share = _pixels(raster[1], raster[0], side) / np.float32(raster[0] * raster[1])
        self._known = screen is not None
        self._areas, self._disc = share, None
        if screen is not None:
            self._areas = share * np.float32(screen_sr(screen.size_mm, screen.distance_mm))
            radius = screen.distance_mm * math.tan(math.radians(_FIELD_DEG / 2))
            steps = tuple(side * screen.size_mm[k] / raster[k] for k in (0, 1))
            if math.hypot(*screen.size_mm) > 2 * radius:  # else all of it lies within 10 degrees
                self._disc = _disc(radius / steps[0], radius / steps[1])

    @property
    def limit(self) -> float:
        """Largest area that passes: sr, or a share of the raster."""
        return LIMIT_SR if self._known else LIMIT_SHARE

    def largest(self, spots: npt.NDArray[np.intp], *, above: float = 0.0) -> float:
        """Return the largest area of these spots within any 10 degrees; 0 where it cannot exceed `above`."""
        lit = np.zeros(self._areas.size, np.float32)
        lit[spots] = self._areas.ravel()[spots]
        if lit.sum(dtype=np.float64) <= above:
            return 0.0
        if self._disc is None:
            return float(lit.sum(dtype=np.float64))
        # a window may be centred off the screen, so the border is widened by its radius
        tall, wide = (side // 2 for side in self._disc.shape)
        roomy = cv2.copyMakeBorder(
            lit.reshape(self._areas.shape), tall, tall, wide, wide, cv2.BORDER_CONSTANT, value=0
        )
        return float(cv2.filter2D(roomy, cv2.CV_32F, self._disc, borderType=cv2.BORDER_CONSTANT).max())

    def area_text(self, area: float) -> str:
        """Return an area in words."""
        return f"{area:.4f} sr" if self._known else f"{area:.0%} of the raster"

    def limit_text(self) -> str:
        """Return the limit in words."""
        return f"{LIMIT_SR} sr" if self._known else "a quarter of the raster"


def _disc(radius_x: float, radius_y: float) -> Floats:
    x = np.arange(-math.floor(radius_x), math.floor(radius_x) + 1)
    y = np.arange(-math.floor(radius_y), math.floor(radius_y) + 1)
    return ((x[None, :] / radius_x) ** 2 + (y[:, None] / radius_y) ** 2 <= 1).astype(np.float32)
