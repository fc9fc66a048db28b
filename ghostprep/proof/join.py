"""Proofs `join` and `dip`: the join's step against the clip's own motion, how much softer the blend is."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from typing import ClassVar, Final

import cv2
import numpy as np

from ghostprep.arrays import Doubles, Frame, Light
from ghostprep.transfer import STILL, codes_to_light, luminance
from ghostprep.verdict import Proof

JUMP_LIMIT: Final = 1.0
SOFT_LIMIT: Final = 0.85
"""The join's largest step over the clip's own, and a blend's least sharpness over that elsewhere."""
_BAND: Final = 64
"""Rows whose gradient is worked out at a time: it stays in the processor's cache."""
_NOTHING: Final = 1e-6
"""A picture without detail has no sharpness to lose."""


class _Meter:
    """Measures a loop while its frames flow past; places in the blend are held to those elsewhere."""

    _what: ClassVar[str]

    def __init__(self, inside: Collection[int]) -> None:
        self._inside = frozenset(inside)
        self._values: list[float] = []

    def add(self, frame: Frame) -> None:
        """Take the next decoded frame (h, w, 3), uint8 RGB."""
        self.add_luminance(luminance(codes_to_light(frame[..., :3])))

    def add_luminance(self, grey: Light) -> None:
        """Take the luminance (h, w) of the next decoded frame, in linear light."""
        raise NotImplementedError

    def _parted(self, values: Sequence[float], inside: Collection[int]) -> tuple[Doubles, Doubles]:
        """Return the values inside and those elsewhere; all places must be among them."""
        if not len(values):
            raise ValueError("no frame to measure")
        places = sorted(inside)
        if places and (places[0] < 0 or places[-1] >= len(values)):
            raise ValueError(
                f"{self._what} {places[0]} to {places[-1]} are not all among the loop's {len(values)}"
            )
        every = np.asarray(values, np.float64)
        return every[places], np.delete(every, places)


class JoinMeter(_Meter):
    """Measures the steps of a loop while its frames flow past.

    The value is the largest RMS step (luminance, linear light) in the join and across the file's end, over
    the 95th percentile of the others. 1 or less: the join is no larger than the clip's own motion.

    Parameters
    ----------
    inside : collection of int
        The steps inside the join: i is the step from frame i to frame i + 1, cyclic. The step from the last
        frame to the first is always counted as inside, since the player starts over there.
    """

    _what = "steps"
    _first: Light | None = None
    _before: Light | None = None

    def add_luminance(self, grey: Light) -> None:
        """Take the luminance (h, w) of the next decoded frame, in linear light."""
        if self._before is None:
            self._first = grey
        else:
            self._values.append(_rms(grey, self._before))
        self._before = grey

    @property
    def steps(self) -> list[float]:
        """RMS steps so far, the last one across the file's end."""
        if self._first is None or self._before is None:
            return []
        return [*self._values, _rms(self._first, self._before)]

    def proof(self) -> Proof:
        """Return the verdict on the frames so far.

        Raises
        ------
        ValueError
            No frame was added, or `inside` names a step that the loop does not have.
        """
        steps = self.steps
        inside, elsewhere = self._parted(steps, self._inside | {len(steps) - 1})
        usual = float(np.quantile(elsewhere, 0.95)) if len(elsewhere) else 0.0
        largest = float(inside.max())
        value = 0.0 if largest <= STILL else largest / max(usual, STILL)
        # judged as it is told, in hundredths: less is what coding does to the other steps
        passed = round(value, 2) <= JUMP_LIMIT
        return Proof("join", round(value, 4), "", f"at most {JUMP_LIMIT}", passed)


class DipMeter(_Meter):
    """Measures the sharpness of a loop while its frames flow past; those `inside` are the mixed ones.

    The value is the lowest mean gradient magnitude (luminance, linear light) in the blend over the median
    elsewhere; without a blend there is nothing to be softer, and it is 1.
    """

    _what = "frames"

    def add_luminance(self, grey: Light) -> None:
        """Take the luminance (h, w) of the next decoded frame, in linear light."""
        total = 0.0
        for top in range(0, len(grey), _BAND):
            above = min(top, 1)
            rows = grey[top - above : top + _BAND + 1]
            across = cv2.Sobel(rows, cv2.CV_32F, 1, 0, ksize=1)
            down = cv2.Sobel(rows, cv2.CV_32F, 0, 1, ksize=1)
            total += cv2.sumElems(cv2.magnitude(across, down)[above : above + _BAND])[0]
        self._values.append(total / grey.size)

    def proof(self) -> Proof:
        """Return the verdict on the frames so far; errors as for `JoinMeter.proof`."""
        inside, elsewhere = self._parted(self._values, self._inside)
        usual = float(np.median(elsewhere)) if len(elsewhere) else 0.0
        value = float(inside.min()) / usual if len(inside) and usual > _NOTHING else 1.0
        return Proof("dip", round(value, 4), "", f"at least {SOFT_LIMIT:.0%}", value >= SOFT_LIMIT)


def _rms(a: Light, b: Light) -> float:
    if a.shape != b.shape:
        raise ValueError(f"a frame of shape {a.shape} beside one of shape {b.shape}")
    return float(cv2.norm(a, b, cv2.NORM_L2)) / math.sqrt(a.size)
