"""The figure's hues, and how much of the backing shows where a frame mixes one of them with it.

A pixel C holds light u of one hue h and a share v of the backing B: C = u h + v B. With the hue known, that
is three equations for two unknowns. What lights a cloth changes u, what is seen through it v; spill is a
small v. So one rule serves solid cloth, its edge, hair, veils, and the backing's light that lies on all.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import cv2
import numpy as np

from ghostprep.arrays import Floats, Mask
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.keyed import floats

_OFF = 4.0
"""Codes (sigma) by which a mixture may lie off its plane: coarse chroma, codecs, a cloth's own tints."""
_BRIGHTER = 0.25
"""Logarithm (sigma) by which light may pass the brightest that its hue was seen in."""
_MIXED = 0.5
"""How much a mixture is expected where solid cloth is 1."""
_SEEN = 12.0
"""Codes off a hue up to which a place shows it."""
DARK = 8.0
"""Amounts below which light has no hue that could be told."""
_REACHES = ((3, 1.0), (9, 0.2), (25, 0.04))
"""Small pixels around a place that shows a hue in which it is expected, and how much."""
_ELSEWHERE = 0.002
"""How much it is expected where it is nowhere near."""
_UNKNOWN = 1e-7
"""How much a colour that no glimpse showed is expected: as one four sigma off a hue that is not near."""


class Palette(NamedTuple):
    """The hues of which a figure is made."""

    hues: Floats
    """(k, 3): directions of their light, amounts of the mix; of length 1."""
    weight: Floats
    """(k,): how much of the figure each makes up, its sum 1; and the glow of a lamp beside it."""
    brightest: Floats
    """(k,): length of the brightest amounts seen of each."""
    through: Floats
    """(k,): share of the backing that shows where each was seen: 0 for solid cloth, more for a veil, 1 for a
    lamp's glow, which hides nothing."""


class AgainstPlate(NamedTuple):
    """A picture and the backing alone, amounts (h, w, 3)."""

    light: Floats
    plate: Floats


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
    that of a Gaussian for what is left, times how much of it is near, times a Gaussian for light beyond the
    brightest. Solid cloth, v = 0, is one answer of its own. Colours that no hue explains have the share
    of the backing's own hue in them. The share is the mean of all answers by their weight.

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
            The same place at the same or a smaller size: it tells which hues are near.
        empty : ndarray of bool (h, w)
            Where the small picture shows the backing and nothing else.
        """
        h, w = picture.light.shape[:2]
        around = cv2.dilate((~empty).astype(np.uint8), np.ones((3, 3), np.uint8))
        some = np.flatnonzero(_enlarged(around, (w, h)) > 0)
        light, plate = (x.reshape(-1, 3).take(some, 0) for x in picture)
        along, square, whole = (
            np.einsum("ij,ij->i", a, b) for a, b in ((light, plate), (light, light), (plate, plate))
        )
        per = 1 / (_OFF * self.curve.a_code_in(light)) ** 2
        total = np.full(len(some), _UNKNOWN, np.float32)
        share = floats(_UNKNOWN * self._by_hue(light, plate))
        # channels first: numpy takes ten times as long along a short last axis
        own_light = floats(_UNKNOWN * light - share[:, None] * plate).T.copy()
        near = self._near(small, empty)
        for hue, _, brightest, seen, expected in zip(*self.palette, near, strict=True):
            here, adds = _enlarged(expected, (w, h)).take(some), bool(seen == 1)
            own, common = light @ hue, plate @ hue
            solid = here * _gauss((square - own * own) * per) * (not adds)
            through = np.clip(
                (along - own * common) / np.maximum(whole - common * common, 1e-3), float(adds), 1
            )
            lit = np.maximum(own - through * common, 0)
            off = square + lit * (lit - 2 * own) + through * (through * whole + 2 * (lit * common - along))
            cover = 1 if adds else np.maximum(1 - through, 0.03) / max(1 - seen, 0.2)
            beyond = np.log(np.maximum(lit / cover / brightest, 1)) / _BRIGHTER
            mixed = here * np.float32(_MIXED) * _gauss(off * per + beyond * beyond)
            share += mixed * through
            total += mixed + solid
            own_light += hue[:, None] * (mixed * lit + solid * own)
        length = np.maximum(np.linalg.norm(own_light, axis=0), 1e-9)
        out, hues = np.ones(h * w, np.float32), np.zeros((h * w, 3), np.float32)
        out[some], hues[some] = share / total, (own_light / length).T
        return Unmixed(out.reshape(h, w), hues.reshape(h, w, 3))

    def _by_hue(self, light: Floats, plate: Floats) -> Floats:
        """Return the share (n,) of the backing's hue in amounts (n, 3)."""
        return floats(np.clip(self.axis.narrow(light) / np.maximum(self.axis.narrow(plate), 1), 0, 1))

    def _near(self, small: AgainstPlate, empty: Mask) -> list[Floats]:
        """Return for each hue how much it is to be expected at each place (h, w) of the small picture."""
        light = small.light
        square = np.einsum("ijk,ijk->ij", light, light)
        apart = []
        for hue, through in zip(self.palette.hues, self.palette.through, strict=True):
            rest = light if through == 0 else floats(light - through * small.plate)
            own = np.maximum(rest @ hue, 0)
            apart.append((square if through == 0 else np.einsum("ijk,ijk->ij", rest, rest)) - own * own)
        off = floats(np.stack(apart) / self.curve.a_code_in(light) ** 2)
        least = off.min(0)
        shows = (least < _SEEN**2) & (square > DARK**2) & ~empty
        near = []
        for away, weight in zip(off, self.palette.weight, strict=True):
            here = shows & (away == least)
            shows &= ~here  # of two that are as near, the first
            seen = floats(cv2.erode(here.view(np.uint8), np.ones((3, 3), np.uint8)))
            around = np.full_like(seen, _ELSEWHERE * weight)
            for reach, much in _REACHES:
                cv2.scaleAdd(cv2.blur(seen, (reach, reach)), much, around, dst=around)
            near.append(around)
        return near


def _gauss(square: Floats) -> Floats:
    """Return the bell of a distance squared, in sigmas."""
    return floats(np.exp(np.float32(-0.5) * square))


def _enlarged(picture: cv2.typing.MatLike, size: tuple[int, int]) -> Floats:
    return floats(cv2.resize(floats(picture), size, interpolation=cv2.INTER_LINEAR))
