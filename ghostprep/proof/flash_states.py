"""What one spot of the picture does over time: its opposing changes, one transition at a time.

The definitions are those of WCAG 2.2, success criterion 2.3.1, "general flash and red
flash thresholds" [1]_.

References
----------
.. [1] W3C, Web Content Accessibility Guidelines 2.2; Understanding SC 2.3.1; techniques G19 and G176.
.. [2] Recommendation ITU-R BT.1702: flashes of 20 cd/m2 and more with the darker under 160 cd/m2.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from ghostprep.channels import largest_channel
from ghostprep.transfer import LUMA_709

Light = npt.NDArray[np.float32]
Flags = npt.NDArray[np.bool_]

SATURATED_RED: Final = 0.8
"""Least share of red in R + G + B (linear) of a saturated red."""

RED_DISTANCE: Final = 0.2
"""Two states of a red flash are farther apart than this in CIE 1976 u'v'."""

_XYZ_OF_RGB: Final = np.array(
    [
        [0.41239080, 0.35758434, 0.18048079],
        [0.21263901, 0.71516868, 0.07219232],
        [0.01933082, 0.11919478, 0.95053215],
    ]
)  # from the primaries and white of IEC 61966-2-1, one digit finer than its own table
_NEUTRAL_UV: Final = (0.19784, 0.46834)  # D65
_NO_COLOUR: Final = 1 / 300
"""Black has no chromaticity, so the standard leaves a choice: where every channel is
darker than a screen's own black (1:300 and darker) a spot counts as neutral, since the screen's glow is."""


@dataclass(frozen=True, slots=True)
class Threshold:
    """What counts as a general change.

    Attributes
    ----------
    change : float
        Least difference of luminance between the two states.
    darker_below : float
        The darker state is under this.
    """

    change: float
    darker_below: float

    def __post_init__(self) -> None:
        if not (self.change > 0 and self.darker_below > 0):
            raise ValueError(
                f"change is {self.change} and darker_below {self.darker_below}, both must be above 0"
            )


WCAG: Final = Threshold(change=0.1, darker_below=0.8)
"""Relative luminance, white = 1."""


def bt1702(white_cd_m2: float) -> Threshold:
    """Return BT.1702's 20 and 160 cd/m2 [2]_ as shares of a white of `white_cd_m2`."""
    return Threshold(change=20 / white_cd_m2, darker_below=160 / white_cd_m2)


def relative_luminance(light: Light) -> Light:
    """Return the relative luminance (...,) of linear RGB (..., 3)."""
    return np.asarray(light @ np.asarray(LUMA_709, np.float32), np.float32)


def red_share(light: Light) -> Light:
    """Return R / (R + G + B) of linear RGB (..., 3); a third where there is no light."""
    total = light.sum(axis=-1)
    share: Light = np.divide(light[..., 0], total, out=np.full_like(total, 1 / 3), where=total > 0)
    return share


def chromaticity(light: Light) -> npt.NDArray[np.float64]:
    """Return CIE 1976 u', v' (..., 2) of linear RGB (..., 3); neutral where it is too dark to have any."""
    x, y, z = np.moveaxis(light.astype(np.float64) @ _XYZ_OF_RGB.T, -1, 0)
    total = x + 15 * y + 3 * z
    dark = largest_channel(light) < _NO_COLOUR
    safe = np.where(dark | (total <= 0), 1.0, total)
    u = np.where(dark, _NEUTRAL_UV[0], 4 * x / safe)
    v = np.where(dark, _NEUTRAL_UV[1], 9 * y / safe)
    return np.stack([u, v], axis=-1)


class GeneralChanges:
    """Finds each spot's peaks and valleys, and the moment at which a change is complete.

    Parameters
    ----------
    threshold : Threshold
    first : ndarray of float32 (spots,)
        Luminance of the first frame.
    """

    def __init__(self, threshold: Threshold, first: Light) -> None:
        self._threshold = threshold
        self._low = first.astype(np.float64)
        self._high = self._low.copy()
        self._rising = np.zeros(first.shape, np.int8)  # 1: on the way up, -1: down, 0: no change yet

    def step(self, luminance: Light) -> Flags:
        """Take in the next frame; return which spots completed a transition in it.

        On the way up the last peak grows until the luminance has fallen from it far
        enough, and the other way round, so one ramp over many frames is one transition.
        """
        now = luminance.astype(np.float64)
        least, darker = self._threshold.change - 1e-7, self._threshold.darker_below
        rising = self._rising
        self._high = np.where(rising >= 0, np.maximum(self._high, now), self._high)
        self._low = np.where(rising <= 0, np.minimum(self._low, now), self._low)
        fell = (rising >= 0) & (self._high - now >= least) & (now < darker)
        rose = (rising <= 0) & (now - self._low >= least) & (self._low < darker) & ~fell
        self._rising = np.where(fell, -1, np.where(rose, 1, rising)).astype(np.int8)
        self._low = np.where(fell, now, self._low)
        self._high = np.where(rose, now, self._high)
        return np.asarray(fell | rose, np.bool_)


class RedChanges:
    """Finds each spot's changes to or from a saturated red.

    A state is kept until the colour is farther than `RED_DISTANCE` from it and one of
    the two is a saturated red; then the new colour is the state, and it moves on as
    long as the colour goes farther away from the state before it.

    Parameters
    ----------
    first : ndarray of float32 (spots, 3)
        Linear RGB of the first frame.
    """

    def __init__(self, first: Light) -> None:
        self._state = chromaticity(first)
        self._before = self._state.copy()
        self._red = is_red(first)

    def step(self, light: Light) -> Flags:
        """Take in the next frame; return which spots completed a transition in it."""
        colour, red = chromaticity(light), is_red(light)
        changed = (_apart(colour, self._state) > RED_DISTANCE) & (red | self._red)
        farther = (
            ~changed & (_apart(colour, self._before) > _apart(self._state, self._before)) & (red == self._red)
        )
        self._before = np.where(changed[:, None], self._state, self._before)
        moved = changed | farther
        self._state = np.where(moved[:, None], colour, self._state)
        self._red = np.where(moved, red, self._red)
        return np.asarray(changed, np.bool_)


def is_red(light: Light) -> Flags:
    """Return which spots of linear RGB (..., 3) are a saturated red, and lighter than a screen's black."""
    return np.asarray((red_share(light) >= SATURATED_RED) & (largest_channel(light) >= _NO_COLOUR), np.bool_)


def _apart(a: npt.NDArray[np.float64], b: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    return np.asarray(np.hypot(a[..., 0] - b[..., 0], a[..., 1] - b[..., 1]), np.float64)
