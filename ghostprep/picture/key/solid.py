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
    gain : float
        How bright the backing is in this frame against its plate; 1 where too little of it is seen.
    open_ : ndarray of bool
        Where the bare backing is seen.
    """

    tint: Floats
    kept: Floats
    hold: Floats
    gain: float
    open_: npt.NDArray[np.bool_]


def find_solid(seen: Small, plate: Small, spill: float) -> Solid:
    """Find the figure's inside and its own colours.

    Parameters
    ----------
    seen : Small
        The frame: `strict` is a key that accepts only hues near the backing's.
    plate : Small
        The same of the bare backing; nowhere 0.
    spill : float
        Share of the backing up to which its hue inside the figure counts as spill; what is well
        above is the cloth's own colour.
    """
    share = seen.strict / plate.strict
    open_ = (share > _OPEN) & (np.abs(seen.luma - plate.luma) < _UNLIKE * plate.luma)
    solid = (share < _SOLID).astype(np.uint8)
    solid |= enclosed(open_, as_bytes(solid))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (3, 3))
    inner = cv2.erode(solid, disc, borderType=cv2.BORDER_REPLICATE).astype(np.float32)
    weight = np.maximum(cv2.blur(inner, (3, 3)), 1e-3)
    key = cv2.blur(seen.key * inner, (3, 3)) / weight
    luma = cv2.blur(seen.luma * inner, (3, 3)) / weight
    tint = key / np.maximum(luma, 2)
    tinted = np.clip(key / plate.key / spill - 1, 0, 1)
    tint = np.clip(np.where(key > 0, tint * tinted, tint), *_AWAY) * inner
    away = np.minimum(tint, 0)
    near, far = _near_and_far(floats(away)), _near_and_far(inner)
    carried = (near[0] + 0.2 * near[1]) / (far[0] + 0.2 * far[1] + 0.2 * _FADE)
    kept = cv2.blur(np.maximum(tint, 0), (3, 3))
    hold = cv2.blur(cv2.erode(inner, disc, borderType=cv2.BORDER_REPLICATE), (3, 3))
    return Solid(floats(carried), floats(kept), floats(hold), _gain(seen, plate, open_), open_)


def _gain(seen: Small, plate: Small, open_: npt.NDArray[np.bool_]) -> float:
    if open_.mean() < 0.03:
        return 1.0
    return float(np.clip(seen.key[open_].sum() / plate.key[open_].sum(), 0.8, 1.25))


def _near_and_far(x: Floats) -> tuple[Floats, Floats]:
    wide = (_REACH, _REACH)
    return floats(cv2.blur(x, (3, 3))), floats(cv2.blur(cv2.blur(x, wide), wide))
