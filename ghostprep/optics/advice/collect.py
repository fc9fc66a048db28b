"""All findings of a plan, in the order of the work: geometry, sight, light, room, safety."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Final

from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.optics.advice import bodies, geometry, light, room, safety, scales, sight
from ghostprep.optics.advice.draft import NO_ROOM, Draft, Offer, trouble
from ghostprep.optics.plan import Plan
from ghostprep.scene import Scene

_TOLD: Final = 2
_TRIED: Final = 9
_ALWAYS: Final = frozenset({"scene", "cords", "safety"})


def collect_findings(plan: Plan, measure: Callable[[Scene], Plan]) -> tuple[Finding, ...]:
    """Return every finding of a plan.

    Parameters
    ----------
    measure : callable
        Computes the plan of a scene, without findings: every remedy is planned before it is told, and
        one that leaves the trouble is not. One that brings a new fault is only told together with
        what mends that one too.
    """
    drafts = list(_drafts(plan))
    tries = _Tries(measure, {trouble(d.finding) for d in drafts if d.finding.level == "fault"})
    # where time allows few tries, those for the faults come first
    order = sorted(range(len(drafts)), key=lambda n: drafts[n].finding.level != "fault")
    settled = {n: _settled(drafts[n], tries) for n in order}
    return tuple(settled[n] for n in range(len(drafts)))


class _Tries:
    """Plans remedies, as many as time allows."""

    def __init__(self, measure: Callable[[Scene], Plan], faults: set[str]) -> None:
        self.measure = measure
        self.faults = faults
        self.left = _TRIED

    def after(self, offer: Offer) -> tuple[Plan, list[Draft]] | None:
        """Return the plan that follows a remedy, and what is then to say; None if it cannot stand."""
        if self.left == 0:
            return None
        self.left -= 1
        try:
            plan = self.measure(offer.scene)
        except InputError:
            return None
        return plan, list(_drafts(plan))

    def new(self, drafts: list[Draft]) -> list[Draft]:
        """Return the faults that were not there before."""
        return [d for d in drafts if d.finding.level == "fault" and trouble(d.finding) not in self.faults]


def _settled(draft: Draft, tries: _Tries) -> Finding:
    mine, kept = trouble(draft.finding), list[str]()
    chained = False
    for offer in draft.offers:
        if len(kept) == _TOLD:
            break
        if (found := tries.after(offer)) is None:
            continue
        plan, left = found
        if any(trouble(d.finding) == mine and d.finding.level == draft.finding.level for d in left):
            continue
        new = tries.new(left)
        if not new:
            kept.append(offer.text(plan))
        elif not kept and not chained and len(new) == 1:
            chained = True
            if also := _mended(new[0], mine, tries):
                kept.append(f"{offer.text(plan)}; then also {also}")
    return replace(draft.finding, remedy="; or ".join(kept)) if kept else draft.finding


def _mended(draft: Draft, mine: str, tries: _Tries) -> str:
    """Return what mends a fault that a remedy brings, without bringing back the first one."""
    for offer in draft.offers:
        if (found := tries.after(offer)) is None:
            continue
        plan, left = found
        faults = {trouble(d.finding) for d in left if d.finding.level == "fault"}
        if not tries.new(left) and mine not in faults:
            return offer.text(plan)
    return ""


def found_in(plan: Plan) -> list[Finding]:
    """Return the findings of a measured plan with their general remedies, none of them tried."""
    return [draft.finding for draft in _drafts(plan)]


def _drafts(plan: Plan) -> Iterator[Draft]:
    """Yield what there is to say; what only follows from something else is left out."""
    all_of_them = [
        found if isinstance(found, Draft) else Draft(found)
        for part in (geometry, sight, bodies, scales, light, room, safety)
        for found in part.findings(plan)
    ]
    causes = {draft.cause for draft in all_of_them if draft.cause}
    for draft in all_of_them:
        if NO_ROOM in causes and draft.cause != NO_ROOM and draft.finding.subject not in _ALWAYS:
            continue
        if not causes & set(draft.follows):
            yield draft
