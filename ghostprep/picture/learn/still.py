"""A plate found in the clip itself: what each pixel shows most of the time, if the camera stood still."""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np

from ghostprep.arrays import Floats
from ghostprep.channels import largest_channel
from ghostprep.picture.key.keyed import Bytes, as_bytes, floats

_TOLERANCE = 12
"""Codes within which two moments of a pixel count as the same thing."""


class StillPlate(NamedTuple):
    """What stands still in a clip.

    Attributes
    ----------
    plate : ndarray of float32 (h, w, 3)
        R'G'B' codes.
    noise : ndarray of float32 (h, w)
        Sigma of the frames around it, codes.
    seen : ndarray of float32 (h, w)
        Share of the frames that show it.
    """

    plate: Floats
    noise: Floats
    seen: Floats


def find_still(frames: Bytes, given: Floats | None = None) -> StillPlate:
    """Find the commonest look of every pixel.

    Parameters
    ----------
    frames : ndarray of uint8 (n, h, w, 3)
        Glimpses over the whole clip.
    given : ndarray of float32 (h, w, 3), optional
        A picture of the backing alone. It decides what is backing; where the clip shows that too,
        the clip's own look is taken, since it has the clip's light and coding.
    """
    if given is None:
        given = _commonest(frames)
    mass = np.zeros(given.shape, np.float32)
    seen = np.zeros(given.shape[:2], np.float32)
    reference = given
    apart = [largest_channel(floats(cv2.absdiff(f.astype(np.float32), reference))) for f in frames]
    same = [_same(a, _TOLERANCE * 2) for a in apart]
    for frame, mask in zip(frames, same, strict=True):
        mass += frame * mask[..., None]
        seen += mask
    known = seen >= 3
    plate = np.where(known[..., None], mass / np.maximum(seen, 1)[..., None], given)
    spread = np.zeros_like(seen)
    for frame, mask in zip(frames, same, strict=True):
        spread += ((frame - plate) ** 2).mean(-1) * mask
    edges = np.abs(cv2.Laplacian(floats(plate.mean(-1)), cv2.CV_32F, ksize=3)) * 0.1
    noise = np.where(known, np.sqrt(spread / np.maximum(seen - 1, 1)), 3 + edges)
    noise = np.sqrt(cv2.blur(noise**2, (5, 5)))
    return StillPlate(floats(plate), floats(np.clip(noise, 0.7, 20)), floats(seen / len(frames)))


def stays_in_place(seen: Floats) -> float:
    """Return how much of what moves never makes room for what is behind it, 0..1.

    A figure that walks through leaves every place again. One that sways on the spot moves at its
    outline, where nothing is seen twice; what stands still within is the figure itself.

    Parameters
    ----------
    seen : ndarray of float32 (h, w)
        Share of the frames that show each pixel's commonest look.
    """
    moves = cv2.morphologyEx((seen < 0.85).astype(np.uint8), cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8))
    outlines, _ = cv2.findContours(moves, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    whole = np.zeros_like(moves)
    cv2.drawContours(whole, outlines, -1, 1, cv2.FILLED)
    if not whole.any():
        return 1.0
    never = (seen < 0.15) | (moves == 0)
    return float(never[whole > 0].mean())


def _same(apart: Floats, tolerance: float) -> Floats:
    """Return 1 where a frame shows the plate: neither the pixel nor its surroundings differ."""
    around = (cv2.blur(apart, (5, 5)) < tolerance / 2).astype(np.uint8)
    return floats(cv2.erode(around, np.ones((3, 3), np.uint8)) * (apart < tolerance))


def _commonest(frames: Bytes) -> Floats:
    """Return for every pixel the moment that most other moments resemble."""
    grey = [as_bytes(cv2.cvtColor(f, cv2.COLOR_RGB2GRAY)) for f in frames]
    # luma alone would take a figure of the room's luma for the room
    warmth = [as_bytes(cv2.addWeighted(f[..., 0], 0.5, 255 - f[..., 2], 0.5, 0)) for f in frames]
    best = np.full(grey[0].shape, -1, np.int16)
    chosen = np.zeros(frames.shape[1:], np.uint8)
    for i, frame in enumerate(frames):
        votes = np.zeros(grey[0].shape, np.int16)
        for j in range(len(frames)):
            apart = cv2.max(cv2.absdiff(grey[i], grey[j]), cv2.absdiff(warmth[i], warmth[j]))
            votes += apart < _TOLERANCE
        better = votes > best
        best[better] = votes[better]
        chosen[better] = frame[better]
    return chosen.astype(np.float32)
