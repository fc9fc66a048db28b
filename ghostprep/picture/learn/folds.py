"""What the folds of a cloth tell of it: its hue, and the share of the backing that is seen through it.

Light changes along a cloth's own hue, whether the cloth is solid or thin; what is seen through it stays.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple, TypeAlias

import cv2
import numpy as np

from ghostprep.arrays import Doubles, Floats
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.keyed import floats

_FOLDS = (5, 11, 21)
"""Pixels over which folds are looked at; each against what is four times as wide."""
_SHARES = np.arange(0, 0.99, 0.02)
"""Shares of the backing that are tried for a colour."""
_CLEAR, _AGREE = 0.95, 0.2
"""Share of the folds that must lie along one hue, and how nearly folds of all sizes must tell one share. A
lamp's light on cloth is no fold: what it tells changes with the size."""
_THIN, _MOST = 0.2, 0.95
"""Shares of the backing from which folds tell a veil, twice what codecs make of solid cloth, and up to which:
what is all backing is an edge."""
_BELOW = -0.02
"""Light below none, as a share of a colour's, that noise may leave when too much of the backing is taken."""

Squares: TypeAlias = Doubles
"""Sums of the squares (3, 3) of folds of one size, light."""


class Folds(NamedTuple):
    """What the folds of a colour tell."""

    hue: Floats
    shares: tuple[float, ...]
    """Of the backing, by folds of each size."""
    clear: float
    """Share of them that lies along their hue."""

    @property
    def share(self) -> float:
        """Of the backing, by the folds of middle size."""
        return self.shares[len(self.shares) // 2]

    @property
    def tell_a_veil(self) -> bool:
        """Whether they tell thin cloth, and how thin."""
        told = self.clear > _CLEAR and max(self.shares) - min(self.shares) < _AGREE
        return told and min(self.shares) > _THIN and max(self.shares) < _MOST

    @property
    def tell_solid(self) -> bool:
        """Whether they tell that nothing is seen through it."""
        return self.clear > _CLEAR and max(self.shares) < _THIN


def no_folds() -> list[Squares]:
    """Return the sums before anything is added to them."""
    return [np.zeros((3, 3)) for _ in _FOLDS]


def add_folds(
    squares: list[Squares], light: Floats, mask: cv2.typing.MatLike, inside: cv2.typing.MatLike
) -> None:
    """Add the folds that a picture shows, in place.

    Parameters
    ----------
    squares : list of ndarray (3, 3)
        Sums, one for each size of folds.
    light : ndarray of float32 (h, w, 3)
    mask : ndarray of uint8 (h, w)
        1 where there is the cloth: a fold is what lies off the mean of the cloth around.
    inside : ndarray of uint8 (h, w)
        1 where folds are looked at, within the mask.
    """
    x, y, w, h = cv2.boundingRect(mask)
    if not w:
        return
    cut = np.s_[y : y + h, x : x + w]
    at = np.flatnonzero(inside[cut])
    weight = floats(mask[cut])
    masked = cv2.multiply(light[cut], cv2.merge((weight,) * 3))

    def mean(reach: int) -> Floats:
        mass = np.maximum(cv2.blur(weight, (reach, reach)), 1e-3)
        return floats(cv2.blur(masked, (reach, reach)).reshape(-1, 3).take(at, 0) / mass.take(at)[:, None])

    for j, reach in enumerate(_FOLDS):
        fold = mean(reach) - mean(4 * reach + 1)
        squares[j] += fold.T @ fold


def read_folds(
    squares: Sequence[Squares], light: Floats, plate: Floats, axis: HueAxis | None = None
) -> Folds:
    """Return the hue, and the share of the backing, that explain a colour and the most of its folds.

    With a share v of the backing B, the hue of a colour C is that of C - v B: all hues that it may have lie
    in one plane, and folds off it are noise.

    Parameters
    ----------
    squares : sequence of ndarray (3, 3)
        Sums of the colour's folds, one for each size.
    light, plate : ndarray of float32 (3,)
        The colour's mean light, and the backing's behind it.
    axis : HueAxis, optional
        The backing's hue, if the colour shows it: then the hue itself has none of it.
    """
    rest = floats(light - _SHARES[:, None] * plate)
    hues = unit(floats(np.maximum(rest, 0)))
    real = (rest > _BELOW * light.max()).all(1)
    if axis is not None:
        real &= axis.narrow(hues) <= 0
    along = np.where(real, np.einsum("vi,sij,vj->sv", hues, np.stack(squares), hues), 0)
    best, middle = along.argmax(1), len(_FOLDS) // 2
    clear = along[middle, best[middle]] / max(float(np.linalg.norm(squares[middle])), 1e-9)
    return Folds(hues[best[middle]], tuple(float(x) for x in _SHARES[best]), float(clear))


def unit(x: Floats) -> Floats:
    """Return vectors (..., 3) at length 1."""
    return floats(x / np.maximum(np.linalg.norm(x, axis=-1, keepdims=True), 1e-6))
