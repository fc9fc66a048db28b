"""Choose how two frames are mixed, by what it costs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import Final

from ghostprep.loop.candidate import Candidate, Method
from ghostprep.loop.measure import Measures, Usual, candidate_of, measure_frames, measure_mix
from ghostprep.loop.plan import LoopPlan
from ghostprep.loop.refine import rank
from ghostprep.loop.strip import Strip
from ghostprep.loop.thumbnail import Pixels, shrink

_METHODS: Final[tuple[Method, ...]] = ("crossfade", "flow")
_SAMPLES: Final = 12


def better_method(
    plan: LoopPlan, strip: Strip, fetch: Callable[[int], Pixels], rate: Fraction
) -> tuple[LoopPlan, Measures | None]:
    """Return the plan with its frames mixed the better way, and what was measured.

    Parameters
    ----------
    plan : LoopPlan
        Blends of a length that somebody asked for, of the clip's ends, or the turns of a there-and-back.
    strip, fetch, rate
        As for `search`.

    Returns
    -------
    plan : LoopPlan
    measures : Measures or None
        Of its join; None where there is no join to measure.
    """
    usual = Usual.of(strip.steps[plan.first : plan.last], strip.jerks[plan.first : plan.last - 1])
    if plan.join == "fades" or plan.last - plan.first < 2:
        return plan, None
    if plan.join == "there-and-back":
        return _for_turns(plan, usual, fetch)
    lag, begin = plan.last - plan.first + 1, plan.first - plan.blend
    before = [shrink(fetch(i)) for i in range(begin + lag - 2, begin + lag + plan.blend)]
    after = [shrink(fetch(i)) for i in range(begin, begin + plan.blend + 2)]
    forms: list[tuple[Candidate, Measures]] = []
    for method in _METHODS if plan.blend else ("cut",):
        found = measure_frames(before, after, method, usual)
        forms.append((candidate_of(begin, lag, plan.blend, method, found), found))
    best, measures = min(forms, key=lambda form: rank(form[0], rate))
    return replace(plan, method=best.method), measures


def _for_turns(
    plan: LoopPlan, usual: Usual, fetch: Callable[[int], Pixels]
) -> tuple[LoopPlan, Measures | None]:
    mixes = sorted({mix for mix in plan.steps if mix.b is not None}, key=lambda mix: (mix.a, mix.weight))
    if not mixes:
        return plan, None
    costs: list[tuple[float, Method]] = []
    for method in _METHODS:
        cost = 0.0
        for mix in mixes[:: -(-len(mixes) // _SAMPLES)]:
            a, b = shrink(fetch(mix.a)), shrink(fetch(mix.b if mix.b is not None else mix.a))
            found = measure_mix(a, b, mix.weight, method)
            cost = max(cost, found.double / usual.median + 2.5 * (1 - found.dip))
        costs.append((cost, method))
    return replace(plan, method=min(costs)[1]), None
