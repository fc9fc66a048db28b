"""Which source frame shows at each tick of the output's even clock.

Frames are resampled here, on purpose and by whole frames, and nowhere else: a clip
with uneven times gets an even clock, a player with a lower rate gets fewer frames.
"""

from __future__ import annotations

import math
from fractions import Fraction

from ghostprep.player.rate import RELABEL


def clock_rate(source: Fraction, output: Fraction) -> Fraction:
    """Return the rate at which the source is sampled for an output of rate `output`.

    It is the output's rate, unless that lies within 0.1 % of the source's rate over a
    whole number: then the frames are taken one for one and only the label changes.

    >>> clock_rate(Fraction(30000, 1001), Fraction(15))
    Fraction(15000, 1001)
    """
    every = max(round(source / output), 1)
    exact = source / every
    return exact if abs(exact / output - 1) <= RELABEL else output


class Clock:
    """Tells, as source frames come in, how often each is shown on an even clock.

    Each tick shows the source frame whose time is nearest, so a clip that is even
    already passes one for one, whatever the rounding of its times.

    Parameters
    ----------
    rate : Fraction
        Ticks a second.
    frame_s : Fraction
        How long the last frame lasts, seconds.
    """

    def __init__(self, rate: Fraction, frame_s: Fraction) -> None:
        self._rate = rate
        self._frame_s = frame_s
        self._first: Fraction | None = None
        self._last = Fraction(0)
        self._ticks = 0

    def advance(self, time: Fraction) -> int:
        """Take the next frame's time; return for how many ticks the frame before it shows."""
        if self._first is None:
            self._first = self._last = time
            return 0
        shown = self._until((self._last + time) / 2)
        self._last = time
        return shown

    def finish(self) -> int:
        """Return for how many ticks the last frame shows."""
        return 0 if self._first is None else self._until(self._last + self._frame_s / 2)

    def _until(self, time: Fraction) -> int:
        assert self._first is not None
        ticks = max(math.ceil((time - self._first) * self._rate), self._ticks)
        shown, self._ticks = ticks - self._ticks, ticks
        return shown
