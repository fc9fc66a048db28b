"""Which source frame shows at each tick of the output's even clock.

Frames are resampled here, on purpose and by whole frames, and nowhere else: a clip
with uneven times gets an even clock, a player with a lower rate gets fewer frames.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import TypeVar

from ghostprep.player.rate import RELABEL

T = TypeVar("T")


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


def shown_at_ticks(frames: Iterable[tuple[Fraction, T]], rate: Fraction, frame_s: Fraction) -> Iterator[T]:
    """Yield, for each tick of an even clock, the source frame whose time is nearest.

    A clip that is even already passes one for one, whatever the rounding of its times.

    Parameters
    ----------
    frames : iterable of (Fraction, frame)
        Time, seconds, and anything that stands for the frame, in order.
    rate : Fraction
        Ticks a second; the first tick is at the first frame.
    frame_s : Fraction
        How long the last frame lasts, seconds.

    >>> list(shown_at_ticks([(Fraction(0), "a"), (Fraction(1, 2), "b")], Fraction(4), Fraction(1, 2)))
    ['a', 'b', 'b']
    """
    every = iter(frames)
    held = next(every, None)
    if held is None:
        return
    first, ticks = held[0], 0

    def until(time: Fraction) -> int:
        return max(math.ceil((time - first) * rate), ticks)

    for following in every:
        stop = until((held[0] + following[0]) / 2)
        yield from itertools.repeat(held[1], stop - ticks)
        held, ticks = following, stop
    yield from itertools.repeat(held[1], until(held[0] + frame_s / 2) - ticks)
