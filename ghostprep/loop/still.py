"""A still picture as a loop: it drifts slowly, and comes back."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from typing import Final

from ghostprep.errors import InputError
from ghostprep.loop.plan import How, LoopPlan, Mix
from ghostprep.loop.ways import plan_loop

STILL_S: Final = 8.0
"""Long enough for a drift that nobody sees move."""


def plan_still(
    rate: Fraction,
    *,
    drift: float,
    join: How = "search",
    crossfade_s: float | None = None,
    length_s: tuple[float, float] | None = None,
) -> LoopPlan:
    """Return the loop of a clip that has one frame.

    Parameters
    ----------
    rate : Fraction
        Frames a second.
    drift : float
        How far it goes to each side, as a share of the figure's height. It rises by half as much on its
        way, and is at rest where the loop starts over.
    join : {"search", "none", "fades"}
        "fades" comes out of the dark and goes back into it.
    crossfade_s : float, optional
        Seconds of each fade.
    length_s : (float, float), optional
        Shortest and longest loop, seconds. Default: 8.

    Raises
    ------
    InputError
        A join that one picture cannot have.
    """
    if join not in ("search", "none", "fades"):
        raise InputError(
            f"is {join}, and the clip is one picture, which has no end to join",
            where="--join",
            remedy="leave it out: the picture drifts and comes back; or use --join fades",
        )
    if crossfade_s is not None and join != "fades":
        raise InputError(
            "the clip is one picture: there is nothing to blend", where="--crossfade", remedy="leave it out"
        )
    seconds = STILL_S if length_s is None else min(max(STILL_S, length_s[0]), length_s[1])
    count = max(1, round(Fraction(seconds).limit_denominator(10**6) * rate))
    # the fades, and the place of the seam, are those of a clip of as many frames
    how: How = "fades" if join == "fades" else "none"
    plan = plan_loop(how, count, rate, crossfade_s=crossfade_s)
    steps = tuple(Mix(0, gain=mix.gain, shift=_place(i / count, drift)) for i, mix in enumerate(plan.steps))
    return replace(plan, steps=steps, first=0, last=0)


def _place(part: float, drift: float) -> tuple[float, float]:
    """Return where it is after a part of the loop, 0..1: right and down."""
    angle = 2 * math.pi * part
    return drift * math.cos(angle), -drift / 2 * math.sin(angle) ** 2
