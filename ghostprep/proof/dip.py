"""Proof `dip`: how much softer the picture is in the blend."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Frame
from ghostprep.transfer import codes_to_light, luminance
from ghostprep.verdict import Proof

LIMIT: Final = 0.85
_NOTHING: Final = 1e-6


class DipMeter:
    """Measures the sharpness of a loop while its frames flow past.

    Parameters
    ----------
    inside : collection of int
        The frames that are mixed.
    """

    def __init__(self, inside: Collection[int]) -> None:
        self._inside = frozenset(inside)
        self._sharpness: list[float] = []

    def add(self, frame: Frame) -> None:
        """Take the next decoded frame (h, w, 3), uint8 RGB."""
        self.add_luminance(luminance(codes_to_light(frame[..., :3])))

    def add_luminance(self, grey: npt.NDArray[np.float32]) -> None:
        """Take the luminance (h, w) of the next decoded frame, in linear light."""
        across = cv2.Sobel(grey, cv2.CV_32F, 1, 0, ksize=1)
        down = cv2.Sobel(grey, cv2.CV_32F, 0, 1, ksize=1)
        self._sharpness.append(float(np.mean(cv2.magnitude(across, down))))

    def proof(self) -> Proof:
        """Return the verdict on the frames so far.

        Raises
        ------
        ValueError
            No frame was added, or `inside` names a frame that the loop does not have.
        """
        values = np.asarray(self._sharpness)
        if not len(values):
            raise ValueError("no frame to measure")
        inside = sorted(self._inside)
        if inside and (inside[0] < 0 or inside[-1] >= len(values)):
            raise ValueError(f"frames {inside[0]} to {inside[-1]} are not all among the loop's {len(values)}")
        elsewhere = np.delete(values, inside)
        usual = float(np.median(elsewhere)) if len(elsewhere) else 0.0
        value = float(values[inside].min()) / usual if inside and usual > _NOTHING else 1.0
        return Proof("dip", round(value, 4), "", f"at least {LIMIT:.0%}", value >= LIMIT)


def dip(frames: Iterable[Frame], inside: Collection[int]) -> Proof:
    """Compare the softest frame of the blend with the loop's usual sharpness.

    Parameters
    ----------
    frames : iterable of ndarray of uint8, shape (h, w, 3)
        The whole loop as decoded, RGB.
    inside : collection of int
        The frames that are mixed; without any there is nothing to be softer, and the value is 1.

    Returns
    -------
    Proof
        Lowest mean gradient magnitude (luminance, linear light) in the blend over the median elsewhere.
    """
    meter = DipMeter(inside)
    for frame in frames:
        meter.add(frame)
    return meter.proof()
