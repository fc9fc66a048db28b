"""All findings of a plan, in the order of the work: geometry, sight, light, room, safety."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Final

from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.optics.advice import bodies, geometry, light, room, safety, scales, sight
from ghostprep.optics.advice.draft import NO_ROOM, Draft, trouble
from ghostprep.optics.plan import Plan
from ghostprep.scene import Scene

_TOLD: Final = 2
_TRIED: Final = 12
_ALWAYS: Final = frozenset({"scene", "cords", "safety"})


def collect_findings(plan: Plan, measure: Callable[[Scene], Plan]) -> tuple[Finding, ...]:
    """Return every finding of a plan.

    Parameters
    ----------
    measure : callable
        Computes the plan of a scene, without findings: every remedy is planned before it is told, and
        one that leaves the trouble or brings a new fault is not.
    """
    drafts = list(_drafts(plan))
    faults = {trouble(d.finding) for d in drafts if d.finding.level == "fault"}
    found, tried = [], 0
    for draft in drafts:
        kept: list[str] = []
        for offer in draft.offers:
            if len(kept) == _TOLD or tried == _TRIED:
                break
            tried += 1
            try:
                after = measure(offer.scene)
            except InputError:
                continue
            left = found_in(after)
            mine = trouble(draft.finding)
            worse = {trouble(f) for f in left if f.level == "fault"} - faults
            if not worse and all(trouble(f) != mine for f in left):
                kept.append(offer.text(after))
        found.append(replace(draft.finding, remedy="; or ".join(kept)) if kept else draft.finding)
    return tuple(found)


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
