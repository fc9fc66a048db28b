"""Tells pictures whose rows show two moments in turn, as on tape and television, though no frame says so."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from ghostprep.arrays import Frame, Mask

ROWS: Final = frozenset({480, 486, 576})
"""Rows of the pictures of ITU-R BT.601, which are interlaced: others hardly lose their marks on the way."""
_EDGE: Final = 24
"""Codes by which each row differs from its neighbours at least: noise seldom does."""
_SHARE: Final = 1e-4
"""Share of a picture that is combed where something moves; strong noise makes a thirtieth of it."""


def is_combed(frames: Sequence[Frame]) -> bool:
    """Return whether moving edges are combed in two frames at least.

    Parameters
    ----------
    frames : sequence of ndarray of uint8, shape (h, w, 3)
        Some of the clip's, apart from each other, with all of its rows. What is combed in most of them is a
        pattern that stands still, as stripes or a grille are.
    """
    combs = np.array([_combs(frame) for frame in frames])
    if len(combs) < 2:
        return False
    moving = combs & (combs.mean(axis=0) <= 0.5)
    return bool(np.sort(moving.mean(axis=(1, 2)))[-2] > _SHARE)


def _combs(frame: Frame) -> Mask:
    """Return where (h - 6, w) four rows lie above the three between them, or below, in their green."""
    rows, high = frame[..., 1].astype(np.int16), len(frame) - 6
    even, odd = ([rows[n : n + high] for n in range(first, 7, 2)] for first in (0, 1))
    above = np.minimum.reduce(even) - np.maximum.reduce(odd)
    below = np.minimum.reduce(odd) - np.maximum.reduce(even)
    return np.asarray(np.maximum(above, below) > _EDGE)
