"""The ways in which a clip, or a still picture, can be made to repeat."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from typing import Final

from ghostprep.errors import InputError
from ghostprep.joins import How
from ghostprep.loop.candidate import LoopCandidate, Method
from ghostprep.loop.plan import Blend, LoopPlan, weights

ENDS_S: Final = 0.5
"""Crossfade of end into start, common practice, no source."""
FADE_S: Final = 1.0
"""Seconds from dark to full light, and back."""
TURN_S: Final = 0.4
"""Seconds in which a there-and-back slows down to its turn."""
STILL_S: Final = 8.0
"""Seconds of a still's loop: long enough for a drift that nobody sees move."""
FADE_POWER: Final = 2.2
"""A fade that looks even to the eye is even in signal, not in light."""


def plan_loop(
    how: How,
    count: int,
    rate: Fraction,
    *,
    candidate: LoopCandidate | None = None,
    crossfade_s: float | None = None,
    length_s: tuple[float, float] | None = None,
) -> LoopPlan:
    """Say which source frames make each frame of the loop.

    Parameters
    ----------
    how : {"search", "ends", "there-and-back", "fades", "none"}
        "search" loops `candidate`; "ends" blends the clip's end into its start; "there-and-back" plays it
        forwards and backwards; "fades" comes from black and goes to black; "none" repeats it as it is.
    count : int
        Frames of the clip.
    candidate : LoopCandidate, optional
        Needed for "search".
    crossfade_s : float, optional
        Seconds of the blend, of each turn's slowing down, or of each fade. 0 is a cut. Default: the
        candidate's blend, 0.5, 0.4 and 1.
    length_s : (float, float), optional
        Shortest and longest length in seconds, for all but "search": the clip is shortened to the longest.

    Raises
    ------
    InputError
        The clip is too short for what is asked.
    """
    if how == "search":
        if candidate is None:
            raise ValueError("a search plan needs the candidate that was found")
        return _found(candidate, count, rate, crossfade_s)
    # to the nearest frame: at 30000/1001 frames a second 8 s are no whole number of frames
    longest = count if length_s is None else max(1, _frames(length_s[1], rate))
    used = min(count, longest)
    if how == "ends":
        plan = _ends(count, rate, crossfade_s, longest)
    elif how == "there-and-back":
        plan = _there_and_back(count if length_s is None else min(count, longest // 2 + 1), rate, crossfade_s)
    elif how == "fades":
        plan = _fades(used, rate, crossfade_s)
    else:
        plan = _weighted("none", 0, used - 1, 0, "cut")
    # there and back makes even numbers of frames only
    spare = 1 if how == "there-and-back" else 0
    if length_s is not None and len(plan) < _frames(length_s[0], rate) - spare:
        raise InputError(
            f"is too short: it gives a loop of {float(len(plan) / rate):.2f} s, {length_s[0]:g} s are wanted",
            where="clip",
            remedy="ask for a shorter --length or take another --join",
        )
    return plan


def _frames(seconds: float, rate: Fraction) -> int:
    return max(0, round(Fraction(seconds).limit_denominator(10**6) * rate))


def _weighted(how: How, first: int, last: int, blend: int, method: Method) -> LoopPlan:
    """Blend the last `blend` frames of first..last with those before `first`, rising."""
    frames = [Blend(i) for i in range(first, last + 1)]
    for i, weight in enumerate(weights(blend, method)):
        frames[len(frames) - blend + i] = Blend(last - blend + 1 + i, first - blend + i, weight)
    count = len(frames)
    return LoopPlan(
        tuple(frames), first, last, blend, method if blend else "cut", how,
        join_steps=tuple(sorted({(count - blend - 1 + i) % count for i in range(blend + 1)})),
        blend_frames=tuple(range(count - blend, count)),
    )  # fmt: skip


def _found(candidate: LoopCandidate, count: int, rate: Fraction, crossfade_s: float | None) -> LoopPlan:
    first, last = candidate.first, candidate.last
    if last >= count:
        raise InputError(
            f"the loop ends at frame {last}, the clip has {count}", where="loop", remedy="take another loop"
        )
    blend = candidate.blend if crossfade_s is None else _frames(crossfade_s, rate)
    mixing: Method = "crossfade" if candidate.method == "cut" else candidate.method
    if candidate.slow and crossfade_s is None:
        return _slowed(first, last, candidate.slow)
    if blend >= candidate.frames:
        raise InputError(
            f"a blend of {blend} frames does not fit a loop of {candidate.frames}",
            where="--crossfade",
            remedy=f"ask for less than {float(candidate.frames / rate):.2f} s",
        )
    if blend <= first:
        return _weighted("search", first, last, blend, mixing)
    if last + blend < count:
        # nothing before the loop to blend from: the same blend, with the frames after it, begun where it ends
        return _weighted("search", first + blend, last + blend, blend, mixing).rotated(-blend)
    raise InputError(
        f"a blend of {blend} frames needs as many before frame {first} or after frame {last}; the clip has"
        f" {first} and {count - 1 - last}",
        where="--crossfade",
        remedy=f"ask for at most {float(max(first, count - 1 - last) / rate):.2f} s",
    )


def _slowed(first: int, last: int, over: int) -> LoopPlan:
    """Cut from `last` to `first`, with the `over` steps around the cut, an odd number, shown in one more."""
    count, before = last - first + 1, over // 2
    start = count - 1 - before
    places = [start + Fraction(k * over, over + 1) for k in range(1, over + 1)]
    mixes = [
        Blend(first + at % count, first + (at + 1) % count, float(place - at))
        for place in places
        for at in [math.floor(place)]
    ]
    plain = [Blend(first + i) for i in range(before, start + 1)]
    plan = LoopPlan(
        (*plain, *mixes), first, last, 0, "flow", "search",
        join_steps=tuple(range(len(plain) - 1, count + 1)),
        blend_frames=tuple(range(len(plain), count + 1)),
    )  # fmt: skip
    # begun, as all loops, where `first` would be: the sound is cut there
    return replace(plan.rotated(len(plain) + sum(place < count for place in places)), begun=0)


def _ends(count: int, rate: Fraction, seconds: float | None, longest: int) -> LoopPlan:
    blend = _frames(ENDS_S, rate) if seconds is None else _frames(seconds, rate)
    used = min(count, longest + blend)
    if seconds is None:
        blend = min(blend, max(0, (used - 1) // 3))
        used = min(count, longest + blend)
    if used < 2 * blend + 1:
        raise InputError(
            f"has {count} frames, a crossfade of {blend} needs {2 * blend + 1}",
            where="clip",
            remedy="ask for a shorter --crossfade",
        )
    return _weighted("ends", blend, used - 1, blend, "crossfade")


def _fades(used: int, rate: Fraction, seconds: float | None) -> LoopPlan:
    fade = _frames(FADE_S, rate) if seconds is None else _frames(seconds, rate)
    fade = min(fade, used // 2) if seconds is None else fade
    if 2 * fade > used:
        raise InputError(
            f"has {used} frames, two fades of {fade} do not fit",
            where="clip",
            remedy="ask for a shorter --crossfade",
        )
    # the seam's frame is black once, not twice: frame 0 is black, the last is one step short of it
    frames = tuple(Blend(i, gain=fade_gain(min(i, used - i), fade)) for i in range(used))
    return LoopPlan(frames, 0, used - 1, fade, "cut", "fades")


def fade_gain(distance: int, fade: int) -> float:
    """Return the factor on the light, 0..1, at `distance` frames from black in a fade of `fade` frames."""
    if fade == 0 or distance >= fade:
        return 1.0
    return float(math.sin(math.pi / 2 * distance / fade) ** FADE_POWER)


def _there_and_back(used: int, rate: Fraction, seconds: float | None) -> LoopPlan:
    if used < 2:
        raise InputError("has a single frame", where="clip", remedy="use --join none for a still")
    turn = _frames(TURN_S, rate) if seconds is None else _frames(seconds, rate)
    turn = min(turn, (used - 1) // 2)
    turn -= turn % 2  # an even turn leaves all frames between the turns on whole source frames
    forth = [_eased(i, used - 1, turn) for i in range(used)]
    path = forth + forth[-2:0:-1]
    frames = tuple(_between(position) for position in path)
    total = len(frames)
    # where it is slower than half: farther out the steps are the clip's own
    near = range(-(turn // 2), turn // 2) if turn else range(-1, 1)
    slow = sorted({(at + i) % total for at in (0, used - 1) for i in near})
    return LoopPlan(
        frames, 0, used - 1, turn, "crossfade" if turn else "cut", "there-and-back",
        join_steps=tuple(slow),
        blend_frames=tuple(i for i, mix in enumerate(frames) if mix.b is not None),
    )  # fmt: skip


def _eased(i: int, last: int, turn: int) -> Fraction:
    """Return the source position after `i` of `last` steps, at rest at both ends.

    Within `turn` steps of an end the speed falls evenly from one source frame a step to none, which covers
    half as many frames; so the turns lie half a `turn` inside the stretch, and between them position is time.
    """
    if i > last - i:
        return last - _eased(last - i, last, turn)
    if i >= turn:
        return Fraction(i)
    return Fraction(turn, 2) + Fraction(i * i, 2 * turn)


def _between(position: Fraction) -> Blend:
    whole = math.floor(position)
    part = position - whole
    return Blend(whole) if part == 0 else Blend(whole, whole + 1, float(part))


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
    count = max(1, _frames(seconds, rate))
    # the fades, and the place of the seam, are those of a clip of as many frames
    how: How = "fades" if join == "fades" else "none"
    plan = plan_loop(how, count, rate, crossfade_s=crossfade_s)
    steps = tuple(
        Blend(0, gain=step.gain, shift=_drifted(i / count, drift)) for i, step in enumerate(plan.steps)
    )
    return replace(plan, steps=steps, first=0, last=0)


def _drifted(part: float, drift: float) -> tuple[float, float]:
    """Return where it is after a part of the loop, 0..1: right and down."""
    angle = 2 * math.pi * part
    return drift * math.cos(angle), -drift / 2 * math.sin(angle) ** 2
