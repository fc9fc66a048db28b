"""Where the figure is, how tall it stands and how bright it is: in one keyed frame, and over many."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Floats, Frame, Mask
from ghostprep.box import Box
from ghostprep.channels import largest_channel
from ghostprep.picture import Keyed

_SEEN: Final = 16
"""Matte, 0..255, from which a pixel belongs to what the figure touches."""
_FAINT: Final = 4
"""Code from which light on black is seen where `--gain auto` brings it up: four times as light it is 15."""
_DIM: Final = 0.5
"""Code, 0..1, of the bright parts under which it does so; `--gain auto` is 4 there."""
_UNLIT: Final = 8
"""Code under which a pixel gives no light: 1/400 of white."""
_SPECK: Final = 3
"""Pixels of the survey's small picture that alone, at its edge, are an error of the key."""

_SOLID: Final = 128
"""Half covered: where the figure's own edge lies."""


@dataclass(frozen=True, slots=True)
class FigureExtent:
    """The figure over some frames, in source pixels."""

    reach: Box
    """All that the figure touches at any time."""
    height: float
    """From top to feet, median."""
    feet: tuple[float, float]
    """Middle of the figure, and the row it stands on."""


@dataclass(frozen=True, slots=True)
class Measures:
    """What was measured of the figure, one row a frame."""

    reach: Floats
    """(frames, 4): left, top, right, bottom of all that the figure touches, source px; NaN: no figure."""
    solid: Floats
    """(frames, 4): the same of its solid part, to a fraction of a pixel."""
    bright: Floats
    """(frames,): code, 0..1, that 99 % of the figure's pixels stay below in their largest channel."""
    faint: Floats
    """(frames, 4): as `reach`, with all that is seen once a dim figure on black is made brighter."""

    @classmethod
    def of(cls, rows: list[Floats]) -> Measures:
        """Return them from what `measured` gave of each frame."""
        table = np.array(rows, np.float32).reshape(-1, 13)
        return cls(table[:, :4], table[:, 4:8], table[:, 8], table[:, 9:])

    def at(self, rows: npt.NDArray[np.int64]) -> Measures:
        """Return those of some rows."""
        return Measures(self.reach[rows], self.solid[rows], self.bright[rows], self.faint[rows])

    def body(self, source: tuple[int, int]) -> FigureExtent | None:
        """Return the figure over all rows, in a clip of a width and height; None where there is none."""
        touched = self.faint if self.bright.max(initial=0) < _DIM else self.reach
        reach, solid = (x[~np.isnan(x[:, 0])] for x in (touched, self.solid))
        if not len(reach) or not len(solid):
            return None
        left, top = np.floor(reach[:, :2].min(axis=0)).astype(int)
        right, bottom = np.ceil(reach[:, 2:].max(axis=0)).astype(int)
        box = Box(int(left), int(top), int(right - left), int(bottom - top)).within(source)
        height = float(np.median(solid[:, 3] - solid[:, 1]))
        middle = float(np.median((solid[:, 0] + solid[:, 2]) / 2))
        # the lowest the feet get, not the mean: while walking one foot is always lifted
        return FigureExtent(box, max(height, 1.0), (middle, float(np.percentile(solid[:, 3], 95))))


def whole_picture(size: tuple[int, int]) -> FigureExtent:
    """Return the measures of a clip, width and height, in which all of the picture is the figure."""
    width, height = size
    return FigureExtent(Box(0, 0, width, height), float(height), (width / 2, float(height)))


def measured(keyed: Keyed, full: tuple[int, int], *, on_black: bool = False) -> Floats:
    """Return reach, solid, bright and faint of a keyed frame as one row (13,).

    Parameters
    ----------
    full : (int, int)
        The source frame's size.
    on_black : bool
        Whether the backing is black: before others, faint light is what the key has left of them.
    """
    high, wide = keyed.matte.shape
    scale = np.array([full[0] / wide, full[1] / high] * 2, np.float32)
    lit, matte = largest_channel(keyed.codes), keyed.matte
    dark = lit < _UNLIT
    if _gone_dark(matte, dark):
        matte = np.where(dark, np.uint8(0), matte)
    # half a cover without light is the backing in the dark; a lamp's glow is light without coverage, and must
    # not be cut off
    seen = np.where(dark & (matte < _SOLID), np.uint8(0), cv2.max(matte, lit))
    reach = faint = _edges(_without_specks(seen), _SEEN)
    if on_black:
        # evened out, so that no noisy pixel counts alone
        even = np.asarray(cv2.blur(lit, (3, 3), borderType=cv2.BORDER_REPLICATE), np.uint8)
        faint = _joined(reach, _edges(even, _FAINT))
    boxes = reach * scale, _edges(matte, _SOLID) * scale, faint * scale
    return np.array([*boxes[0], *boxes[1], _bright(lit, matte), *boxes[2]], np.float32)


def _joined(one: Floats, other: Floats) -> Floats:
    """Return the left, top, right and bottom of two boxes together; one that is NaN is none."""
    return np.concatenate([np.fmin(one[:2], other[:2]), np.fmax(one[2:], other[2:])])


def _without_specks(seen: Frame) -> Frame:
    """Return what is seen without specks at the picture's edge: a figure that leaves there is larger soon."""
    if max(side.max() for side in (seen[0], seen[-1], seen[:, 0], seen[:, -1])) < _SEEN:
        return seen
    _, labels, about, _ = cv2.connectedComponentsWithStats((seen >= _SEEN).astype(np.uint8))
    left, top, wide, high, area = about.T
    at_edge = (left == 0) | (top == 0) | (left + wide == seen.shape[1]) | (top + high == seen.shape[0])
    specks = np.flatnonzero(at_edge & (area <= _SPECK))
    return np.where(np.isin(labels, specks), np.uint8(0), seen) if len(specks) else seen


def _gone_dark(matte: Frame, dark: Mask) -> bool:
    """Tell whether the light is low, as in a fade: then black covers the edge on all sides."""
    covered = (matte >= _SEEN) & dark
    return all(side.mean() > 0.5 for side in (covered[0], covered[-1], covered[:, 0], covered[:, -1]))


def _bright(lit: Frame, matte: Frame) -> float:
    """Return the code, 0..1, that 99 % of the solid figure's pixels stay at or below."""
    solid = np.asarray(cv2.threshold(matte, _SOLID - 1, 255, cv2.THRESH_BINARY)[1], np.uint8)
    counts = cv2.calcHist([lit], [0], solid, [256], [0, 256]).ravel()
    total = float(counts.sum())
    return float(np.searchsorted(np.cumsum(counts), 0.99 * total)) / 255 if total else 0.0


def _edges(matte: Frame, level: int) -> Floats:
    """Return left, top, right, bottom where a matte crosses `level`, to a fraction of a pixel.

    The outermost row that reaches the level covers its pixel in part; how far the row
    outside it falls short says where in between the edge lies.
    """
    if matte.max(initial=0) < level:
        return np.full(4, np.nan, np.float32)
    left, right = _crossings(matte.max(0), level)
    top, bottom = _crossings(matte.max(1), level)
    return np.array([left, top, right, bottom], np.float32)


def _crossings(profile: Frame, level: int) -> tuple[float, float]:
    inside = np.flatnonzero(profile >= level)
    first, last = int(inside[0]), int(inside[-1])

    def outward(edge: int, step: int) -> float:
        # distance past the edge pixel's centre at which the profile has fallen to the level
        beyond = edge + step
        if not 0 <= beyond < len(profile):
            return 0.5
        here, there = float(profile[edge]), float(profile[beyond])
        return min((here - level) / max(here - there, 1.0), 1.0)

    return first + 0.5 - outward(first, -1), last + 0.5 + outward(last, 1)
