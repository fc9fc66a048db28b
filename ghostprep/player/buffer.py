"""How much data piles up: the decoder's buffer and the busiest second."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction


def peak_kbps(frame_bytes: Sequence[int], rate: Fraction) -> float:
    """Return the largest rate over any one second of a file that plays over and over.

    Parameters
    ----------
    frame_bytes : sequence of int
        Bytes of each picture, in order.
    rate : Fraction
        Frames a second.

    Returns
    -------
    float
        In 1000 bit/s.

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
    """Return the buffer that a decoder needs when data arrive at a steady rate.

    Every picture is taken out of the buffer at once when its time comes [1]_, and the
    file plays over and over, so two laps are counted.

    Parameters
    ----------
    frame_bytes : sequence of int
        Bytes of each picture, in order.
    rate : Fraction
        Frames a second.
    rate_kbps : float
        At which data arrive, in 1000 bit/s.

    Returns
    -------
    float
        In 1000 bit. If the pictures' mean exceeds the rate there is no end to it; the
        figure is then that of two laps.

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
