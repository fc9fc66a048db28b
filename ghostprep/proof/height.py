"""How tall the figure stands on the ghost plane, against what was asked."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from ghostprep.arrays import Doubles, Frame
from ghostprep.black import LIT_CODE
from ghostprep.channels import largest_channel
from ghostprep.finding import Finding
from ghostprep.verdict import Proof

TOLERANCE_PX: Final = 2.0
"""A pixel at each end: the figure's rim is soft and the codec rounds it."""
TOLERANCE_SHARE: Final = 0.02
"""Of the height: nobody sees a fiftieth."""


class HeightProof:
    """Measures the lit part of decoded frames in mm on the ghost plane.

    Parameters
    ----------
    homography : ndarray (3, 3)
        From the ghost plane (mm, x right, y up) to raster pixels.
    asked_mm : float
        The height that the scene asks for.
    length : callable
        Writes millimetres in the builder's unit.
    """

    def __init__(
        self, homography: Doubles, asked_mm: float, *, length: Callable[[float], str] = "{:.1f} mm".format
    ) -> None:
        if asked_mm <= 0:
            raise ValueError(f"asked_mm is {asked_mm}, it must be above 0")
        self._homography = np.asarray(homography, np.float64)
        self._asked = asked_mm
        self._length = length
        self._y: Doubles | None = None
        self._pitch = 0.0
        self._heights: list[float] = []

    def add(self, decoded: Frame) -> None:
        """Take in one decoded frame: uint8 (h, w) or (h, w, 3)."""
        lit = (decoded if decoded.ndim == 2 else largest_channel(decoded)) >= LIT_CODE
        if not lit.any():
            return
        if self._y is None:
            self._y, self._pitch = self._ladder(*lit.shape)
        ys = self._y[lit]
        low, high = float(ys.min()) - self._pitch / 2, float(ys.max()) + self._pitch / 2
        self._heights.append(high - low)

    def _ladder(self, rows: int, columns: int) -> tuple[Doubles, float]:
        """Return each pixel's height (mm) on the ghost plane, and the mean height of one pixel."""
        x, y = np.meshgrid(np.arange(columns) + 0.5, np.arange(rows) + 0.5)
        points = np.stack([x.ravel(), y.ravel(), np.ones(x.size)])
        plane = np.linalg.inv(self._homography) @ points
        heights = (plane[1] / plane[2]).reshape(rows, columns)
        steps = np.abs(np.gradient(heights)).mean(axis=(1, 2)) if min(rows, columns) > 1 else np.zeros(2)
        return heights, float(steps.max())

    def height_mm(self) -> float:
        """Return the median over the frames that are lit, in mm; 0 if none is."""
        return float(np.median(self._heights)) if self._heights else 0.0

    def proof(self) -> Proof:
        """Return ``height`` in mm, held to what was asked within two pixels or 2 %."""
        tolerance = max(TOLERANCE_PX * self._pitch, TOLERANCE_SHARE * self._asked)
        measured = self.height_mm()
        limit = f"{self._length(self._asked)} within {self._length(tolerance)}"
        return Proof("height", measured, "mm", limit, abs(measured - self._asked) <= tolerance)

    def findings(self) -> list[Finding]:
        """Return what to tell the builder; empty if the height holds."""
        proof = self.proof()
        if proof.passed:
            return []
        text = (
            f"the figure stands {self._length(self.height_mm())} tall in the scene, the scene file "
            f"asks for {self._length(self._asked)}"
        )
        remedy = (
            "a --crop that cuts the figure, or a figure larger than the screen can show, does this: "
            "`ghostprep plan` names the largest that fits"
        )
        return [Finding("fault", "height", text, remedy)]
