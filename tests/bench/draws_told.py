"""What someone tells who looks at the figure's cloths: which of those that were taken wrong are solid, which thin."""

from __future__ import annotations

import cv2
import numpy as np
from draws_clips import Shot

from ghostprep.picture import Key, Swatch

MUCH = 0.05
"""Share of the figure from which a cloth is looked at."""
NEAR = 24.0
"""Codes, all channels together, within which a pixel looks like a swatch."""


def told_cloths(shot: Shot, key: Key) -> dict[str, list[str]]:
    """Return the cloths, by `learn_key`'s words, whose truth is another than the key took them for."""
    told: dict[str, list[str]] = {"solid": [], "sheer": []}
    for swatch in key.cloths:
        looks = _looks_like(shot, swatch)
        if swatch.part < MUCH or looks.sum() < 100:
            continue
        alpha = float(np.median(shot.alpha[looks]))
        if alpha > 0.97 and swatch.through:
            told["solid"].append(swatch.colour)
        elif 0.1 < alpha < 0.9:
            own = np.clip(np.median(shot.truth[looks], axis=0) / max(_codes_of(shot, alpha), 0.1), 0, 255)
            told["sheer"].append("#" + "".join(f"{round(float(c)):02x}" for c in own))
    return told


def _looks_like(shot: Shot, swatch: Swatch) -> np.ndarray:
    """Return where (n, h, w) the frames show a cloth, well within it."""
    codes = np.float32([int(swatch.colour[i : i + 2], 16) for i in (1, 3, 5)])
    near = (np.linalg.norm(shot.frames.astype(np.float32) - codes, axis=-1) < NEAR) & (shot.alpha > 0.02)
    return np.stack([cv2.erode(one.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0 for one in near])


def _codes_of(shot: Shot, alpha: float) -> float:
    """Return by how much a coverage lowers a figure's codes on black."""
    return alpha ** (1 / 2.2) if shot.draw.linear else alpha
