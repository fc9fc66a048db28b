"""The level of the black behind a figure, and of its noise, from glimpses."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import cv2
import numpy as np

from ghostprep.box import small_size
from ghostprep.channels import largest_channel
from ghostprep.picture.key.backing import Backing
from ghostprep.picture.key.black import local_light, toe_of
from ghostprep.picture.key.key import Key
from ghostprep.picture.key.keyed import Bytes, Floats, floats
from ghostprep.picture.learn.figure import with_figure_remarks
from ghostprep.picture.learn.remarks import on_backing

_CELL, _SAMPLES = 8, 320
"""Side of the cells whose middle value is taken; longer side of what is picked from a frame, pixels."""
_LOW, _LOWEST = 20, 5
"""Percentile over time, and along the picture's border, that is taken for the black."""
_BAND, _ROUNDING = 0.5, 1.0
"""How far a slow slope may take the black from its level, as a share of it, or codes where that is more."""
_SEEN, _STEEP = 38, 0.77
"""Codes from which an outline is looked at, and the share of its height that a body's outline climbs at once.
The lower quarter of a drawn body's outlines climbs 0.85 and more, of smoke and mist up to 0.69."""
_MOST = 0.6
"""Share of the picture that must be black for a slope to be told from a figure's steady light."""


def black_key(frames: Bytes, backing: Backing) -> Key:
    """Return the key on black of glimpses (n, h, w, 3)."""
    black = find_black(frames)
    backing = replace(backing, coverage=black.coverage)
    key = Key(backing, black.level, toe=black.toe, hides=black.hides, remarks=tuple(on_backing(backing)))
    return with_figure_remarks(key, frames)


class Black(NamedTuple):
    """What was learned of the black.

    Attributes
    ----------
    level : ndarray of float32 (h, w, 3)
        R'G'B' codes.
    toe, hides : float, bool
        As in `BlackKeyer`.
    coverage : float
        Share of all pixels that show it.
    """

    level: Floats
    toe: float
    hides: bool
    coverage: float


def find_black(frames: Bytes) -> Black:
    """Find the black of glimpses (n, h, w, 3).

    It is the low level along the picture's border, without the lower side, where black cloth may stand;
    if most of the picture lies close to it, a plane through that.
    """
    h, w = frames.shape[1:3]
    cells = _cells(frames)
    low = floats(np.percentile(cells, _LOW, axis=0))
    border = np.concatenate([low[0], low[:, 0], low[:, -1]])
    base = np.percentile(border, _LOWEST, axis=0)
    plane = np.broadcast_to(floats(base), low.shape)
    band = np.maximum(_BAND * base, _ROUNDING)
    near = (np.abs(low - plane) <= band).all(-1)
    if near.mean() > _MOST:
        yy, xx = np.mgrid[: low.shape[0], : low.shape[1]] / np.array(low.shape[:2]).reshape(2, 1, 1) - 0.5
        terms = np.stack([np.ones_like(xx), xx, yy], -1)
        fit = terms @ np.linalg.lstsq(terms[near], low[near], rcond=None)[0]
        plane = floats(np.clip(fit, base - band, base + band))
    # a black of 0 under noise and a coder comes out as 1
    plane = np.where(plane <= _ROUNDING, 0, plane)
    bare = np.asarray((cells <= plane + _ROUNDING).all(-1), np.bool_)
    level = floats(cv2.resize(floats(plane), (w, h), interpolation=cv2.INTER_LINEAR))
    lights = [local_light(floats(f - level)) for f in frames]
    masks = [cv2.resize(b.astype(np.uint8), lights[0].shape[::-1]) > 0 for b in bare]
    known = np.concatenate([light[mask] for light, mask in zip(lights, masks, strict=True)])
    toe = toe_of(known if known.size else np.zeros(1, np.float32))
    return Black(level, toe, is_body(frames, level), float(bare.mean()))


def is_body(frames: Bytes, level: Floats) -> bool:
    """Tell whether what lies before the black is a body, with an outline, or light, which fades out.

    Where black and light lie side by side, a body's whole height is climbed within two pixels.
    """
    size = small_size((frames.shape[2], frames.shape[1]), _SAMPLES)
    base = cv2.resize(level, size, interpolation=cv2.INTER_AREA)
    near, beside = np.ones((9, 9), np.uint8), np.ones((3, 3), np.uint8)
    climbs = []
    for frame in frames[::4]:
        small = cv2.resize(frame, size, interpolation=cv2.INTER_AREA)
        light = largest_channel(floats(np.maximum(cv2.subtract(small, base, dtype=cv2.CV_32F), 0)))
        height = cv2.dilate(light, near)
        climb = cv2.dilate(cv2.morphologyEx(light, cv2.MORPH_GRADIENT, beside), near)
        outline = (height > _SEEN) & (cv2.erode(light, near) < 0.1 * height)
        climbs.append(climb[outline] / height[outline])
    climbed = np.concatenate(climbs)
    return bool(climbed.size and np.percentile(climbed, 25) > _STEEP)


def _cells(frames: Bytes) -> Floats:
    """Return the middle value of each cell of each frame (n, rows, columns, 3).

    Noise that black cuts off lifts the mean, but not the middle value.
    """
    step = max(max(frames.shape[1:3]) // _SAMPLES, 1)
    some = frames[:, ::step, ::step]
    n, h, w = some.shape[:3]
    side = min(_CELL, h, w)
    some = some[:, : h // side * side, : w // side * side]
    split = some.reshape(n, h // side, side, w // side, side, 3).transpose(0, 1, 3, 5, 2, 4)
    return floats(np.median(split.reshape(*split.shape[:4], -1), axis=-1))
