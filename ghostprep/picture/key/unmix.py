"""How much of the backing shows where a frame mixes one of the figure's hues with it.

A pixel C holds light u of one hue h and a share v of the backing B: C = u h + v B. With the hue known, that
is three equations for two unknowns. What lights a cloth changes u, what is seen through it v; spill is a
small v. So one rule serves solid cloth, its edge, hair, veils, and the backing's light that lies on all.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Floats, Mask
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.keyed import floats, pixels_at, put_pixels
from ghostprep.picture.key.palette import LEAST_COVER, AgainstPlate, Palette

_OFF = 4.0
"""Codes (sigma) by which a mixture may lie off its plane: coarse chroma, codecs, a cloth's own tints."""
_BRIGHTER = 0.25
"""Logarithm (sigma) by which light may pass the brightest that its hue was seen in."""
_UNKNOWN = 1e-3
"""How much a colour that no glimpse showed is expected where all that they showed is 1."""
_AROUND = np.ones((3, 3), np.uint8)
_EVEN = 0.1
"""Difference of the share among neighbours up to which a larger picture has no more to tell there."""
_AT_ONCE = 240_000
"""Pixels times hues that are worked on together: few enough to stay in a processor's cache, and enough that
threads work side by side. A step that takes less than they need to wake up only keeps them waiting."""


class Unmixed(NamedTuple):
    """What each place of a picture consists of."""

    share: Floats
    """(h, w): of the backing, 0..1."""
    hue: Floats
    """(h, w, 3): direction of the light that the figure has there; 0 where there is nothing but backing."""


@dataclass(frozen=True, eq=False)
class Unmixer:
    """Parts pictures into figure and backing.

    With one hue, u and v are the least squares of C = u h + v B, u at least 0 and v in 0..1. Its weight is
    that of a Gaussian for what is left, times how much of the figure is of that hue, times a Gaussian for
    light beyond the brightest. Solid cloth, v = 0, is one answer of its own. Colours that no hue explains
    have the share of the backing's own hue in them. The share is the mean of all answers by their weight.

    References
    ----------
    .. [1] Aksoy, Aydin, Paris, Pollefeys, Smolic, "Unmixing-based soft color segmentation for image
       manipulation", ACM TOG 36(2), 2017: a pixel as a sum of colours, each of a distribution.
    """

    palette: Palette
    axis: HueAxis
    """The backing's hue."""
    curve: Curve

    def __call__(self, picture: AgainstPlate, small: AgainstPlate, empty: Mask) -> Unmixed:
        """Part one picture.

        Parameters
        ----------
        picture : AgainstPlate
        small : AgainstPlate
            The same place, smaller by a power of 2 or not: it tells all where it is even. From size to size
            only what is uneven is parted anew.
        empty : ndarray of bool (h, w)
            Where the small picture shows the backing and nothing else.
        """
        around = cv2.dilate((~empty).view(np.uint8), _AROUND)
        h, w = around.shape
        found = Unmixed(np.ones((h, w), np.float32), np.zeros((h, w, 3), np.float32))
        self._part(small, np.flatnonzero(around), found)
        while h < len(picture.light):
            h, w = 2 * h, 2 * w
            spread = cv2.dilate(found.share, _AROUND) - cv2.erode(found.share, _AROUND)
            uneven = cv2.resize((spread > _EVEN).view(np.uint8), (w, h), interpolation=cv2.INTER_NEAREST)
            found = Unmixed(*(_resized(x, (w, h), cv2.INTER_LINEAR) for x in found))
            larger = AgainstPlate(*(_resized(x, (w, h), cv2.INTER_AREA) for x in picture))
            self._part(larger, np.flatnonzero(uneven), found)
        return found

    def _part(self, picture: AgainstPlate, places: npt.NDArray[np.intp], found: Unmixed) -> None:
        """Part a picture at some of its places, into `found`."""
        step = _AT_ONCE // len(self.palette.hues)
        for first in range(0, len(places), step):
            at = places[first : first + step]
            light, plate = (pixels_at(x, at) for x in picture)
            found.share.reshape(-1)[at], hue = self._mean(light, plate)
            put_pixels(found.hue, at, hue)

    def _mean(self, light: Floats, plate: Floats) -> tuple[Floats, Floats]:
        """Return share (n,) and hue (3, n) of amounts (3, n)."""
        hues, adds = self.palette.hues, self.palette.through == 1
        along, square, whole = (
            np.einsum("cn,cn->n", a, b) for a, b in ((light, plate), (light, light), (plate, plate))
        )
        own, common = hues @ light, hues @ plate
        # products of what lies across the hue: of the light, of light and backing, of the backing
        off, both, back = square - own * own, along - own * common, whole - common * common
        through = np.clip(both / np.clip(back, 1e-3, np.inf), 0, 1)
        through[adds] = 1
        left = own - through * common
        lit = np.clip(left, 0, np.inf)
        dark = left - lit
        rest = off - through * (2 * both - through * back) + dark * dark
        # what adds light covers nothing
        most = np.clip(1 - through, LEAST_COVER, 1) * self.palette.whole[:, None]
        beyond = cv2.log(np.clip(lit / most, 1, np.inf))
        per = -0.5 / (_OFF * self.curve.a_code_in(light.T)) ** 2
        mixed = self.palette.thin[:, None] * _exp(rest * per - 0.5 / _BRIGHTER**2 * (beyond * beyond))
        # nor is it anywhere brighter than it was seen: a flame is a body
        mixed[adds] *= beyond[adds] < _BRIGHTER
        solid = self.palette.solid[:, None] * _exp(off * per)
        of_its_hue = self.axis.narrow(light.T) / np.maximum(self.axis.narrow(plate.T), 1)
        by_hue = _UNKNOWN * np.clip(of_its_hue, 0, 1)
        total = _UNKNOWN + (mixed + solid).sum(0)
        share = (by_hue + np.einsum("kn,kn->n", mixed, through)) / total
        own_light = _UNKNOWN * light - by_hue * plate + hues.T @ (mixed * lit + solid * own)
        return share, own_light / np.maximum(np.linalg.norm(own_light, axis=0), 1e-9)


def _exp(power: Floats) -> Floats:
    """Return e to powers up to 0; those below -60 count as that, for subnormal numbers are slow."""
    return floats(cv2.exp(np.clip(power, -60, 0)))


def _resized(picture: Floats, size: tuple[int, int], how: int) -> Floats:
    if picture.shape[1::-1] == size:
        return picture
    return floats(cv2.resize(picture, size, interpolation=how))
