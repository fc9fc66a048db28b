"""What a pass over the clip sees in each frame: where the figure is, how bright, and a small picture."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final, NamedTuple, TypeAlias

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.box import Box, small_size
from ghostprep.channels import largest_channel
from ghostprep.picture import Keyed
from ghostprep.prepare.store import FrameStore

Frame: TypeAlias = npt.NDArray[np.uint8]
Floats: TypeAlias = npt.NDArray[np.float32]

LONGEST: Final = 320
"""Longer side of the keyed frames, pixels: enough for boxes to a third of a pixel."""

SMALL: Final = 160
"""Longer side of the small pictures, on which joins are judged."""

KEPT_BYTES: Final = 1 << 30
"""The most temporary disk that those pictures may take; past it, joins are judged without them."""

_SEEN: Final = 16
"""Matte, 0..255, from which a pixel belongs to what the figure touches."""

_SOLID: Final = 128


@dataclass(frozen=True, slots=True)
class Sightings:
    """What was seen in the source frames of the part asked for, one row a frame.

    Attributes
    ----------
    first : int
        The first of them, as the clip counts.
    times : tuple of Fraction
        Presentation time of every frame read, from the clip's first, seconds.
    damage : str or None
        What the decoder said where the clip breaks off.
    reach : ndarray of float32 (frames, 4)
        Left, top, right, bottom of all that the figure touches, source px; NaN: no figure.
    solid : ndarray of float32 (frames, 4)
        The same of its solid part, to a fraction of a pixel.
    bright : ndarray of float32 (frames,)
        Code, 0..1, that 99 % of the figure's pixels stay below in their largest channel.
    small : FrameStore or None
        The keyed figures, `SMALL` px on the longer side; None where the clip is too long.
    """

    first: int
    times: tuple[Fraction, ...]
    damage: str | None
    reach: Floats
    solid: Floats
    bright: Floats
    small: FrameStore | None

    def close(self) -> None:
        """Give the small pictures' disk back."""
        if self.small is not None:
            self.small.close()


class Sighting(NamedTuple):
    """What was seen in one frame: reach, solid and bright as a row (9,), and the figure in small."""

    row: Floats
    small: Frame


class Gauge:
    """Measures keyed frames; it remembers nothing, so several threads may use it.

    Parameters
    ----------
    full, size : tuple of int
        Width and height of the source frames, and of the keyed ones.
    """

    def __init__(self, full: tuple[int, int], size: tuple[int, int]) -> None:
        self._scale = np.array([full[0] / size[0], full[1] / size[1]] * 2, np.float32)
        self.small_size = small_size(size, SMALL)

    def __call__(self, keyed: Keyed) -> Sighting:
        """Measure one frame."""
        small = cv2.resize(keyed.figure, self.small_size, interpolation=cv2.INTER_AREA)
        # all but the figure's part of the picture is nothing
        around = _around(keyed)
        lit = largest_channel(np.ascontiguousarray(keyed.figure[around]))
        matte = keyed.matte[around]
        # a lamp's glow is light without coverage, and must not be cut off either
        reach = _edges(np.maximum(matte, lit), _SEEN, around, keyed.matte.shape) * self._scale
        solid = _edges(matte, _SOLID, around, keyed.matte.shape) * self._scale
        return Sighting(
            np.array([*reach, *solid, _bright(lit, matte)], np.float32), np.asarray(small, np.uint8)
        )


class Watch:
    """Takes the sightings one by one, in order, and ends up with them all.

    Parameters
    ----------
    size : tuple of int
        Width and height of their small pictures.
    """

    def __init__(self, size: tuple[int, int]) -> None:
        self._small: FrameStore | None = FrameStore(size)
        self._rows: list[Floats] = []
        self._first = 0

    def take(self, index: int, seen: Sighting) -> None:
        """Note what was seen in a source frame."""
        if not self._rows:
            self._first = index
        self._rows.append(seen.row)
        if self._small is not None:
            self._small.append(seen.small)
            if len(self._small) * seen.small.size > KEPT_BYTES:
                self._small.close()
                self._small = None

    def close(self) -> None:
        """Give the temporary disk back, where the pass came to nothing."""
        if self._small is not None:
            self._small.close()

    def sightings(self, times: list[Fraction], damage: str | None) -> Sightings:
        """Return what was seen; the small pictures' disk is the caller's from here on."""
        rows = np.array(self._rows, np.float32).reshape(-1, 9)
        return from_rows(rows, self._first, tuple(times), damage, self._small)


def from_rows(
    rows: Floats, first: int, times: tuple[Fraction, ...], damage: str | None, small: FrameStore | None
) -> Sightings:
    """Return sightings whose numbers stand in rows (frames, 9): reach, solid, bright."""
    return Sightings(first, times, damage, rows[:, :4], rows[:, 4:8], rows[:, 8], small)


def to_rows(seen: Sightings) -> Floats:
    """Return the numbers of sightings as rows (frames, 9)."""
    return np.concatenate([seen.reach, seen.solid, seen.bright[:, None]], axis=1)


def _around(keyed: Keyed) -> tuple[slice, slice]:
    """Return the rows and columns between which all light and all coverage lie."""
    high, wide = keyed.matte.shape
    # the channels side by side, since the search takes one channel only
    x, y, width, height = cv2.boundingRect(keyed.figure.reshape(high, wide * 3))
    x, width = x // 3, (x + width + 2) // 3 - x // 3
    covered = cv2.boundingRect(keyed.matte)
    both = Box(x, y, width, height).union(Box(*covered))
    if both.empty:
        both = Box(0, 0, 1, 1)  # a frame that the figure has left: any pixel shows that nothing is there
    return slice(both.y, both.bottom), slice(both.x, both.right)


def _bright(lit: Frame, matte: Frame) -> float:
    """Return the code, 0..1, that 99 % of the solid figure's pixels stay at or below."""
    solid = np.asarray(cv2.threshold(matte, _SOLID - 1, 255, cv2.THRESH_BINARY)[1], np.uint8)
    counts = cv2.calcHist([lit], [0], solid, [256], [0, 256]).ravel()
    total = float(counts.sum())
    return float(np.searchsorted(np.cumsum(counts), 0.99 * total)) / 255 if total else 0.0


def _edges(part: Frame, level: int, around: tuple[slice, slice], whole: tuple[int, ...]) -> Floats:
    """Return left, top, right, bottom where a matte crosses `level`, to a fraction of a pixel.

    The outermost row that reaches the level covers its pixel in part; how far the row
    outside it falls short says where in between the edge lies.

    Parameters
    ----------
    part : ndarray of uint8
        The matte between the rows and columns `around`; it is 0 outside them.
    level : int
    around : tuple of slice
    whole : tuple of int
        Height and width of the whole matte.
    """
    if part.max(initial=0) < level:
        return np.full(4, np.nan, np.float32)
    rows, columns = (np.zeros(length, np.float32) for length in whole[:2])
    rows[around[0]], columns[around[1]] = part.max(axis=1), part.max(axis=0)
    left, right = _crossings(columns, level)
    top, bottom = _crossings(rows, level)
    return np.array([left, top, right, bottom], np.float32)


def _crossings(profile: Floats, level: int) -> tuple[float, float]:
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
