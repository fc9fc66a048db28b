"""The figure's hues, and how much of the backing shows where a frame mixes one of them with it.

A pixel C holds light u of one hue h and a share v of the backing B: C = u h + v B. With the hue known, that
is three equations for two unknowns. What lights a cloth changes u, what is seen through it v; spill is a
small v. So one rule serves solid cloth, its edge, hair, veils, and the backing's light that lies on all.
"""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np

from ghostprep.arrays import Floats, Mask
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.keyed import floats

_OFF = 4.0
"""Codes (sigma) by which a mixture may lie off its plane, for coarse chroma, codecs, and a cloth's own tints."""
_BRIGHTER = 0.25
"""Logarithm (sigma) by which light may pass the brightest that its hue was seen in."""
_SEEN, _DARK = 12.0, 8.0
"""Codes off a hue up to which a place shows it, and amounts below which it shows none."""
_REACHES = ((3, 1.0), (9, 0.2), (25, 0.04))
"""Small pixels around a place that shows a hue in which it is expected, and how much."""
_ELSEWHERE = 0.002
"""How much it is expected where it is nowhere near."""
_MIXED = 0.5
_UNKNOWN = 1e-6
"""How much a colour that no glimpse showed is expected: three sigma from a hue that is not near."""


class Palette(NamedTuple):
    """The hues of which a figure is made."""

    hues: Floats
    """(k, 3): directions of their light, amounts of the mix; of length 1."""
    weight: Floats
    """(k,): how much of the figure each makes up; the sum is 1."""
    brightest: Floats
    """(k,): length of the brightest amounts seen of each."""
    through: Floats
    """(k,): share of the backing that shows where each was seen: 0 for solid cloth, more for a veil."""


class Scene(NamedTuple):
    """A picture and the backing alone, amounts (h, w, 3)."""

    light: Floats
    plate: Floats


def backing_share(
    half: Scene, small: Scene, empty: Mask, palette: Palette, axis: HueAxis, curve: Curve
) -> Floats:
    """Return the share of the backing in each place of a picture, 0..1.

    Parameters
    ----------
    half : Scene
        The picture whose share is asked for.
    small : Scene
        The same place at the same or a smaller size: it tells which hues are near.
    empty : ndarray of bool (h, w)
        Where the small picture shows the backing and nothing else.
    palette : Palette
    axis : HueAxis
        The backing's hue.
    curve : Curve

    Returns
    -------
    ndarray of float32 (h, w)
        Of the half picture: the mean of what each hue makes of a pixel, by how likely it is there.

    Notes
    -----
    With one hue, u and v are the least squares of C = u h + v B, u at least 0 and v in 0..1. Its weight is
    that of a Gaussian for what is left, times how much of it is near, times a Gaussian for light beyond the
    brightest. Colours that no hue explains have the share of the backing's own hue in them.

    References
    ----------
    .. [1] Aksoy, Aydin, Paris, Pollefeys, Smolic, "Unmixing-based soft color segmentation for image
       manipulation", ACM TOG 36(2), 2017: a pixel as a sum of colours, each of a distribution.
    """
    h, w = half.light.shape[:2]
    some = np.flatnonzero(_enlarged(cv2.dilate((~empty).astype(np.uint8), np.ones((3, 3))), (w, h)) > 0.01)
    light, plate = (x.reshape(-1, 3)[some] for x in half)
    code = floats(np.maximum(curve.a_code(light.max(1, initial=0)), 0.02))
    along, square, whole = (
        floats((a * b).sum(1)) for a, b in ((light, plate), (light, light), (plate, plate))
    )
    total = np.full(len(some), _UNKNOWN, np.float32)
    share = floats(_UNKNOWN * _by_hue(light, plate, axis))
    own_light = floats(light - (share/_UNKNOWN)[:,None]*plate) * np.float32(_UNKNOWN)
    for hue, near, brightest in zip(
        palette.hues, _near(small, empty, palette, curve), _pure(palette), strict=True
    ):
        own, common = light @ hue, plate @ hue
        through = np.clip((along - own * common) / np.maximum(whole - common * common, 1e-3), 0, 1)
        lit = np.maximum(own - through * common, 0)
        off = (
            square
            - 2 * (lit * own + through * along)
            + lit * (lit + 2 * through * common)
            + through**2 * whole
        )
        solid = np.exp(-0.5 * np.minimum((square - own * own) / (_OFF * code) ** 2, 60))
        off /= (_OFF * code) ** 2
        beyond = np.log(np.maximum(lit / np.maximum(1 - through, 0.03) / brightest, 1)) / _BRIGHTER
        there = _enlarged(near, (w, h)).reshape(-1)[some]
        odds = there * _MIXED * np.exp(-0.5 * np.minimum(off + beyond**2, 60))
        share += odds * through
        total += odds + there * solid
        own_light += (odds * lit + there * solid * own)[:, None] * hue
    out = np.ones(h * w, np.float32)
    out[some] = share / total
    whole_hue = np.zeros((h * w, 3), np.float32)
    whole_hue[some] = own_light / np.maximum(np.linalg.norm(own_light, axis=1, keepdims=True), 1e-9)
    return out.reshape(h, w), whole_hue.reshape(h, w, 3)


def _pure(palette: Palette) -> Floats:
    """Return the brightest amounts (k,) of each hue without the backing."""
    return floats(palette.brightest / np.maximum(1 - palette.through, 0.2))


def _by_hue(light: Floats, plate: Floats, axis: HueAxis) -> Floats:
    """Return the share (n,) of the backing's hue in amounts (n, 3)."""
    seen, full = (x @ axis.rows.T for x in (light, plate))
    key, whole = (x[:, 1] - axis.strict * np.abs(x[:, 2]) for x in (seen, full))
    return floats(np.clip(key / np.maximum(whole, 1), 0, 1))


def _near(small: Scene, empty: Mask, palette: Palette, curve: Curve) -> list[Floats]:
    """Return for each hue how much it is to be expected at each place (h, w) of the small picture."""
    code = np.maximum(curve.a_code(floats(small.light.max(-1))), 0.02)
    apart = []
    for hue, through in zip(palette.hues, palette.through, strict=True):
        light = small.light if through == 0 else floats(small.light - through * small.plate)
        own = np.maximum(light @ hue, 0)
        apart.append((light * light).sum(-1) - own * own)
    off = floats(np.stack(apart) / (code * code))
    shows = (off.min(0) < _SEEN**2) & ((small.light**2).sum(-1) > _DARK**2) & ~empty
    which, near = off.argmin(0), []
    for k, weight in enumerate(palette.weight):
        here = cv2.erode((shows & (which == k)).astype(np.uint8), np.ones((3, 3), np.uint8)).astype(
            np.float32
        )
        around = [cv2.blur(here, (reach, reach)) * np.float32(much) for reach, much in _REACHES]
        near.append(floats(sum(around) + np.float32(_ELSEWHERE * weight)))
    return near


def _enlarged(picture: cv2.typing.MatLike, size: tuple[int, int]) -> Floats:
    return floats(cv2.resize(floats(picture), size, interpolation=cv2.INTER_LINEAR))
