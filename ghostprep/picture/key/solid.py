"""Where the figure is solid: its inside is filled, and its own colour is carried out to its edge."""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.picture.key.islands import enclosed
from ghostprep.picture.key.keyed import Floats, as_bytes, floats

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
_FADE = 0.2
"""Weight of 'no colour of its own' where no solid part is near: hair is, a veil alone is not."""


class Small(NamedTuple):
    """The key's parts on a small picture; float32 (h, w) each."""

    key: Floats
    strict: Floats
    luma: Floats


class Solid(NamedTuple):
    """What the small picture tells about the figure; float32 (h, w) each.

    Attributes
    ----------
    tint : ndarray
        Key over luma of the figure's own colours, carried on beyond its edge; 0 for greys.
    kept : ndarray
        The part of it that lies along the backing's hue and is no spill: 0 but on cloth that
        looks like the backing.
    hold : ndarray
        1 inside the figure, where the matte is full whatever the key says; 0 elsewhere.
    """

    tint: Floats
    kept: Floats
    hold: Floats


class Open(NamedTuple):
    """Where the bare backing is seen.

    Attributes
    ----------
    bare : ndarray of bool (h, w)
        Where it is seen through.
    empty : ndarray of bool (h, w)
        Where nothing at all is before it.
    gain : float
        How bright the backing is in this frame against its plate; 1 where too little of it is seen.
    """

    bare: npt.NDArray[np.bool_]
    empty: npt.NDArray[np.bool_]
    gain: float


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


def find_solid(seen: Small, plate: Small, bare: npt.NDArray[np.bool_], spill: float) -> Solid:
    """Find the figure's inside and its own colours.

    Parameters
    ----------
    seen : Small
        The frame: `strict` is a key that accepts only hues near the backing's.
    plate : Small
        The same of the bare backing; nowhere 0.
    bare : ndarray of bool (h, w)
        Where the backing is seen through.
    spill : float
        Share of the backing up to which its hue inside the figure counts as spill; what is well
        above is the cloth's own colour.
    """
    solid = (seen.strict < _SOLID * plate.strict).view(np.uint8)
    solid |= enclosed(bare, as_bytes(solid))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (3, 3))
    inner = cv2.erode(solid, disc, borderType=cv2.BORDER_REPLICATE).astype(np.float32)
    weight = np.maximum(cv2.blur(inner, (3, 3)), 1e-3)
    key = np.divide(cv2.blur(np.multiply(seen.key, inner), (3, 3)), weight)
    luma = np.divide(cv2.blur(np.multiply(seen.luma, inner), (3, 3)), weight)
    tint = np.divide(key, np.maximum(luma, 2, out=luma), out=luma)
    np.multiply(np.clip(tint, *_AWAY, out=tint), inner, out=tint)
    near, far = _near_and_far(floats(np.minimum(tint, 0))), _near_and_far(inner)
    carried = (near[0] + 0.2 * near[1]) / (far[0] + 0.2 * far[1] + 0.2 * _FADE)
    np.multiply(np.maximum(tint, 0, out=tint), np.clip(key / (plate.key * spill) - 1, 0, 1), out=tint)
    kept = cv2.blur(tint, (3, 3))
    hold = cv2.blur(cv2.erode(inner, disc, borderType=cv2.BORDER_REPLICATE), (3, 3))
    return Solid(floats(carried), floats(kept), floats(hold))


def _near_and_far(x: Floats) -> tuple[Floats, Floats]:
    wide = (_REACH, _REACH)
    return floats(cv2.blur(x, (3, 3))), floats(cv2.blur(cv2.blur(x, wide), wide))
