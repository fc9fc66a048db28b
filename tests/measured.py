"""What a whole loop or a frame measures, in one call."""

from __future__ import annotations

from collections.abc import Collection, Iterable

import cv2
import numpy as np

from ghostprep.proof import upright
from ghostprep.proof.join import DipMeter, JoinMeter
from ghostprep.verdict import Proof


def join(frames: Iterable[np.ndarray], inside: Collection[int]) -> Proof:
    """Hold the largest step in the join against the loop's own motion."""
    return _metered(JoinMeter(inside), frames)


def dip(frames: Iterable[np.ndarray], inside: Collection[int]) -> Proof:
    """Hold the softest frame of the blend against the loop's usual sharpness."""
    return _metered(DipMeter(inside), frames)


def as_seen(frame: np.ndarray, homography: np.ndarray) -> np.ndarray:
    """Return a raster frame as the eye sees it, upright, at about the raster's own pitch."""
    onto, size = upright._onto_raster((frame.shape[1], frame.shape[0]), np.asarray(homography, np.float64))
    return cv2.warpPerspective(frame, onto, size, flags=cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP)


def _metered(meter: JoinMeter | DipMeter, frames: Iterable[np.ndarray]) -> Proof:
    for frame in frames:
        meter.add(frame)
    return meter.proof()
