"""What the folds of a cloth tell of it: the share of the backing that is seen through it, and so its hue.

Light changes along a cloth's own hue, whether the cloth is solid or thin; what is seen through it stays.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import cv2
import numpy as np

from ghostprep.arrays import Floats, Mask
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.keyed import floats

_SHARES = np.arange(-10, 50) / 50
"""Shares of the backing that are tried; noise takes those of solid cloth to both sides of none."""
_LAMP = 81
"""Pixels over which light that a lamp adds to a cloth stays the same; folds are smaller."""
_DEEP = 0.5
"""How deep folds are at least, in spreads of the noise, of which averaging leaves a fifth and more."""
_CLEAR, _MANY = 0.93, 0.3
"""Share of a patch's folds that must lie along one hue, and of a colour's pixels that is in such patches."""
_THIN, _MOST = 0.2, 0.95
"""Shares of the backing from which folds tell a veil, twice what codecs make of solid cloth, and up to which:
what is all backing is an edge."""
_BELOW, _ABOVE = 0.02, 1.0
"""Light below none, as a share of a colour's, and above white, that noise may leave."""
_WHITE = 255.0


class Folds(NamedTuple):
    """What the folds of one patch tell."""

    share: float
    """Of the backing that is seen through it."""
    clear: float
    """Share of the folds that lies along one hue."""
    pixels: int


class Told(NamedTuple):
    """What the folds of a colour's patches tell together."""

    share: float
    """Of the backing: the middle one."""
    least: float
    """Of the backing: a fourth of the pixels has less."""
    clear: bool

    @property
    def tell_a_veil(self) -> bool:
        """Whether they tell thin cloth, and how thin."""
        return self.clear and self.least > _THIN and self.share < _MOST

    @property
    def tell_solid(self) -> bool:
        """Whether they tell that nothing is seen through it."""
        return self.clear and self.share <= _THIN


@dataclass(frozen=True, eq=False)
class FoldReader:
    """Reads the folds of a picture's patches before one backing.

    Finds the share of the backing with which a patch's hue explains the most of its folds. With a share v of
    the backing B, the hue of a colour C is that of C - v B. What is left for the cloth is no darker than
    black, no brighter than white where it covers, and not of the backing's own hue.

    References
    ----------
    .. [1] Smith and Blinn, "Blue screen matting", SIGGRAPH 1996: what a figure's colours may be bounds its
       coverage.
    """

    axis: HueAxis
    """The backing's hue."""
    own: float
    """Share of it up to which a colour may have it of itself."""
    curve: Curve
    noise: float
    """Of the picture, codes (sigma)."""

    def __call__(self, light: Floats, back: Floats, here: Mask) -> Folds:
        """Read one patch.

        Parameters
        ----------
        light, back : ndarray of float32 (h, w, 3)
            A picture's light, averaged a little, and the backing's.
        here : ndarray of bool (h, w)
            The patch.
        """
        colour, behind = floats(light[here]), floats(back[here].mean(0))
        mean = floats(colour.mean(0))
        folds = colour - _around(light, here)
        squares = folds.T @ folds / len(colour)
        shares = _SHARES[:, None]
        rest = floats(mean - shares * behind)
        real = (rest >= -_BELOW * mean.max()).all(1)
        real &= (colour.max(0) - shares * behind <= (1 - shares) * _WHITE + _ABOVE).all(1)
        if float(self.axis.narrow(mean)) > self.own * float(self.axis.narrow(behind)):
            real &= self.axis.narrow(rest) <= 0
        hues = unit(np.maximum(rest, 0))
        along = np.where(real, np.einsum("vi,ij,vj->v", hues, squares, hues), 0)
        best = int(along.argmax())
        deep = np.sqrt(np.diag(squares)).max() > _DEEP * self.noise * self.curve.a_code(
            mean.max(keepdims=True)
        )
        clear = float(along[best] / max(np.linalg.norm(squares), 1e-9)) if deep else 0.0
        return Folds(float(_SHARES[best]), clear, len(colour))


def _around(light: Floats, here: Mask) -> Floats:
    """Return the mean light (n, 3) of a patch around each of its pixels, as far as a lamp's is the same."""
    weight, reach = floats(here), (_LAMP, _LAMP)
    total = cv2.blur(light * weight[..., None], reach)[here]
    return floats(total / np.maximum(cv2.blur(weight, reach)[here], 1e-3)[:, None])


def together(patches: Sequence[Folds]) -> Told:
    """Return what patches of one colour tell: the median by pixels, for an outline in one misleads it."""
    clear = sorted(patch for patch in patches if patch.clear > _CLEAR)
    pixels = np.cumsum([0, *(patch.pixels for patch in clear)])
    if pixels[-1] <= _MANY * sum(patch.pixels for patch in patches):
        return Told(0, 0, clear=False)
    least, middle = (clear[i].share for i in np.searchsorted(pixels[1:], (pixels[-1] / 4, pixels[-1] / 2)))
    return Told(middle, least, clear=True)


def unit(x: Floats) -> Floats:
    """Return vectors (..., 3) at length 1."""
    return floats(x / np.maximum(np.linalg.norm(x, axis=-1, keepdims=True), 1e-6))
