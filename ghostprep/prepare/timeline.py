"""Which source frame shows at each tick of the output's even clock.

Frames are resampled here, on purpose and by whole frames, and nowhere else: a clip
with uneven times gets an even clock, a player with a lower rate gets fewer frames.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Iterator
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


def shown_at_ticks(
    frames: Iterable[tuple[Fraction, T]], rate: Fraction, last_s: Callable[[], Fraction]
) -> Iterator[T]:
    """Yield, for each tick of an even clock, the source frame that is shown then.

    A frame begins at the tick that is nearest to its time, and stays until the next one begins; of frames
    that lie closer together than ticks, the nearest is taken. A clip that is even already passes one for
    one, whatever the rounding of its times.

    Parameters
    ----------
    frames : iterable of (Fraction, frame)
        Time, seconds, and anything that stands for the frame, in order.
    rate : Fraction
        Ticks a second; the first tick is at the first frame.
    last_s : callable
        Returns how long the last frame is shown, seconds; it is asked after that frame.

    >>> list(shown_at_ticks([(Fraction(0), "a"), (Fraction(1, 2), "b")], Fraction(4), lambda: Fraction(1)))
    ['a', 'a', 'b', 'b', 'b', 'b']
    """
    every = iter(frames)
    held = next(every, None)
    if held is None:
        return
    first, half_tick, ticks = held[0], 1 / (2 * rate), 0

    def stop(begin: Fraction, end: Fraction) -> int:
        change = max((begin + end) / 2, end - half_tick)
        return max(math.ceil((change - first) * rate), ticks)

    for following in every:
        after = stop(held[0], following[0])
        yield from itertools.repeat(held[1], after - ticks)
        held, ticks = following, after
    yield from itertools.repeat(held[1], stop(held[0], held[0] + last_s()) - ticks)
