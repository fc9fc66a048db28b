"""Choose how two frames are mixed, by what it costs."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Final

from ghostprep.loop.candidate import Candidate, Method
from ghostprep.loop.measure import Look, Usual
from ghostprep.loop.plan import LoopPlan
from ghostprep.loop.refine import Frames, rank, usual_of
from ghostprep.loop.strip import Strip
from ghostprep.loop.thumbnail import Pixels, shrink

_METHODS: Final[tuple[Method, ...]] = ("crossfade", "flow")
_SAMPLES: Final = 12


def better_method(
    plan: LoopPlan, strip: Strip, fetch: Callable[[int], Pixels], rate: Fraction
) -> tuple[LoopPlan, Candidate | None]:
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
    join : Candidate or None
        Its join as measured; None where there is none to measure.
    """
    if plan.join == "fades" or plan.last - plan.first < 2:
        return plan, None
    usual = usual_of(strip, plan.first, plan.last)
    if plan.join == "there-and-back":
        return _for_turns(plan, usual, fetch), None
    frames = Frames(fetch, plan.last - plan.first + 1)
    methods: tuple[Method, ...] = _METHODS if plan.blend else ("cut",)
    forms = [frames.measure(plan.first - plan.blend, plan.blend, method, usual) for method in methods]
    best = min(forms, key=lambda form: rank(form, rate))
    return plan.mixed_by(best.method), best


def _for_turns(plan: LoopPlan, usual: Usual, fetch: Callable[[int], Pixels]) -> LoopPlan:
    mixes = sorted({(mix.a, mix.b, mix.weight) for mix in plan.steps if mix.b is not None})
    if not mixes:
        return plan
    looks = [
        (Look(shrink(fetch(a)), shrink(fetch(b))), weight)
        for a, b, weight in mixes[:: -(-len(mixes) // _SAMPLES)]
    ]

    def cost(method: Method) -> float:
        found = [look.mixed(weight, method)[1] for look, weight in looks]
        return max(m.double / usual.median + 2.5 * (1 - m.dip) for m in found)

    return plan.mixed_by(min(_METHODS, key=cost))
