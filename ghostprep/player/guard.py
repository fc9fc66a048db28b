"""Frames made ready for the encoder: to 4:2:0 with black kept black at the figure's edge.

In 4:2:0 one chroma sample covers 2x2 pixels, so colour at the figure's rim spills onto black
pixels before any encoder has seen them. Here a chroma sample is neutral if any of its pixels
is black, and colour fades in over the first pixels inside the figure. Where the player's bit
rate is too low for a hard rim, light can fade in too.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np

from ghostprep.arrays import Floats, Frame
from ghostprep.black import NEUTRAL
from ghostprep.channels import largest_channel
from ghostprep.player.profile import ColourLimits
from ghostprep.transfer import LUMA_709

WEIGHTS: Final = {"bt709": LUMA_709, "bt601": (0.299, 0.587, 0.114)}
"""Luma weights of R, G, B; those of BT.601-7 are of its table 2."""
_BAND: Final = 64
"""Rows that are converted at a time: all that is computed of them stays in the processor's cache."""


@dataclass(frozen=True, slots=True)
class Guard:
    """How the figure's rim is treated."""

    # light below half this code becomes black, and up to twice this code it is dimmed: the last traces of a
    # key's noise, which nobody sees but every codec has to carry
    floor: float = 0.0
    colour_px: float = 2.0  # over how many pixels from the rim colour fades in
    fade_px: float = 0.0  # over how many pixels from the rim light fades in; 0: not at all

    def __post_init__(self) -> None:
        if min(self.floor, self.colour_px, self.fade_px) < 0:
            raise ValueError(f"settings are {self}, they must be 0 or more")


def to_planes(frame: Frame, colour: ColourLimits, guard: Guard, *, centred: bool) -> Frame:
    """Convert an RGB frame, 0 outside the figure, height and width even, to planar 4:2:0 (h * 3 // 2, w).

    `colour` has range and matrix of the result. Where it is `centred` a chroma sample lies in the middle of
    its 2x2 pixels (JPEG, MPEG-1), else midway down their left edge (MPEG-4, H.264, HEVC).
    """
    height, width = frame.shape[:2]
    black = 16 if colour.range == "limited" else 0
    planes = np.full((height * 3 // 2, width), NEUTRAL, np.uint8)
    planes[:height] = black
    largest = largest_channel(frame)
    shown = _past_floor(largest, guard)
    x, y, w, h = cv2.boundingRect(shown)
    if not w:
        return planes
    (left, right), (y0, y1) = _with_black(x, w, width), _with_black(y, h, height)
    depth = _depth((shown[y0:y1, left:right] > 0).view(np.uint8))
    halves = planes[height:].reshape(2, height // 2, width // 2)
    for top in range(y0, y1, _BAND):
        end = min(top + _BAND, y1)
        # only the columns that are lit in these rows are converted
        x, _, w, _ = cv2.boundingRect(shown[top:end])
        if not w:
            continue
        x0, x1 = _with_black(x, w, width)
        signal, deep = frame[top:end, x0:x1], depth[top - y0 : end - y0, x0 - left : x1 - left]
        codes = signal.astype(np.float32)
        # row by row: a third of the time of one product that is split afterwards
        luma, *differences = (np.asarray(cv2.transform(codes, row), np.float32) for row in _rows(colour))
        # all three channels by the same factor, so that dim light keeps its colour
        factor = _dimming(largest[top:end, x0:x1], guard)
        if guard.fade_px:
            factor *= _ramp(deep, guard.fade_px)
        luma *= factor
        # to whole numbers at once: OpenCV rounds and clips on the way
        planes[top:end, x0:x1] = cv2.convertScaleAbs(luma, beta=black)
        weight = _ramp(_least(deep), guard.colour_px)
        for plane, difference in zip(halves, differences, strict=True):
            chroma = _halved(np.multiply(difference, factor, out=difference), centred=centred)
            chroma *= weight
            plane[top // 2 : end // 2, x0 // 2 : x1 // 2] = cv2.convertScaleAbs(chroma, beta=NEUTRAL)
    return planes


def _with_black(first: int, count: int, side: int) -> tuple[int, int]:
    """Return whole 2x2 blocks around some pixels, with one block of black: distances to black are known."""
    return max(first // 2 * 2 - 2, 0), min((first + count + 3) // 2 * 2 + 2, side)


@functools.cache
def _rows(colour: ColourLimits) -> tuple[Floats, ...]:
    """Return the maps (1, 3) from RGB codes to luma, Cb and Cr as far as they differ from black."""
    luma_span, chroma_span = (219.0, 224.0) if colour.range == "limited" else (255.0, 255.0)
    luma = np.array(WEIGHTS[colour.matrix])
    blue, red = ((np.eye(3)[channel] - luma) * chroma_span / (2 * (1 - luma[channel])) for channel in (2, 0))
    return tuple((row[None] / 255).astype(np.float32) for row in (luma * luma_span, blue, red))


def _dimming(largest: Frame, guard: Guard) -> Floats:
    """Return by what the guard's floor dims pixels (h, w), told by their largest channel: 0..1."""
    if not guard.floor:
        return np.ones(largest.shape, np.float32)
    return np.asarray(cv2.LUT(largest, _toe_factors(guard.floor)), np.float32)


def lit(frame: Frame, guard: Guard) -> Frame:
    """Return the largest channel of each pixel (h, w) as the guard leaves it: 0 where it is to be black."""
    return _past_floor(largest_channel(frame), guard)


def _past_floor(largest: Frame, guard: Guard) -> Frame:
    return np.asarray(cv2.LUT(largest, _toe(guard.floor)), np.uint8) if guard.floor else largest


@functools.cache
def _toe(floor: float) -> Frame:
    """Return a table (256,) that takes codes below half the floor to 0, and meets the rest smoothly."""
    codes = np.arange(256, dtype=np.float32)
    t = np.clip((codes - floor / 2) / (1.5 * floor), 0, 1)
    return np.asarray(np.rint(codes * t * t * (3 - 2 * t)), np.uint8)


@functools.cache
def _toe_factors(floor: float) -> Floats:
    """Return a table (256,) of what the toe leaves of each code, over the code."""
    codes = np.arange(256, dtype=np.float32)
    return (_toe(floor) / np.maximum(codes, 1)).astype(np.float32)


def _depth(inside: Frame) -> Floats:
    """Return each pixel's distance from the nearest black pixel; the picture's border is no black."""
    if inside.all():
        return np.full(inside.shape, 1e6, np.float32)
    return cv2.distanceTransform(inside, cv2.DIST_L2, cv2.DIST_MASK_3).astype(np.float32, copy=False)


def _ramp(depth: Floats, px: float) -> Floats:
    """Return 0 on black, rising smoothly to 1 at more than `px` pixels from it."""
    t = depth * np.float32(1 / (px + 1))
    np.minimum(t, 1, out=t)
    rise = 3 - 2 * t
    t *= t
    t *= rise
    return np.asarray(t, np.float32)


def _least(plane: Floats) -> Floats:
    """Return the least of each 2x2 pixels."""
    rows = np.minimum(plane[0::2], plane[1::2])
    return np.asarray(np.minimum(rows[:, 0::2], rows[:, 1::2]), np.float32)


def _halved(plane: Floats, *, centred: bool) -> Floats:
    size = (plane.shape[1] // 2, plane.shape[0] // 2)
    here = np.asarray(cv2.resize(plane, size, interpolation=cv2.INTER_AREA), np.float32)
    if centred:
        return here
    # on the left edge: as much of the square that begins a pixel farther left
    left = cv2.copyMakeBorder(plane, 0, 0, 1, 0, cv2.BORDER_REPLICATE)[:, :-1]
    return np.asarray(
        cv2.addWeighted(here, 0.5, cv2.resize(left, size, interpolation=cv2.INTER_AREA), 0.5, 0), np.float32
    )
