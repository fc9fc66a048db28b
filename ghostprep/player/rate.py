"""Chooses the frame rate: frames are dropped or repeated on purpose or not at all."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from ghostprep.errors import InputError
from ghostprep.player.h264_level import highest_rate, level_named
from ghostprep.player.profile import Profile, RateLimits

RELABEL: Final = Fraction(1, 1000)
"""Largest change of speed that nobody sees, and that 30000/1001 to 30 needs exactly."""


@dataclass(frozen=True, slots=True)
class RateChoice:
    """A rate, and which source frames it shows."""

    rate: Fraction  # output frames a second
    # ``fewer``: every `step`-th source frame, exactly; ``relabelled``: every `step`-th source frame, played
    # faster or slower by at most 0.1 %; ``repeated``: each source frame shown `step` times; ``resampled``: at
    # the nearest times
    how: Literal["same", "fewer", "relabelled", "repeated", "resampled"]
    step: int = 1  # see `how`


def plan_rate(profile: Profile, source: Fraction, *, raster: tuple[int, int] | None = None) -> RateChoice:
    """Choose the best rate that the player takes, for a clip of a given rate.

    In this order: the clip's own; an exact part of it; a whole number within 0.1 % of it
    or of a part of it, with the same frames; an exact multiple, if the player takes only
    higher rates; else the highest allowed rate, with frames dropped or doubled.

    Parameters
    ----------
    source : Fraction
        The clip's frames a second.
    raster : (int, int), optional
        Width and height of the output: at a large one an H.264 level allows fewer frames.

    Raises
    ------
    InputError
        The source rate is not above 0.

    Examples
    --------
    >>> from ghostprep.player.profile_files import load_profile
    >>> plan_rate(load_profile("mjpeg-avi-qvga"), Fraction(30000, 1001))
    RateChoice(rate=Fraction(15, 1), how='relabelled', step=2)
    """
    if source <= 0:
        raise InputError(f"frame rate is {source}, it must be above 0")
    limits = _limits_at(profile, raster)
    if limits.takes(source):
        return RateChoice(source, "same")
    lowest = min(limits.choices) if limits.choices else limits.least
    highest = max(limits.choices) if limits.choices else limits.largest
    # the largest step still gives the lowest rate, stretched by RELABEL
    steps = range(1, math.floor(source * (1 + RELABEL) / lowest) + 1)
    for step in steps[1:]:
        if limits.takes(source / step):
            return RateChoice(source / step, "fewer", step)
    for step in steps:
        near = [Fraction(round(source / step)), *limits.choices]
        for rate in near:
            if limits.takes(rate) and abs(rate * step - source) <= RELABEL * source:
                return RateChoice(rate, "relabelled", step)
    for times in range(2, math.floor(highest / source) + 1):
        if limits.takes(source * times):
            return RateChoice(source * times, "repeated", times)
    if limits.choices:
        below = [choice for choice in limits.choices if choice <= source]
        return RateChoice(max(below) if below else lowest, "resampled")
    rate = Fraction(math.floor(highest)) if limits.whole else highest
    return RateChoice(rate if source > lowest else Fraction(math.ceil(lowest)), "resampled")


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


def choose_rate(profile: Profile, source: Fraction, *, raster: tuple[int, int] | None = None) -> Fraction:
    """Return the best rate that the player takes for a clip of a given rate; see `plan_rate`."""
    return plan_rate(profile, source, raster=raster).rate
