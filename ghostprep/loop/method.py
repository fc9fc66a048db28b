"""Choose how two frames are mixed, by what it costs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import Final

from ghostprep.arrays import Frame
from ghostprep.loop.candidate import LoopCandidate, Method
from ghostprep.loop.measure import MeasuredPair, Usual
from ghostprep.loop.parts import PartMotion
from ghostprep.loop.plan import LoopPlan
from ghostprep.loop.refine import PairedFrames, rank, usual_of
from ghostprep.loop.strip import ThumbnailStrip
from ghostprep.loop.thumbnail import shrink

_METHODS: Final[tuple[Method, ...]] = ("crossfade", "flow")
_SAMPLES: Final = 12
"""Frames of the turns that are measured: each costs two motions."""


def better_method(
    plan: LoopPlan, strip: ThumbnailStrip, fetch: Callable[[int], Frame], rate: Fraction
) -> tuple[LoopPlan, LoopCandidate | None]:
    """Return the plan with its frames mixed the better way, and its join as measured; None: there is none.

    The plan has blends of a length that somebody asked for or of the clip's ends, or turns there and back.
    `strip`, `fetch` and `rate` are as for `search`.
    """
    if plan.join == "fades" or plan.last - plan.first < 2:
        return plan, None
    usual = usual_of(strip, plan.first, plan.last - plan.blend)
    if plan.join == "there-and-back":
        return _for_turns(plan, usual, fetch), None
    usual = replace(usual, parts=PartMotion(strip, plan.first, plan.last - plan.blend))
    frames = PairedFrames(fetch, plan.last - plan.first + 1)
    methods: tuple[Method, ...] = _METHODS if plan.blend else ("cut",)
    forms = [[*frames.measure(plan.first - plan.blend, plan.blend, how, usual)][-1] for how in methods]
    best = min(forms, key=lambda form: rank(form, rate))
    return plan.mixed_by(best.method), best


def _for_turns(plan: LoopPlan, usual: Usual, fetch: Callable[[int], Frame]) -> LoopPlan:
    mixes = sorted({(step.a, step.b, step.weight) for step in plan.steps if step.b is not None})
    if not mixes:
        return plan
    looks = [
        (MeasuredPair(shrink(fetch(a)), shrink(fetch(b))), weight)
        for a, b, weight in mixes[:: -(-len(mixes) // _SAMPLES)]
    ]

    def cost(method: Method) -> float:
        found = [look.mixed(weight, method)[1] for look, weight in looks]
        return max(m.double / usual.median + 2.5 * (1 - m.dip) for m in found)

    return plan.mixed_by(min(_METHODS, key=cost))
