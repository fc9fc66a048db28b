"""A finding before its remedy is settled, and the remedies that are tried for it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Final

from ghostprep.finding import Finding
from ghostprep.optics.plan import Plan
from ghostprep.scene import Scene

PANE_OUTSIDE: Final = "the pane does not go into the box"
PANE_SMALL: Final = "the pane is too small"
NO_ROOM: Final = "the player has no room in the box"
IN_A_WALL: Final = "player in the wall: "
"""The causes from which other trouble follows; the last one leaves nothing else to say on the layout."""


@dataclass(frozen=True, slots=True)
class Offer:
    """One remedy: what to do, perhaps in figures of the plan that would follow, and the scene of then."""

    text: str | Callable[[Plan], str]
    scene: Scene
    farther: bool = False  # more of the one before it: not told beside another

    def said(self, plan: Plan) -> str:
        """Return what to do, given the plan that would follow."""
        return self.text if isinstance(self.text, str) else self.text(plan)


@dataclass(frozen=True, slots=True)
class Draft(Finding):
    """A finding with remedies that are planned before one is told; its own is told where no offer holds."""

    offers: Iterable[Offer] = ()  # the best first; made only when they are asked for
    cause: str = ""  # what trouble this is, where others follow from it
    follows: tuple[str, ...] = ()  # the causes from which this one follows: it is not told beside them
    by_mm: float = 0.0  # how far it is from being none

    def settled(self, remedy: str) -> Finding:
        """Return the finding with the remedy that is told."""
        return Finding(self.level, self.subject, self.text, remedy)


def trouble(finding: Finding) -> str:
    """Return what a finding is about, apart from its figures: two that give the same are the same trouble.

    >>> trouble(Finding("fault", "pane", "it reaches 3 1/2 in through the floor"))
    'pane: it reaches through the floor'
    """
    words = re.sub(r"-?\d[\d./]*( \d+/\d+)?( ?(mm|cm|in|px|degrees)\b)?", "", finding.text).split()
    return f"{finding.subject}: {' '.join(words[:6])}"
