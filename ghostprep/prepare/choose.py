"""Which stretch becomes the loop, and how its end meets its start."""

from __future__ import annotations

import re
import string
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.loop import (
    LoopCandidate,
    LoopPlan,
    better_method,
    join_at,
    loop_finding,
    plan_loop,
    plan_still,
    quietest,
)
from ghostprep.prepare.recipe import Recipe
from ghostprep.prepare.survey import Survey
from ghostprep.words import rate_words

FEWEST: Final = 4
"""Fewer frames are shown as they are: there is nothing to search."""


MOST: Final = 5
"""Loops that are offered: more would have to be read, not seen."""

_APART_S: Final = 0.5
"""Two loops that differ by less look alike: the figure has hardly moved on."""


@dataclass(frozen=True, slots=True)
class Choice:
    """The chosen loop."""

    plan: LoopPlan
    """In ticks of the survey's clock."""
    score: float
    """The search's own score, 1 or less is good; 0 where no search was made."""
    findings: tuple[Finding, ...]


def rank(seen: Survey, recipe: Recipe) -> list[LoopCandidate]:
    """Return the loops that the clip offers, best first, all of them different; may be empty."""
    return different(seen.loops(recipe.length), seen.rate)


def different(ranked: Sequence[LoopCandidate], rate: Fraction) -> list[LoopCandidate]:
    """Return the first few that a builder would call different, the smooth ones first.

    They differ in where they begin, or in how long they last.
    """
    kept: list[LoopCandidate] = []
    for one in ranked:
        starts = (abs(one.first - other.first) for other in kept)
        lengths = (abs(one.frames - other.frames) for other in kept)
        alike = (a < _APART_S * rate and b < _APART_S * rate for a, b in zip(starts, lengths, strict=True))
        if not any(alike):
            kept.append(one)
        if len(kept) == MOST:
            break
    return sorted(kept, key=lambda one: not one.smooth)


def choose(seen: Survey, recipe: Recipe) -> Choice:
    """Choose the loop that the recipe asks for; InputError: the clip is too short, or has no such loop."""
    count = len(seen.source)
    if count == 1:
        return Choice(_still(seen, recipe), 0.0, ())
    if recipe.drift is not None:
        raise InputError(
            f"moves a still picture, and the clip has {count} frames", where="--drift", remedy="leave it out"
        )
    if recipe.length is not None:
        _check_length(recipe.length, count, seen.rate, searched=recipe.join == "search")
    if recipe.pick not in {None, "best"} and count < FEWEST:
        raise InputError(
            f"chooses among loops, and the clip has {count} frames", where="--pick", remedy="leave it out"
        )
    if recipe.join != "search" or count < FEWEST:
        how = recipe.join if recipe.join != "search" else "none"
        plan = plan_loop(how, count, seen.rate, crossfade_s=recipe.crossfade, length_s=recipe.length)
        plan, measured = _better_mixed(plan, seen)
        ends = measured if how == "ends" else None
        finding = None if ends is None else loop_finding(ends, seen.named(ends))
        score = measured.score if measured is not None else 0.0
        return Choice(_seam_placed(plan, seen), score, () if finding is None else (finding,))
    candidate = picked(recipe.pick or "best", rank(seen, recipe), seen)
    finding = loop_finding(candidate, seen.named(candidate) if candidate else "")
    findings = () if finding is None else (finding,)
    if candidate is None:
        # nothing in the clip resembles itself: so nothing jumps, all of it is seen, and the builder is told
        back = choose(seen, replace(recipe, join="there-and-back", pick=None))
        return replace(back, findings=findings)
    plan = plan_loop("search", count, seen.rate, candidate=candidate, crossfade_s=recipe.crossfade)
    if recipe.crossfade is not None:
        plan, _ = _better_mixed(plan, seen)
    return Choice(_seam_placed(plan, seen), candidate.score, findings)


def _check_length(length_s: tuple[float, float], count: int, rate: Fraction, *, searched: bool) -> None:
    """Refuse a length that no loop of a clip of `count` frames can have."""
    least, most = (round(Fraction(seconds) * rate) for seconds in length_s)
    if most < 2:
        raise InputError(
            f"is less than two frames at {rate_words(rate)}", where="--length", remedy="ask for a longer loop"
        )
    if searched and least > count:
        back = " or use --join there-and-back" if least <= 2 * count - 2 else ""
        raise InputError(
            f"is too short: it lasts {float(count / rate):.2f} s, a loop of {length_s[0]:g} s is wanted",
            where="clip",
            remedy=f"ask for a shorter --length{back}",
        )


DRIFT: Final = 2.0
"""Percent of the figure's height that a still drifts to each side: 4 px of 200, in two seconds."""


def drift_of(recipe: Recipe) -> float:
    """Return how far a still drifts to each side, as a share of the figure's height."""
    return (DRIFT if recipe.drift is None else recipe.drift) / 100


def _still(seen: Survey, recipe: Recipe) -> LoopPlan:
    if recipe.pick is not None:
        raise InputError("the clip is one picture, and the one loop", where="--pick", remedy="leave it out")
    return plan_still(
        seen.rate,
        drift=drift_of(recipe),
        join=recipe.join,
        crossfade_s=recipe.crossfade,
        length_s=recipe.length,
    )


def _better_mixed(plan: LoopPlan, seen: Survey) -> tuple[LoopPlan, LoopCandidate | None]:
    """Return the plan with its blend made the better way, where the frames to judge it are kept."""
    if seen.fetch is None:
        return plan, None
    return better_method(plan, seen.strip, seen.fetch, seen.rate)


def _seam_placed(plan: LoopPlan, seen: Survey) -> LoopPlan:
    """Return the same loop, begun where a player's starting over shows least."""
    return plan if plan.join == "none" else plan.rotated(quietest(plan, seen.strip))


def picked(pick: str, ranking: list[LoopCandidate], seen: Survey) -> LoopCandidate | None:
    """Return the loop called `pick`: "best", a letter of `inspect`, or "FIRST-LAST" in source frames.

    Raises
    ------
    InputError
        No loop has that name, or the frames do not lie in the clip.
    """
    if pick == "best":
        return ranking[0] if ranking else None
    if found := re.fullmatch(r"(\d{1,9})-(\d{1,9})", pick):
        begin, end = int(found[1]), int(found[2])
        lowest, highest = int(seen.source[0]), len(seen.times) - 1
        first, last = seen.ticks(begin, end)
        if last - first < 2 or begin < lowest or end > highest:
            raise InputError(
                f"frames {begin} to {end} are no loop of this clip",
                where="--pick",
                remedy=f"name three frames or more within {lowest} to {highest}",
            )
        if seen.fetch is not None:
            return join_at(first, last, seen.strip, seen.fetch, seen.rate)
        return LoopCandidate(first, last, 0, "cut", score=float("inf"))
    letters = string.ascii_uppercase[: len(ranking)]
    if len(pick) == 1 and pick.upper() in letters:
        return ranking[letters.index(pick.upper())]
    raise InputError(
        f"{pick!r} is no loop of this clip",
        where="--pick",
        remedy=f"use best, one of {', '.join(letters) or 'none found'}, or FIRST-LAST",
    )
