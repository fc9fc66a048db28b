"""All findings of a plan, in the order of the work: geometry, sight, light, room, safety."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from typing import Final, NamedTuple

from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.optics.advice import bodies, geometry, light, room, scales, sight
from ghostprep.optics.advice.draft import IN_A_WALL, NO_ROOM, Draft, Offer, trouble
from ghostprep.optics.advice.words import the
from ghostprep.optics.changes import Offset, changed
from ghostprep.optics.plan import Plan
from ghostprep.scene import Scene

_TOLD: Final = 2
"""Remedies that are told of one finding."""
_TRIED: Final = 30
"""Changed scenes that are measured for one plan."""
_WORSE: Final = 1.1
_WORSE_MM: Final = 0.5
"""A fault that grows by less is as bad as before."""
_NONE_FOUND: Final = "no single step mends it: let plan --solve look for another layout"
_OTHERS_FIRST: Final = "see to the other faults first"
_ALWAYS: Final = frozenset({"scene", "cords", "safety"})
_ROOM: Final = frozenset({"shelf", "cords"})
"""Subjects of findings that no layout can help."""


def collect_findings(plan: Plan, measure: Callable[[Scene], Plan]) -> tuple[Finding, ...]:
    """Return every finding of a plan; `measure` computes the plan of a scene, without findings.

    Every remedy is planned before it is told, and one that leaves the trouble is not. One that brings a new
    fault, or makes another one worse, is only told together with what mends that one too: so no two remedies
    send the builder to and fro.
    """
    drafts = list(found_in(plan))
    tries = _Tries(measure, plan.scene, _worst(drafts))
    # where time allows few tries, those for the faults come first
    order = sorted(range(len(drafts)), key=lambda n: drafts[n].level != "fault")
    settled = {n: _settled(drafts[n], tries) for n in order}
    return tuple(settled[n] for n in range(len(drafts)))


class _Tried(NamedTuple):
    """A remedy that was planned."""

    text: str  # what to do
    scene: Scene  # of then
    left: list[Draft]  # what is then to say
    new: list[Draft]  # the faults in it that were not there, or not as bad


class _Tries:
    """Plans remedies, as many as time allows."""

    def __init__(self, measure: Callable[[Scene], Plan], scene: Scene, faults: dict[str, float]) -> None:
        self.measure, self.scene, self.faults, self.left = measure, scene, faults, _TRIED
        self.place: Offset | None = None  # the screen's, which the scene leaves open, once one is told
        self.waits = False  # whether a remedy must wait until others are done

    def after(self, offers: Iterable[Offer], first: Scene | None = None) -> Iterator[_Tried]:
        """Yield the remedies that can stand; after a first one, those that change other keys of the scene."""
        for offer in offers:
            centre = offer.scene.screen.centre
            if self.left == 0 or (self.place is not None and centre not in {None, self.place}):
                self.waits = True
                continue
            if first is not None and changed(self.scene, first) & changed(first, offer.scene):
                continue
            self.left -= 1
            try:
                plan = self.measure(offer.scene)
            except InputError:
                continue
            left = list(found_in(plan))
            new = [d for d in left if _is_bad(d) and self._is_new(d)]
            yield _Tried(offer.said(plan), offer.scene, left, new)

    def settle(self, told: dict[str, Scene]) -> None:
        """Keep to the place for the screen that is told first, where the scene leaves it open."""
        if self.scene.screen.centre is None and self.place is None:
            centres = (scene.screen.centre for scene in told.values())
            self.place = next((centre for centre in centres if centre is not None), None)

    def _is_new(self, draft: Draft) -> bool:
        """Return whether a fault was not there before, or was not as bad."""
        before = self.faults.get(trouble(draft))
        return before is None or draft.by_mm > _WORSE * before + _WORSE_MM


def _worst(drafts: Iterable[Draft]) -> dict[str, float]:
    """Return the faults there are, each with how far it is from being none."""
    faults: dict[str, float] = {}
    for draft in drafts:
        if _is_bad(draft):
            faults[trouble(draft)] = max(draft.by_mm, faults.get(trouble(draft), 0.0))
    return faults


def _is_bad(draft: Draft) -> bool:
    """Return whether no remedy may bring this: a fault, or a player in one of the box's walls."""
    return draft.level == "fault" or draft.cause.startswith(IN_A_WALL)


def _settled(draft: Draft, tries: _Tries) -> Finding:
    kept, chained, half = dict[str, Scene](), False, dict[str, Scene]()
    offers = (offer for offer in draft.offers if not (offer.farther and kept))
    tries.waits = False
    for text, scene, left, new in tries.after(offers):
        if _stays(draft, left):
            continue
        if not new:
            kept[text] = scene
        elif len(new) == 1 and not kept and not chained:
            chained, half = True, {f"{text}; but then {_again(new[0])}": scene}
            # a fault that was there before has remedies of its own
            also = None if trouble(new[0]) in tries.faults else _mended(new[0], draft, scene, tries)
            if also is not None:
                kept[f"{text}; then also {also.text}"] = also.scene
        if len(kept) == _TOLD:
            break
    if draft.level != "fault":
        return draft.settled("; or ".join(kept) or draft.remedy)
    # half a remedy names the one thing in its way; nobody takes a fault in exchange for less
    tries.settle(kept or half)
    # what is tried in vain has no other words
    untold = draft.remedy or (_OTHERS_FIRST if tries.waits else _NONE_FOUND)
    return draft.settled("; or ".join(kept or half) or untold)


def _again(new: Draft) -> str:
    """Return in words what a remedy would bring."""
    told = re.sub(r"^it\b", the(new.subject), new.text)
    return told if the(new.subject) in told else f"{new.subject}: {told}"


def _stays(draft: Draft, left: list[Draft]) -> bool:
    return any(trouble(d) == trouble(draft) and d.level == draft.level for d in left)


def _mended(draft: Draft, first: Draft, scene: Scene, tries: _Tries) -> _Tried | None:
    """Return what mends a fault that a remedy brings, without bringing back the first trouble."""
    for tried in tries.after(draft.offers, scene):
        if not tried.new and not _stays(first, tried.left):
            return tried
    return None


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
