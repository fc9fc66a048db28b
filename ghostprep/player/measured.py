"""What an encoded file turned out to be, and the buffer that plays it."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from ghostprep.player.read import StreamFacts


def peak_kbps(frame_bytes: Sequence[int], rate: Fraction) -> float:
    """Return the largest rate (1000 bit/s) over any one second of a file that plays over and over.

    Examples
    --------
    >>> peak_kbps([1000, 1000], Fraction(2))
    16.0
    """
    if not frame_bytes:
        return 0.0
    window = max(1, round(rate))
    # whole laps within a second count alike wherever it begins
    laps, rest = divmod(window, len(frame_bytes))
    held = most = sum(frame_bytes[:rest])
    for begin in range(len(frame_bytes)):
        held += frame_bytes[(begin + rest) % len(frame_bytes)] - frame_bytes[begin]
        most = max(most, held)
    return float((laps * sum(frame_bytes) + most) * 8 * rate / window / 1000)


def buffer_kbit(frame_bytes: Sequence[int], rate: Fraction, rate_kbps: float) -> float:
    """Return the buffer, in 1000 bit, that a decoder needs when data arrive at a steady rate, in 1000 bit/s.

    Every picture is taken out of the buffer at once when its time comes [1]_, and the file plays over and
    over, so two laps are counted. Where the pictures' mean exceeds the rate there is no end to it, and that
    of two laps is returned.

    References
    ----------
    .. [1] ITU-T H.264, Annex C, hypothetical reference decoder.
    """
    gain = rate_kbps * 1000 / float(rate)
    need = most = 0.0
    for size in [*frame_bytes, *frame_bytes]:
        need = max(0.0, need) + size * 8
        most = max(most, need)
        need -= gain
    return most / 1000


@dataclass(frozen=True, slots=True)
class Measured:
    """What an encoded file turned out to be."""

    bytes: int  # the whole file
    largest_frame: int  # bytes of its largest coded frame
    header_bytes: int = 0  # bytes before its first frame, where the form has a header to itself
    # mean_kbps, peak_kbps, buffer_kbit: mean rate, largest rate over a second, buffer at the profile's rate
    mean_kbps: float = 0.0
    peak_kbps: float = 0.0
    buffer_kbit: float = 0.0
    # share (0..1) of pixels outside the figure that decode to black exactly, within `black.NEAR_PX` of it and
    # farther away; None: not measured
    black_near: float | None = None
    black_far: float | None = None


def measured(
    facts: StreamFacts,
    *,
    rate_kbps: float | None = None,
    black_near: float | None = None,
    black_far: float | None = None,
    loop: int | None = None,
) -> Measured:
    """Gather what `RateControl.next` needs from a file's facts.

    Parameters
    ----------
    rate_kbps : float, optional
        The profile's bit rate, at which the buffer is counted.
    black_near, black_far : float, optional
        See `Measured`.
    loop : int, optional
        Frames of the whole loop, where the file holds a part of it: what all of it would be is told.
    """
    rate = facts.rate
    sizes = facts.frame_bytes if loop is None else _continued(facts.frame_bytes, loop)
    mean = float(sum(sizes) * 8 * rate / len(sizes) / 1000) if rate and sizes else 0.0
    return Measured(
        bytes=facts.size_bytes + sum(sizes) - sum(facts.frame_bytes),
        largest_frame=max(sizes, default=0),
        header_bytes=facts.avi.header_bytes if facts.avi else 0,
        mean_kbps=mean,
        peak_kbps=peak_kbps(sizes, rate) if rate else 0.0,
        buffer_kbit=buffer_kbit(sizes, rate, rate_kbps) if rate and rate_kbps else 0.0,
        black_near=black_near,
        black_far=black_far,
    )


def _continued(sizes: tuple[int, ...], count: int) -> tuple[int, ...]:
    """Return the sizes of a loop's frames, if all of it is as the part between its first frame and its last.

    Those two are coded more finely than the others, and would weigh more in a part than in the loop.

    >>> _continued((9, 1, 2, 5), 7)
    (9, 1, 2, 1, 2, 1, 5)
    """
    first, *inner, last = sizes
    return first, *itertools.islice(itertools.cycle(inner), count - 2), last
