"""All findings of a plan, in the order of the work: geometry, sight, light, room, safety."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Final

from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.optics.advice import bodies, geometry, light, room, scales, sight
from ghostprep.optics.advice.draft import IN_A_WALL, NO_ROOM, Draft, Offer, trouble
from ghostprep.optics.advice.words import the
from ghostprep.optics.plan import Plan
from ghostprep.scene import Scene
from ghostprep.words import counted

_TOLD: Final = 2
"""Remedies that are told of one finding."""
_TRIED: Final = 30
"""Changed scenes that are measured for one plan."""
_ALWAYS: Final = frozenset({"scene", "cords", "safety"})
_ROOM: Final = frozenset({"shelf", "cords"})
"""Subjects of findings that no layout can help."""


def collect_findings(plan: Plan, measure: Callable[[Scene], Plan]) -> tuple[Finding, ...]:
    """Return every finding of a plan; `measure` computes the plan of a scene, without findings.

    Every remedy is planned before it is told, and one that leaves the trouble is not. One that brings a new
    fault is only told together with what mends that one too.
    """
    drafts = list(found_in(plan))
    tries = _Tries(measure, {trouble(d) for d in drafts if _is_bad(d)})
    # where time allows few tries, those for the faults come first
    order = sorted(range(len(drafts)), key=lambda n: drafts[n].level != "fault")
    settled = {n: _settled(drafts[n], tries) for n in order}
    return tuple(settled[n] for n in range(len(drafts)))


class _Tries:
    """Plans remedies, as many as time allows."""

    def __init__(self, measure: Callable[[Scene], Plan], faults: set[str]) -> None:
        self.measure, self.faults, self.left = measure, faults, _TRIED

    def after(self, offers: Iterator[Offer]) -> Iterator[tuple[str, list[Draft], list[Draft]]]:
        """Yield of each remedy that can stand what to do, what is then to say, and the new faults of that."""
        for offer in offers:
            if self.left == 0:
                return
            self.left -= 1
            try:
                plan = self.measure(offer.scene)
            except InputError:
                continue
            left = list(found_in(plan))
            new = [d for d in left if _is_bad(d) and trouble(d) not in self.faults]
            yield offer.said(plan), left, new


def _is_bad(draft: Draft) -> bool:
    """Return whether no remedy may bring this: a fault, or a player in one of the box's walls."""
    return draft.level == "fault" or draft.cause.startswith(IN_A_WALL)


def _settled(draft: Draft, tries: _Tries) -> Finding:
    kept, chained, half, least = list[str](), False, "", list[Draft]()
    for text, left, new in tries.after(iter(draft.offers)):
        if _stays(draft, left):
            continue
        if not new:
            kept.append(text)
        elif not least or len(new) < len(least):
            half, least = f"{text}; but then {_again(new)}", new
        if new and not kept and not chained and len(new) == 1:
            chained = True
            if also := _mended(new[0], draft, tries):
                kept.append(f"{text}; then also {also}")
        if len(kept) == _TOLD:
            break
    # half a remedy names what is in the way; nobody takes a fault in exchange for less
    return draft.settled("; or ".join(kept) or (half if draft.level == "fault" else "") or draft.remedy)


def _again(new: list[Draft]) -> str:
    """Return in words what a remedy would bring."""
    first = new[0]
    told = re.sub(r"^it\b", the(first.subject), first.text)
    if the(first.subject) not in told:
        told = f"{first.subject}: {told}"
    return told + (f", and {counted(len(new) - 1, 'fault')} more" if len(new) > 1 else "")


def _stays(draft: Draft, left: list[Draft]) -> bool:
    return any(trouble(d) == trouble(draft) and d.level == draft.level for d in left)


def _mended(draft: Draft, first: Draft, tries: _Tries) -> str:
    """Return what mends a fault that a remedy brings, without bringing back the first trouble."""
    for text, left, new in tries.after(iter(draft.offers)):
        if not new and not _stays(first, left):
            return text
    return ""


def faults_of(plan: Plan) -> list[Draft]:
    """Return the faults that another layout may not have."""
    return [draft for draft in found_in(plan) if is_the_layouts(draft)]


def is_the_layouts(draft: Draft) -> bool:
    """Return whether it is a fault that another layout may not have: a shelf's stays in any."""
    return draft.level == "fault" and draft.subject not in _ROOM


def found_in(plan: Plan) -> Iterator[Draft]:
    """Yield what there is to say, no remedy tried; what only follows from something else is left out."""
    drafts = [d for part in (geometry, sight, bodies, scales, light, room) for d in part.findings(plan)]
    causes = {draft.cause: draft.level for draft in drafts if draft.cause}
    for draft in drafts:
        if NO_ROOM in causes and draft.cause != NO_ROOM and draft.subject not in _ALWAYS:
            continue
        # a caution hides no fault
        if not any(causes.get(cause) in {"fault", draft.level} for cause in draft.follows):
            yield draft
