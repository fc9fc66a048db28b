"""Tell a camera's clip from a drawn one: whether light added up at the figure's edge, or codes.

With figure colour F and backing B next to an edge, a pixel across it is a F + t B, whatever
its coverage and its spill: it lies in the plane through black, F and B. Mixed in light, it
leaves that plane among codes by an amount that can be worked out; mixed in codes, it does not.
"""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np

from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.keyed import Bytes, Floats, as_bytes, floats
from ghostprep.transfer import from_linear

_NEAR, _ALIKE = 15, 0.99
_WIDE = 11
"""Pixels from which what lies between figure and backing is no edge."""
_ASTRAY = -0.5
"""Codes lean 0 and light 1. What leans as far the other way as half of that speaks of something else: a
lamp's glow, cloth that is seen through. Clips of the bench lean -0.1 to 0.35 and 0.35 to 1.4."""
_LIGHT = Curve(linear=True)


class Mix(NamedTuple):
    """How figure and backing were mixed.

    Attributes
    ----------
    linear : bool
        In light, as in a camera.
    lean : float
        What the edges say: about 0 for codes, about 1 for light; 0.5 if they say nothing.
    """

    linear: bool
    lean: float


def guess_mix(frames: Bytes, plate: Floats, noise: float) -> Mix:
    """Guess the mix from edges, and from noise and evenness of the backing where edges say little.

    Parameters
    ----------
    frames : ndarray of uint8 (n, h, w, 3)
    plate : ndarray of float32 (h, w, 3)
        R'G'B' codes, of the same size.
    noise : float
        Sigma of the frames around the plate, codes.
    """
    drawn = noise < 1.2 and float(plate.std((0, 1)).max()) < 2
    axis = HueAxis.of(plate.mean((0, 1)))
    pairs = [_off_plane(frame, plate, axis) for frame in frames]
    seen, wanted = (np.concatenate([p[i] for p in pairs]) for i in (0, 1))
    power = float((wanted**2).mean()) if len(wanted) else 0.0
    if len(wanted) < 100 or power < 1.4**2:
        return Mix(not drawn, 0.5)
    lean = float((seen * wanted).sum() / (wanted**2).sum())
    if lean < _ASTRAY:
        return Mix(not drawn, lean)
    return Mix(lean > (0.5 if drawn else 0.22), lean)


def _off_plane(frame: Bytes, plate: Floats, axis: HueAxis) -> tuple[Floats, Floats]:
    """Return how far edge pixels lie off the plane of their neighbours, and how far light would put them."""
    none = floats([]), floats([])
    rows = axis.rows
    turned, bare = cv2.transform(frame.astype(np.float32), rows), cv2.transform(plate, rows)
    full = np.maximum(bare[..., 1] - axis.slope * np.abs(bare[..., 2]), 1)
    share = (turned[..., 1] - axis.slope * np.abs(turned[..., 2])) / full
    strict = (turned[..., 1] - axis.strict * np.abs(turned[..., 2])) / full
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5))
    solid = cv2.erode((cv2.blur(strict, (3, 3)) < 0.12).astype(np.uint8), disc).astype(np.float32)
    backing = (cv2.blur(share, (3, 3)) > 0.9).astype(np.uint8)
    weight = cv2.blur(solid, (_NEAR, _NEAR))
    between = ((solid == 0) & (backing == 0)).astype(np.uint8)
    # an edge is narrow: where figure and backing mix over an area, it is cloth of another colour
    area = cv2.morphologyEx(between, cv2.MORPH_OPEN, np.ones((_WIDE, _WIDE), np.uint8))
    rim = (between > cv2.dilate(area, np.ones((5, 5), np.uint8))) & (weight > 0.03)
    rim &= cv2.dilate(backing, np.ones((9, 9), np.uint8)) > 0
    if not rim.any():
        return none
    light = _LIGHT.amounts(frame)
    near = cv2.blur(light * solid[..., None], (_NEAR, _NEAR))[rim] / weight[rim][:, None]
    # where different colours meet there is no one colour of the figure
    unit = cv2.blur(
        light / np.maximum(np.linalg.norm(light, axis=-1), 1)[..., None] * solid[..., None], (_NEAR, _NEAR)
    )
    alike = np.linalg.norm(unit[rim], axis=1) > _ALIKE * weight[rim]
    behind = _LIGHT.amounts(as_bytes(np.clip(plate, 0, 255).astype(np.uint8)))[rim]
    a, t, mixed = _in_plane(light[rim], floats(near), behind)
    near_codes, behind_codes = _codes(floats(near)), plate[rim]
    normal = np.cross(near_codes, behind_codes)
    length = np.linalg.norm(normal, axis=1)
    sizes = np.linalg.norm(near_codes, axis=1) * np.linalg.norm(behind_codes, axis=1)
    usable = alike & (a > 0.15) & (a < 0.85) & (t > 0.15) & (t < 1) & (length > 0.14 * sizes) & (length > 1)
    normal = normal[usable] / length[usable][:, None]
    seen = (normal * frame[rim][usable]).sum(1)
    return floats(seen), floats((normal * _codes(mixed[usable])).sum(1))


def _codes(light: Floats) -> Floats:
    return from_linear(light / 255) * np.float32(255)


def _in_plane(c: Floats, f: Floats, b: Floats) -> tuple[Floats, Floats, Floats]:
    """Return a, t and a f + t b that come nearest to c; each row is one pixel."""
    ff, bb, fb = (f * f).sum(1), (b * b).sum(1), (f * b).sum(1)
    cf, cb = (c * f).sum(1), (c * b).sum(1)
    det = ff * bb - fb * fb + 1e-6
    a, t = (cf * bb - cb * fb) / det, (cb * ff - cf * fb) / det
    return floats(a), floats(t), floats(a[:, None] * f + t[:, None] * b)
