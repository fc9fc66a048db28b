"""The key on black: light only adds, so the figure is what the frame has above the black."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np

from ghostprep.arrays import Floats, Frame
from ghostprep.box import small_size
from ghostprep.channels import largest_channel
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.falloff import falls_off
from ghostprep.picture.key.keyed import Keyed, as_bytes, floats
from ghostprep.transfer import rounded, to_linear

SMALL: Final = 240
"""Longer side of the picture on which light is told from noise, and a body from the light around it."""
_WINDOW = (5, 5)
"""Pixels of that picture over which light must stand out: the noise of a mean of many is small."""
_BESIDE = np.ones((3, 3), np.uint8)
ROUNDING: Final = 0.5
"""Codes by which rounding alone may lift a flat black."""
_SEEN = 10.0
"""Matte for each code of light: full from code 26 on, the hundredth of white from which a pane shows it."""


@dataclass(frozen=True, eq=False)
class BlackKeyer:
    """Keys frames of one crop and size before black."""

    black: Floats
    """(h, w, 3): the level of the black, R'G'B' codes."""
    toe: float
    """Mean of the frame above the black, codes, from which there is light; see `toe_of`."""
    body: bool
    """Whether the figure is a body, which hides the black, or light, which is added to it."""
    linear: bool
    """Whether light was added in light, or in codes."""
    shape: bool
    """Whether the matte is the figure's shape, to be painted: a body's coverage without the glow around it,
    or as much as there is of light without a body. If not, it is what a pane shows."""

    @functools.cached_property
    def curve(self) -> Curve:
        """The space in which light was added."""
        return Curve("light" if self.linear else "codes")

    @functools.cached_property
    def light(self) -> Floats:
        """The black (h, w, 3) in amounts of that, 0..255."""
        return floats(to_linear(self.black / 255) * 255) if self.linear else self.black

    @functools.cached_property
    def highest(self) -> float:
        """The highest code of the black."""
        return float(self.black.max())

    def __call__(self, frame: Frame) -> Keyed:
        """Key one frame (h, w, 3)."""
        h, w = frame.shape[:2]
        above = floats(cv2.subtract(frame, self.black, dtype=cv2.CV_32F))
        shown = floats(cv2.resize(_ramp(local_light(above), self.toe), (w, h)))
        covered = self._covered(frame, above) if self.body and (self.highest or self.shape) else None
        light = cv2.subtract(self.curve.amounts(frame), self.light) if self.linear else above
        if covered is not None:
            hidden = cv2.multiply(cv2.merge((covered,) * 3), self.light, scale=1 / 255, dtype=cv2.CV_32F)
            light = cv2.add(light, hidden)
        figure = self.curve.figure(floats(cv2.multiply(light, cv2.merge((shown,) * 3))))
        high = largest_channel(rounded(figure))
        if not self.shape:
            return Keyed(figure, as_bytes(cv2.convertScaleAbs(high, alpha=_SEEN)))
        if covered is None:
            return Keyed(figure, as_bytes(cv2.convertScaleAbs(Curve("light").amounts(high))))
        return Keyed(figure, as_bytes(cv2.multiply(covered, shown, dtype=cv2.CV_8U)))

    def _covered(self, frame: Frame, above: Floats) -> Frame:
        """Return how much of the black a body hides (h, w), 0..255."""
        h, w = frame.shape[:2]
        # what is dark may be either: a body counts in full from three times the black on
        ramp = _ramp(np.arange(256, dtype=np.float32) - self.highest, self.highest) * 255
        bright = cv2.LUT(largest_channel(frame), ramp.astype(np.uint8))
        small = cv2.resize(above, small_size((w, h), SMALL), interpolation=cv2.INTER_AREA)
        body = ~falls_off(floats(small), max(self.toe, 2.0))
        covered = cv2.min(bright, cv2.resize(body.view(np.uint8) * np.uint8(255), (w, h)))
        # about half of the edge is black
        return as_bytes(cv2.blur(cv2.erode(covered, _BESIDE), (3, 3)))


def local_light(above: Floats) -> Floats:
    """Return the light around each place, in small: of a frame's excess over the black (h, w, 3), codes."""
    size = small_size((above.shape[1], above.shape[0]), SMALL)
    means = cv2.blur(cv2.resize(above, size, interpolation=cv2.INTER_AREA), _WINDOW)
    return largest_channel(floats(means))


def toe_of(bare: Floats) -> float:
    """Return the toe that the local light of bare black, codes, any shape, asks for.

    Light only adds: what lies below the middle is noise, and as much of it lies above; three deviations
    leave a thousandth of that.
    """
    low, middle = np.percentile(bare, (16, 50))
    return ROUNDING + float(max(middle, 0) + 3 * (middle - low))


def _ramp(values: Floats, start: float) -> Floats:
    """Return 0 up to `start`, 1 from twice that on."""
    share = np.subtract(values, start)
    return floats(np.clip(np.divide(share, max(start, 1e-3), out=share), 0, 1, out=share))
