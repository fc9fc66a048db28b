"""Where the figure is solid: its inside is filled, and its own colour is carried out to its edge."""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Floats, Frame
from ghostprep.picture.key.enclosed import enclosed
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.keyed import as_bytes, floats

_OPEN = 0.82
"""Share of the backing from which a place counts as seen through to it."""
_EMPTY = 0.9
"""Share of the backing from which there is nothing before it, not even the softest hair."""
_SOLID = 0.15
"""Share of the backing up to which a place counts as opaque."""
_UNLIKE = 0.25
"""How far luma may lie from the plate's, as a share of it, where the backing is seen."""
_AWAY = (-0.6, 1.5)
"""Range of chroma over luma along the backing's hue that a figure's own colours have."""
_REACH = 7
"""Pixels of the small picture over which the figure's colours are carried beyond its edge (twice)."""
_LEAST_SPILL = 0.035
"""Share of the backing that may be spill even on cloth of its own hue: light comes back from all sides."""
_OWN = 6
"""How fast cloth is taken to have that hue itself: wholly from a sixth beyond what spill explains."""
_COARSE = 4
"""A hue has no detail: it is carried on a picture this much smaller still."""
_REACHES = ((5, 1.0), (15, 0.2), (41, 0.04))
"""Coarse pixels over which hues are carried, with the weight of each."""
_LITTLE = 0.01
"""Weight of the usual lean among those; chroma, in amounts."""
_CLEARLY, _MOST_LEAN = 0.4, 2.0
"""Key below 0, for chroma across, from which a colour leans away; and the most that is believed."""
_STRONG, _FAR = 1.1, 15
"""Key below 0, for chroma across, from which a colour is a strong one; and how far around, in coarse pixels,
it tells of its thin parts. Skin's own is 0.96 before green."""
_COLOURED = 2.0
"""Chroma across, in amounts, below which noise makes it."""
_LEFT, _ONE, _PART = 0.2, 0.25, 0.25
"""Least share of the backing that thin cloth lets through; how nearly the two shares make one whole; and the
part of the figure up to which it is believed."""
_NEAR = 0.1
"""Weight of solid parts near by at which their own colour and the lean count alike."""
_FADE = 0.2
"""Far from solid parts, the weight of taking a part for grey: hair has one near, a lone veil has not."""


class Small(NamedTuple):
    """The key's parts on a small picture; float32 (h, w) each."""

    key: Floats
    strict: Floats
    luma: Floats
    across: Floats


class Solid(NamedTuple):
    """What the small picture tells about the figure; float32 (h, w) each."""

    tint: Floats
    """Key over luma of the figure's own colours, carried on beyond its edge; 0 for greys."""
    lean: Floats
    turn: Floats
    """Where no solid part is near, the figure's key is taken as ``-(lean abs(across) + turn across)``."""
    kept: Floats
    """The part of it that lies along the backing's hue and is no spill: 0 but on cloth that looks like the
    backing."""
    hold: Floats
    """1 inside the figure, where the matte is full whatever the key says; 0 elsewhere."""
    spill: Floats
    """How much of the backing counts as spill there, at most; 0 elsewhere."""


class Open(NamedTuple):
    """Where the bare backing is seen."""

    bare: npt.NDArray[np.bool_]
    """(h, w): where it is seen through."""
    empty: npt.NDArray[np.bool_]
    """(h, w): where nothing at all is before it."""
    gain: float
    """How bright the backing is in this frame against its plate; 1 where too little of it is seen."""


def find_open(seen: Small, plate: Small) -> Open:
    """Find where a frame shows the bare backing; `plate` is the same of the backing alone, nowhere 0."""
    share = np.divide(seen.strict, plate.strict)
    lit = np.divide(seen.luma, plate.luma)
    np.abs(np.subtract(lit, 1, out=lit), out=lit)
    bare = (share > _OPEN) & (lit < _UNLIKE)
    gain = 1.0
    if cv2.countNonZero(bare.view(np.uint8)) >= 0.03 * bare.size:
        weight = bare.astype(np.float32)
        gain = float(np.clip(np.vdot(seen.key, weight) / np.vdot(plate.key, weight), 0.8, 1.25))
    return Open(bare, (share > _EMPTY * gain) & bare, gain)


def find_solid(seen: Small, plate: Small, bare: npt.NDArray[np.bool_], axis: HueAxis) -> Solid:
    """Find the figure's inside and its own colours.

    Parameters
    ----------
    seen : Small
        The frame: `strict` is a key that accepts only hues near the backing's.
    plate : Small
        The same of the bare backing; nowhere 0.
    bare : ndarray of bool (h, w)
        Where the backing is seen through.
    axis : HueAxis
    """
    spill = axis.spill
    solid = (seen.strict < _SOLID * plate.strict).view(np.uint8)
    if axis.sure > 0.5:
        solid ^= _thinned(seen, plate, as_bytes(solid), axis.skin)
    solid |= enclosed(bare, as_bytes(solid))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (3, 3))
    inner = cv2.erode(solid, disc, borderType=cv2.BORDER_REPLICATE).astype(np.float32)
    weight = np.maximum(cv2.blur(inner, (3, 3)), 1e-3)
    key = np.divide(cv2.blur(np.multiply(seen.key, inner), (3, 3)), weight)
    luma = np.divide(cv2.blur(np.multiply(seen.luma, inner), (3, 3)), weight)
    tint = np.divide(key, np.maximum(luma, 2, out=luma), out=luma)
    np.multiply(np.clip(tint, *_AWAY, out=tint), inner, out=tint)
    near, far = _near_and_far(floats(np.minimum(tint, 0))), _near_and_far(inner)
    support = far[0] + 0.2 * far[1]
    beyond = axis.sure * _NEAR / (support + _NEAR) * (1 - inner)
    carried = (near[0] + 0.2 * near[1]) / (support + 0.2 * _FADE)
    lean, turn = _leans(seen, inner, axis.usual)
    own = np.clip((key / (plate.key * spill) - 1) * _OWN, 0, 1)
    kept = cv2.blur(np.multiply(np.maximum(tint, 0, out=tint), own, out=tint), (3, 3))
    hold = cv2.blur(cv2.erode(inner, disc, borderType=cv2.BORDER_REPLICATE), (3, 3))
    most = hold * (2 * spill - (2 * spill - min(2 * spill, _LEAST_SPILL)) * own)
    return Solid(*(floats(x) for x in (carried, lean * beyond, turn * beyond, kept, hold, most)))


def _thinned(seen: Small, plate: Small, solid: Frame, side: int) -> Frame:
    """Return 1 where a strong colour that is solid near by is seen thinly, and so looks like another one.

    Thin red cloth before green looks like solid olive. It is the red one if its chroma across the backing's
    hue, as a share of the solid red's, and the backing's share that is left for it, make one whole. Cloth
    that covers much of the figure is believed to be what it looks like.
    """
    h, w = solid.shape
    key, across, inner = (floats(np.ascontiguousarray(x[::2, ::2])) for x in (seen.key, seen.across, solid))
    beside = np.maximum(across * side, 0)
    strong = inner * (key < -_STRONG * beside) * (beside > _COLOURED)
    if not strong.any():
        return as_bytes(np.zeros_like(solid))
    size = (max(w // _COARSE, 1), max(h // _COARSE, 1))
    weight, level, mass = (
        cv2.blur(cv2.resize(floats(x), size, interpolation=cv2.INTER_AREA), (_FAR, _FAR))
        for x in (strong * beside, strong * beside * beside, strong * -key)
    )
    # both are ratios to the chroma across; far from any strong colour they are 0
    share = np.maximum(weight, 1e-3)
    lean, full = (cv2.resize(x / share, (w, h), interpolation=cv2.INTER_LINEAR) for x in (mass, level))
    here = np.maximum(seen.across * side, 0)
    left = (seen.key + lean * here) / plate.key
    whole = left + here / np.maximum(full, 1)
    thin = ((left > _LEFT) & (np.abs(whole - 1) < _ONE) & (full > 1)).astype(np.uint8) & solid
    return as_bytes(thin if thin.sum() < _PART * solid.sum() else np.zeros_like(solid))


def _leans(seen: Small, inner: Floats, usual: tuple[float, float]) -> tuple[Floats, Floats]:
    """Return how far the figure's colours lean away from the backing's hue, for their chroma across it.

    The backing has no chroma across its own hue, so what a see-through place has is the figure's, however
    thin it is: it tells the side, and the nearest solid parts of that side tell the hue.
    """
    h, w = inner.shape
    # every second pixel is enough for a hue, which has no detail
    key, across, inner = (np.ascontiguousarray(x[::2, ::2]) for x in (seen.key, seen.across, inner))
    size = (max(w // _COARSE, 1), max(h // _COARSE, 1))
    # cloth of the backing's own side of grey says nothing about what leans away from it
    sure = inner * (key < -_CLEARLY * np.abs(across))
    low, found = np.negative(key, out=key), []
    for side, lean in zip((1, -1), usual, strict=True):
        weight = np.maximum(across * side, 0) * sure
        away = np.minimum(low, _MOST_LEAN * weight) * (weight > 0)
        mass, lot = (floats(cv2.resize(x, size, interpolation=cv2.INTER_AREA)) for x in (away, weight))
        above, below = np.full_like(mass, _LITTLE * lean), np.full_like(mass, _LITTLE)
        for reach, share in _REACHES:
            above += share * cv2.blur(mass, (reach, reach))
            below += share * cv2.blur(lot, (reach, reach))
        found.append(cv2.resize(floats(above / below), (w, h), interpolation=cv2.INTER_LINEAR))
    return floats((found[0] + found[1]) / 2), floats((found[0] - found[1]) / 2)


def _near_and_far(x: Floats) -> tuple[Floats, Floats]:
    wide = (_REACH, _REACH)
    return floats(cv2.blur(x, (3, 3))), floats(cv2.blur(cv2.blur(x, wide), wide))
