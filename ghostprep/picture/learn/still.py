"""A plate found in the clip itself: what each pixel shows most of the time, if the camera stood still."""

from __future__ import annotations

import itertools
from typing import NamedTuple

import cv2
import numpy as np

from ghostprep.arrays import Floats, Frame
from ghostprep.channels import largest_channel
from ghostprep.picture.key.keyed import as_bytes, floats

_TOLERANCE = 12
"""Codes within which two moments of a pixel count as the same thing."""


class StillPlate(NamedTuple):
    """What stands still in a clip."""

    plate: Floats
    """(h, w, 3): R'G'B' codes."""
    noise: Floats
    """(h, w): sigma of the noisiest frame around it, codes: after a key frame a coder's errors are others."""
    seen: Floats
    """(h, w): share of the frames that show it."""


def find_still(frames: Frame, given: Floats | None = None) -> StillPlate:
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
    same = [_same(frame, given) for frame in frames]
    mass = sum(frame * mask[..., None] for frame, mask in zip(frames, same, strict=True))
    seen = floats(np.sum(same, axis=0))
    known = seen >= 3
    plate = np.where(known[..., None], mass / np.maximum(seen, 1)[..., None], given)
    largest = np.zeros_like(seen)
    for frame, mask in zip(frames, same, strict=True):
        shown = np.maximum(cv2.blur(mask, (5, 5)), 1e-3)
        square = cv2.blur(floats(((frame - plate) ** 2).mean(-1) * mask), (5, 5)) / shown
        largest = np.maximum(largest, square * mask)
    edges = np.abs(cv2.Laplacian(floats(plate.mean(-1)), cv2.CV_32F, ksize=3)) * 0.1
    noise = np.where(known, np.sqrt(largest), 3 + edges)
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
    moves = cv2.morphologyEx((seen < 0.92).astype(np.uint8), cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8))
    outlines, _ = cv2.findContours(moves, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    whole = np.zeros_like(moves)
    cv2.drawContours(whole, outlines, -1, 1, cv2.FILLED)
    if not whole.any():
        return 1.0
    never = (seen < 0.3) | (moves == 0)
    return float(never[whole > 0].mean())


def _same(frame: Frame, plate: Floats) -> Floats:
    """Return 1 where a frame shows the plate: around a place, a coder's errors cancel each other out."""
    apart = cv2.blur(cv2.subtract(frame, plate, dtype=cv2.CV_32F), (5, 5))
    same = largest_channel(floats(np.abs(apart))) < _TOLERANCE
    return floats(cv2.erode(same.astype(np.uint8), np.ones((3, 3), np.uint8)))


def _commonest(frames: Frame) -> Floats:
    """Return for every pixel the moment that most other moments resemble."""
    votes = np.zeros(frames.shape[:3], np.uint8)
    for i, j in itertools.combinations(range(len(frames)), 2):
        alike = largest_channel(as_bytes(cv2.absdiff(frames[i], frames[j]))) < 8
        votes[i] += alike
        votes[j] += alike
    return floats(np.take_along_axis(frames, votes.argmax(axis=0)[None, ..., None], axis=0)[0])
