"""Takes the flashing out of a loop: limits how fast light and red may change.

The limit is the largest that cannot flash too often, whatever the clip does. Between
the first and the last of seven transitions lie six changes of a tenth of white's
luminance each, so a spot that moves less than six tenths of white within one second
cannot make the seventh that would be more than three flashes (WCAG 2.2, SC 2.3.1).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import Final

import numpy as np

from ghostprep.arrays import Codes, Figure, Light
from ghostprep.transfer import codes_to_light, figure_of_light, luminance

_PATH: Final = 0.6
"""Six changes of 0.1 of white."""

_MARGIN: Final = 0.92
"""Room for the rounding to 8-bit codes and for what the encoder does to them."""

_MOST_ROUNDS: Final = 8
_SETTLED: Final = 1 / 1024
"""Rounds at most; the last is one that changes no light by a thousandth of white."""

_RED_SHARE: Final = 0.76
"""Saturated red starts at a share of 0.8; the rest is room for the encoder's chroma."""


def calm_step(rate: Fraction) -> float:
    """Return the largest change of linear light per frame (white = 1) that cannot flash too often.

    Raises
    ------
    ValueError
        The rate is not above 0.

    Examples
    --------
    >>> round(calm_step(Fraction(25)), 4)
    0.0221
    """
    if rate <= 0:
        raise ValueError(f"rate is {rate}, it must be above 0")
    return _PATH * _MARGIN / math.ceil(rate)


def calm(frames: Callable[[], Iterator[Codes]], rate: Fraction, *, red: bool = False) -> Iterator[Figure]:
    """Limit each pixel's change per frame, as if the loop had long been running.

    A pixel follows its clip as fast as it may, so lightning becomes a glow, a flicker
    becomes nearly steady, and what moves slowly stays as it is. What moves fast leaves a trail.

    Parameters
    ----------
    frames : callable
        Gives the loop's frames, RGB codes (h, w, 3) of 8 or 16 bits, anew each time it is
        called: three times or more, ten times at most.
    rate : Fraction
        Frames a second.
    red : bool
        Also take saturated reds back to where they are none; needed where red flashes were found.

    Yields
    ------
    ndarray of uint16 (h, w, 3)
        As many frames as the loop has.

    Raises
    ------
    ValueError
        The rate is not above 0.
    """
    step = np.float32(calm_step(rate))
    held = _mean(frames())  # start from the mean: a strobe would stay near its first frame, dark or bright
    for _ in range(_MOST_ROUNDS):
        # the loop has no beginning: run until the first frame follows from the last
        before = held
        for frame in frames():
            held = _towards(held, codes_to_light(frame), step)
        if float(np.abs(held - before).max()) < _SETTLED:
            break
    for frame in frames():
        held = _towards(held, codes_to_light(frame), step)
        yield figure_of_light(less_red(held) if red else held)


def less_red(light: Light) -> Light:
    """Return linear RGB (..., 3) whose saturated reds are mixed with grey of their own luminance.

    The share of red falls to 0.76, under the 0.8 at which a red is saturated; all other
    colours stay as they are.
    """
    total = light.sum(axis=-1)
    grey = luminance(light)
    # share of red after mixing in m of grey: ((1 - m) R + m Y) / ((1 - m) T + 3 m Y) = s, solved for m
    over = light[..., 0] - np.float32(_RED_SHARE) * total
    under = np.float32(3 * _RED_SHARE - 1) * grey
    mix = np.divide(over, over + under, out=np.zeros_like(over), where=over > 0)
    mixed: Light = light + mix[..., None] * (grey[..., None] - light)
    return mixed


def _mean(frames: Iterator[Codes]) -> Light:
    total, count = np.zeros(1, np.float32), 0
    for frame in frames:
        total, count = total + codes_to_light(frame), count + 1
    return np.asarray(total / max(count, 1), np.float32)


def _towards(held: Light, wanted: Light, step: np.float32) -> Light:
    moved: Light = held + np.clip(wanted - held, -step, step)
    return moved
