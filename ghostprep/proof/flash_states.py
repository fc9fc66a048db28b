"""What one spot of the picture does over time: its opposing changes, one transition at a time.

The definitions are those of WCAG 2.2, success criterion 2.3.1, "general flash and red
flash thresholds" [1]_.

References
----------
.. [1] W3C, Web Content Accessibility Guidelines 2.2; Understanding SC 2.3.1; techniques G19 and G176.
.. [2] Recommendation ITU-R BT.1702: flashes of 20 cd/m2 and more with the darker under 160 cd/m2.
.. [3] W3C, Understanding WCAG 2.0 and 2.1, SC 2.3.1: the change in (R - G - B) x 320 is more than 20.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Self

import numpy as np

from ghostprep.arrays import Light, Mask
from ghostprep.transfer import luminance

SATURATED_RED: Final = 0.8
"""Least share of red in R + G + B (linear) of a saturated red."""
RED_DISTANCE: Final = 0.2
"""Two states of a red flash are farther apart than this in CIE 1976 u'v'."""
OLDER_RED_CHANGE: Final = 20 / 320
"""Two states of a red flash are farther apart than this in R - G - B (linear) [3]_."""
_XYZ_OF_RGB: Final = np.array(
    [
        [0.41239080, 0.35758434, 0.18048079],
        [0.21263901, 0.71516868, 0.07219232],
        [0.01933082, 0.11919478, 0.95053215],
    ]
)  # from the primaries and white of IEC 61966-2-1, one digit finer than its own table
_UV_TERMS: Final = (np.array([[4, 0, 0], [0, 9, 0], [1, 15, 3]]) @ _XYZ_OF_RGB).T.astype(np.float32)
"""From linear RGB to 4 X, 9 Y and X + 15 Y + 3 Z: u' and v' are the first two over the third."""
_NEUTRAL_UV: Final = np.array([0.19784, 0.46834], np.float32)  # D65
_NO_COLOUR: Final = 1 / 300
"""Black has no chromaticity, so the standard leaves a choice: where every channel is
darker than a screen's own black (1:300 and darker) a spot counts as neutral, since the screen's glow is."""


@dataclass(frozen=True, slots=True)
class Threshold:
    """What counts as a general change."""

    change: float  # least difference of luminance between the two states
    darker_below: float  # the darker state is under this


WCAG: Final = Threshold(change=0.1, darker_below=0.8)
"""Relative luminance, white = 1."""


def bt1702(white_cd_m2: float) -> Threshold:
    """Return BT.1702's 20 and 160 cd/m2 [2]_ as shares of a white of `white_cd_m2`."""
    return Threshold(change=20 / white_cd_m2, darker_below=160 / white_cd_m2)


def red_share(light: Light) -> Light:
    """Return R / (R + G + B) of linear RGB (..., 3); a third where there is no light."""
    # channel by channel: a sum over so short an axis takes ten times as long
    total = light[..., 0] + light[..., 1] + light[..., 2]
    share: Light = np.divide(light[..., 0], total, out=np.full_like(total, 1 / 3), where=total > 0)
    return share


def chromaticity(light: Light) -> Light:
    """Return CIE 1976 u', v' (..., 2) of linear RGB (..., 3); neutral where it is too dark to have any."""
    terms = light @ _UV_TERMS
    dark = (_brightest(light) < _NO_COLOUR) | (terms[..., 2] <= 0)
    uv = terms[..., :2] / np.where(dark, 1, terms[..., 2])[..., None]
    uv[dark] = _NEUTRAL_UV
    return np.asarray(uv, np.float32)


class Changes:
    """Finds the moments at which spots complete a transition; its arrays (spots, ...) are their past."""

    def step(self, light: Light) -> Mask:
        """Take in the next frame's spots (spots, 3), linear RGB; return which completed a transition."""
        raise NotImplementedError

    def extend(self, others: Self) -> None:
        """Take in the spots of another one of its kind behind one's own."""
        for name, mine in vars(self).items():
            if isinstance(mine, np.ndarray):
                setattr(self, name, np.concatenate([mine, getattr(others, name)]))


class GeneralChanges(Changes):
    """Finds each spot's peaks and valleys, and the moment at which a change is complete."""

    def __init__(self, threshold: Threshold, first: Light) -> None:
        self._threshold = threshold
        self._low = luminance(first)
        self._high = self._low.copy()
        self._rising = np.zeros(len(first), np.int8)  # 1: on the way up, -1: down, 0: no change yet

    def step(self, light: Light) -> Mask:
        """Take in the next frame's linear RGB; return which spots completed a transition in it.

        On the way up the last peak grows until the luminance has fallen from it far
        enough, and the other way round, so one ramp over many frames is one transition.
        """
        now, low, high, rising = luminance(light), self._low, self._high, self._rising
        least, darker = self._threshold.change - 1e-6, self._threshold.darker_below
        # going down, the last peak does not matter; the next rise sets it
        np.maximum(high, now, out=high)
        np.minimum(low, now, out=low)
        fell = (high - now >= least) & (now < darker) & (rising >= 0)
        rose = (now - low >= least) & (low < darker) & (rising <= 0) & ~fell
        np.copyto(rising, -1, where=fell)
        np.copyto(rising, 1, where=rose)
        np.copyto(low, now, where=fell)
        np.copyto(high, now, where=rose)
        return np.asarray(fell | rose, np.bool_)


class OlderRedChanges(Changes):
    """Finds each spot's changes to or from a saturated red by the rule of WCAG 2.0 and 2.1 [3]_.

    Peaks and valleys of (R - G - B) x 320, negative values set to 0, that are more than 20 apart; one
    of the two states is a saturated red. It holds for a dim red against black, whose u'v' the newer rule
    leaves open.
    """

    def __init__(self, first: Light) -> None:
        self._low = _excess_of_red(first)
        self._high = self._low.copy()
        self._low_red = is_red(first)
        self._high_red = self._low_red.copy()
        self._rising = np.zeros(len(first), np.int8)
        self._from_red = np.zeros(len(first), np.bool_)
        self._due = np.zeros(len(first), np.bool_)  # the change is made, but no saturated red was seen yet

    def step(self, light: Light) -> Mask:
        """Take in the next frame; return which spots completed a transition in it."""
        now, red, rising = _excess_of_red(light), is_red(light), self._rising
        for extreme, its_red, beyond in (
            (self._high, self._high_red, now > self._high),
            (self._low, self._low_red, now < self._low),
        ):
            np.copyto(extreme, now, where=beyond)
            np.copyto(its_red, red, where=beyond)
        fell = (self._high - now > OLDER_RED_CHANGE) & (rising >= 0)
        rose = (now - self._low > OLDER_RED_CHANGE) & (rising <= 0) & ~fell
        for turned, way, begun, other, other_red in (
            (fell, -1, self._high_red, self._low, self._low_red),
            (rose, 1, self._low_red, self._high, self._high_red),
        ):
            np.copyto(rising, way, where=turned)
            np.copyto(self._from_red, begun, where=turned)
            np.copyto(other, now, where=turned)
            np.copyto(other_red, red, where=turned)
        due = self._due | fell | rose
        made = due & (self._from_red | red)
        self._due = due & ~made
        return np.asarray(made, np.bool_)


class RedChanges(Changes):
    """Finds each spot's changes to or from a saturated red by the rule of WCAG 2.2.

    A state is kept until the colour is farther than `RED_DISTANCE` from it and one of
    the two is a saturated red; then the new colour is the state, and it moves on as
    long as the colour goes farther away from the state before it.
    """

    def __init__(self, first: Light) -> None:
        self._state = chromaticity(first)
        self._before = self._state.copy()
        self._far = np.zeros(len(first), np.float32)  # from the state to the one before it
        self._red = is_red(first)

    def step(self, light: Light) -> Mask:
        """Take in the next frame; return which spots completed a transition in it."""
        colour, red = chromaticity(light), is_red(light)
        away, beyond = _apart(colour, self._state), _apart(colour, self._before)
        changed = (away > RED_DISTANCE**2) & (red | self._red)
        farther = ~changed & (beyond > self._far) & (red == self._red)
        self._before[changed] = self._state[changed]
        moved = changed | farther
        self._state[moved] = colour[moved]
        np.copyto(self._far, away, where=changed)
        np.copyto(self._far, beyond, where=farther)
        np.copyto(self._red, red, where=moved)
        return np.asarray(changed, np.bool_)


def _brightest(light: Light) -> Light:
    return np.asarray(np.maximum(np.maximum(light[..., 0], light[..., 1]), light[..., 2]), np.float32)


def _excess_of_red(light: Light) -> Light:
    return np.asarray(np.maximum(light[..., 0] - light[..., 1] - light[..., 2], 0), np.float32)


def is_red(light: Light) -> Mask:
    """Return which spots of linear RGB (..., 3) are a saturated red, and lighter than a screen's black."""
    return np.asarray((red_share(light) >= SATURATED_RED) & (_brightest(light) >= _NO_COLOUR), np.bool_)


def _apart(a: Light, b: Light) -> Light:
    """Return the squares of the distances."""
    du, dv = a[..., 0] - b[..., 0], a[..., 1] - b[..., 1]
    return np.asarray(du * du + dv * dv, np.float32)
