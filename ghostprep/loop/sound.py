"""The clip's sound, cut and joined where the picture is."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

import numpy as np

from ghostprep.arrays import Samples
from ghostprep.errors import InputError
from ghostprep.loop.plan import LoopPlan
from ghostprep.loop.ways import FADE_POWER

CLICK_S: Final = 0.02
"""Sound is blended over at least this long, seconds: a cut would click."""


def sample_at(frame: int, rate: Fraction, sound_rate: int) -> int:
    """Return the sample at which a frame begins.

    >>> sample_at(30000, Fraction(30000, 1001), 48000)
    48048000
    """
    return round(Fraction(frame * sound_rate) / rate)


def loop_sound(samples: Samples, sound_rate: int, plan: LoopPlan, rate: Fraction) -> Samples:
    """Return the sound of a loop, exactly as long as its picture.

    Parameters
    ----------
    samples : ndarray of float32, shape (n, channels)
        The clip's sound from its first frame on, -1..1. After its end there is silence.
    sound_rate : int
        Samples a second.
    plan : LoopPlan
        What the picture does: the sound is cut at the same frames, blended with equal power over the
        same time (at least 20 ms), faded where the picture fades, and begun at the same moment.

    Returns
    -------
    ndarray of float32, shape (m, channels)
        m is the loop's duration times `sound_rate`, to the nearest sample.

    Raises
    ------
    InputError
        The loop runs backwards.

    Notes
    -----
    Equal power means weights sin and cos: two sounds without relation to each other, such as a room's murmur
    at two moments, keep their loudness.
    """
    if samples.ndim != 2:
        raise ValueError(f"samples have the shape {samples.shape}, they must be (n, channels)")
    if plan.join == "there-and-back":
        raise InputError(
            "a sound cannot run backwards with a there-and-back picture",
            where="--sound keep",
            remedy="use --sound none, or another --join",
        )
    length = sample_at(len(plan), rate, sound_rate)
    start = sample_at(plan.first, rate, sound_rate)
    sound = _piece(samples, start, length)
    if plan.join == "fades":
        ramp = sample_at(plan.blend, rate, sound_rate)
        distance = np.minimum(np.arange(length), length - np.arange(length))
        gain = np.sin(np.pi / 2 * np.minimum(distance / max(ramp, 1), 1)) ** (FADE_POWER / 2)
        sound = sound * gain[:, None].astype(np.float32)
    else:
        sound = _joined(samples, sound, start, max(plan.blend / rate, Fraction(CLICK_S)) * sound_rate)
    return np.roll(sound, -sample_at(plan.begun, rate, sound_rate), axis=0)


def _joined(samples: Samples, sound: Samples, start: int, blend: Fraction) -> Samples:
    """Blend the end into what comes before the start, or the start into what comes after the end."""
    count, end = min(round(blend), len(sound) // 2), start + len(sound)
    # the middle of each sample's time, so that the weights are the same read from either side
    angle = (np.pi / 2 * (np.arange(count) + 0.5) / max(count, 1))[:, None].astype(np.float32)
    falling, rising = np.cos(angle), np.sin(angle)
    joined = sound.copy()
    if start >= count:
        tail = len(sound) - count
        joined[tail:] = sound[tail:] * falling + _piece(samples, start - count, count) * rising
    elif end + count <= len(samples):
        joined[:count] = _piece(samples, end, count) * falling + sound[:count] * rising
    else:  # nothing to blend with: down to silence and up again
        joined[:count] *= rising
        joined[len(sound) - count :] *= falling
    return joined


def _piece(samples: Samples, start: int, length: int) -> Samples:
    """Return `length` samples from `start` on, with silence where there are none."""
    piece = np.zeros((length, samples.shape[1]), np.float32)
    low, high = max(start, 0), min(start + length, len(samples))
    if high > low:
        piece[low - start : high - start] = samples[low:high]
    return piece
