"""The level of the black behind a figure: the lowest that the picture shows, and a slow slope."""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np

from ghostprep.arrays import Floats, Frame
from ghostprep.picture.key.keyed import floats

_CELL = 8
"""Side of the cells whose mean is taken, pixels: a coder's smallest block."""
_LOWEST = 3
"""Percentile along the border that is taken for the lowest."""
_SLOPE = 0.12
"""How far a slope usually takes a black, as a share of it, over the picture."""
_ENOUGH = 0.25
"""Share of the picture that must lie at one level to tell slope and noise from light that never leaves."""


class Level(NamedTuple):
    """The black behind a figure."""

    codes: Floats
    """(h, w, 3): R'G'B' codes."""
    share: float
    """Share of all pixels that show it."""
    sure: bool
    """Whether these are enough; if not, there is no telling black from light that never leaves."""


def find_level(frames: Frame) -> Level:
    """Find the level of the black of glimpses (n, h, w, 3).

    Light only adds: from the lowest level along the border, without the lower side, where black cloth may
    stand, a plane is moved to the nearest heap of cells. Cells above it count less the higher they are (a
    redescending M-estimator, one-sided; Huber, Robust Statistics, 1981). Where too few lie there, light may
    be all over the picture, and the lowest level stands.
    """
    h, w = frames.shape[1:3]
    across, down = max(w // _CELL, 1), max(h // _CELL, 1)
    cells = np.stack(
        [cv2.resize(floats(f), (across, down), interpolation=cv2.INTER_AREA) for f in frames]
    ).astype(np.float64)
    border = np.concatenate([cells[:, 0], cells[:, :, 0], cells[:, :, -1]], axis=1).reshape(-1, 3)
    bright = border.sum(-1)
    # below, all is in codes: by one of them, rounded luma and chroma may move a flat area
    lowest = np.median(border[bright <= np.percentile(bright, _LOWEST)], axis=0)
    yy, xx = np.mgrid[:down, :across] / np.array([down, across]).reshape(2, 1, 1) - 0.5
    terms = np.stack([np.ones_like(xx), xx, yy], -1)
    fit = np.stack([lowest, np.zeros(3), np.zeros(3)])
    count, share = cells[..., 0].size, 0.0
    # what is far darker than the border's lowest is black cloth
    possible = (cells - lowest).min(-1) > -4
    for _ in range(12):
        beyond = (cells - terms @ fit).max(-1)
        weight = np.where(possible & (beyond < 4), np.exp(-(np.maximum(beyond, 0) ** 2) / 4), 0)
        share = float(weight.mean())
        places = weight.sum(0)
        normal = np.einsum("rci,rc,rcj->ij", terms, places, terms) / count
        right = np.einsum("rci,rck->ik", terms, (weight[..., None] * cells).sum(0)) / count
        # as if a hundredth of the picture had the lowest level, and a weak pull of both slopes to 0
        usual = max(_SLOPE * float(fit[0].max()), 0.1)
        flat = (1 / usual) ** 2 / (down * across)
        normal += np.diag([0.01, flat, flat])
        right[0] += 0.01 * lowest
        fit = np.linalg.solve(normal, right)
        fit[0] = np.minimum(fit[0], lowest + 2)
    sure = share > _ENOUGH
    plane = terms @ fit if sure else np.broadcast_to(lowest, (down, across, 3))
    codes = cv2.resize(np.maximum(floats(plane), 0), (w, h), interpolation=cv2.INTER_LINEAR)
    return Level(floats(codes), share, sure)
