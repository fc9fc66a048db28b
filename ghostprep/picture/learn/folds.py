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
from ghostprep.picture.key.curve import WHITE, Curve
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.keyed import floats

_SHARES = np.arange(-10, 48) / 50
"""Shares of the backing that are tried; noise takes those of solid cloth to both sides of none. What is
all backing is an edge."""
_LAMP = 81
"""Pixels over which light that a lamp adds to a cloth stays the same; folds are smaller."""
_OTHER = 0.1
"""Share of a patch's folds that are expected to be of another hue: a lamp's light, coarse chroma."""
_LEFT, _ROUNDED = 0.5, 0.5
"""Noise that averaging leaves, for codecs smear it, as a share of the picture's; and in codes, however clean
the picture is."""
_BETTER = 0.05
"""Log likelihood of a pixel by which one answer must explain folds better than the other."""
_MOTLEY = 0.7
"""Log likelihood of a pixel by which none of the backing may explain a veil's folds better than half of it.
Else it is solid cloth of several hues, as in photographs, whose folds fit some other share by chance."""
_CLEAR = 1.2
"""Log likelihood of a pixel from which a patch tells anything: a hue explains four fifths of its folds."""
_BELOW, _ABOVE = 0.02, 1.0
"""Light below none, as a share of a colour's, and above white, that noise may leave."""


class Folds(NamedTuple):
    """What the folds of one patch tell."""

    likely: Floats
    """(n,): log likelihood of a pixel for each of the shares that are tried."""
    pixels: int


class Told(NamedTuple):
    """What the folds of a colour's patches tell together."""

    share: float
    """Of the backing that is seen through it, the likeliest."""
    veil: float
    """Log likelihood of a pixel by which it explains them better than none of the backing does."""
    solid: float
    """By how much none of it explains them better than half of it does."""

    @property
    def tell_a_veil(self) -> bool:
        """Whether they tell thin cloth."""
        return self.share > 0 and self.veil > _BETTER and not self.are_surely_solid

    @property
    def are_surely_solid(self) -> bool:
        """Whether nothing but solid cloth has such folds."""
        return self.solid >= _MOTLEY

    @property
    def tell_solid(self) -> bool:
        """Whether they tell that nothing is seen through it."""
        return not self.tell_a_veil and self.solid > _BETTER


@dataclass(frozen=True, eq=False)
class FoldReader:
    """Reads the folds of a picture's patches before one backing.

    Weighs each share of the backing by how much of a patch's folds it explains. With a share v of
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

    def __call__(self, light: Floats, back: Floats, fine: Floats, here: Mask) -> Folds:
        """Read one patch.

        Parameters
        ----------
        light, back : ndarray of float32 (h, w, 3)
            A picture's light, averaged a little, and the backing's.
        fine : ndarray of float32 (h, w)
            How much detail there is that is finer than folds: hair over a cloth has its own hue.
        here : ndarray of bool (h, w)
            The patch.
        """
        calm = here & (fine <= np.median(fine[here]))
        colour, behind = floats(light[calm]), floats(back[calm].mean(0))
        mean = floats(colour.mean(0))
        folds = colour - _around(light, calm)
        squares = folds.T @ folds / len(colour)
        shares = _SHARES[:, None]
        rest = floats(mean - shares * behind)
        real = (rest >= -_BELOW * mean.max()).all(1)
        real &= (colour.max(0) - shares * behind <= (1 - shares) * WHITE + _ABOVE).all(1)
        if float(self.axis.narrow(mean)) > self.own * float(self.axis.narrow(behind)):
            real &= self.axis.narrow(rest) <= 0
        hues = unit(np.maximum(rest, 0))
        along = np.where(real, np.einsum("vi,ij,vj->v", hues, squares, hues), 0)
        noise = max(_LEFT * self.noise, _ROUNDED) * float(self.curve.a_code(mean.max(keepdims=True))[0])
        explained = along / (np.trace(squares) + noise * noise)
        return Folds(floats(-np.log(1 + _OTHER - explained)), int(np.count_nonzero(here)))


def _around(light: Floats, here: Mask) -> Floats:
    """Return the mean light (n, 3) of a patch around each of its pixels, as far as a lamp's is the same."""
    weight, reach = floats(here), (_LAMP, _LAMP)
    total = cv2.blur(light * weight[..., None], reach)[here]
    return floats(total / np.maximum(cv2.blur(weight, reach)[here], 1e-3)[:, None])


def together(patches: Sequence[Folds]) -> Told:
    """Return what patches of one colour tell, each as much as it has pixels."""
    clear = [patch for patch in patches if patch.likely.max() > _CLEAR]
    if not clear:
        return Told(0, 0, 0)
    likely, pixels = zip(*clear, strict=True)
    mean = np.average(likely, axis=0, weights=pixels)
    none, half = mean[np.searchsorted(_SHARES, (0, 0.5))]
    return Told(float(_SHARES[mean.argmax()]), float(mean.max() - none), float(none - half))


def unit(x: Floats) -> Floats:
    """Return vectors (..., 3) at length 1."""
    return floats(x / np.maximum(np.linalg.norm(x, axis=-1, keepdims=True), 1e-6))
