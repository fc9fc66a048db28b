"""Chooses the frame rate: frames are dropped or repeated on purpose or not at all."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Final

from ghostprep.errors import InputError
from ghostprep.player.h264_level import highest_rate, level_named
from ghostprep.player.profile import Profile, RateLimits

RELABEL: Final = Fraction(1, 1000)
"""Largest change of speed that nobody sees, and that 30000/1001 to 30 needs exactly."""


def choose_rate(profile: Profile, source: Fraction, *, raster: tuple[int, int] | None = None) -> Fraction:
    """Choose the best rate that the player takes, for a clip of a given rate.

    In this order: the clip's own, or a whole number within 0.1 % of it, with the same frames;
    every second, third ... frame of it in the same way; an exact multiple, if the player takes
    only higher rates; else the highest allowed rate, with frames dropped or doubled.

    Parameters
    ----------
    source : Fraction
        The clip's frames a second.
    raster : (int, int), optional
        Of the output: at a large one an H.264 level allows fewer frames.

    Examples
    --------
    >>> from ghostprep.player.profile_files import load_profile
    >>> choose_rate(load_profile("mjpeg-avi-qvga"), Fraction(30000, 1001))
    Fraction(15, 1)
    """
    if source <= 0:
        raise InputError(f"frame rate is {source}, it must be above 0")
    limits = _limits_at(profile, raster)
    if limits.takes(source):
        return source
    lowest = min(limits.choices) if limits.choices else limits.least
    highest = max(limits.choices) if limits.choices else limits.largest
    # the largest step still gives the lowest rate, stretched by RELABEL
    steps = range(1, math.floor(source * (1 + RELABEL) / lowest) + 1)
    for step in steps:
        for rate in (source / step, Fraction(round(source / step)), *limits.choices):
            if limits.takes(rate) and abs(rate * step - source) <= RELABEL * source:
                return rate
    for times in range(2, math.floor(highest / source) + 1):
        if limits.takes(source * times):
            return source * times
    if limits.choices:
        below = [choice for choice in limits.choices if choice <= source]
        return max(below) if below else lowest
    rate = Fraction(math.floor(highest)) if limits.whole else highest
    return rate if source > lowest else Fraction(math.ceil(lowest))


def _limits_at(profile: Profile, raster: tuple[int, int] | None) -> RateLimits:
    """Return the profile's rates, no higher than its level decodes at a raster."""
    limits = profile.rate
    if raster is None or profile.h264 is None:
        return limits
    most = highest_rate(level_named(profile.h264.level), raster)
    if most >= limits.largest or most < limits.least:
        return limits  # a raster that is too large at any rate is refused elsewhere
    return RateLimits(
        least=limits.least,
        largest=most,
        whole=limits.whole,
        choices=tuple(choice for choice in limits.choices if choice <= most),
    )
