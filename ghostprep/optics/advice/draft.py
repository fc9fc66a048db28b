"""A finding before its remedy is settled, and the remedies that are tried for it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from ghostprep.finding import Finding
from ghostprep.optics.plan import Plan
from ghostprep.scene import Scene


@dataclass(frozen=True, slots=True)
class Offer:
    """One remedy.

    Attributes
    ----------
    text : callable
        Says what to do, given the plan that would follow.
    scene : Scene
        The scene as it would then be.
    """

    text: Callable[[Plan], str]
    scene: Scene


def said(text: str, scene: Scene) -> Offer:
    """Return an offer whose words need no figure of the plan that follows."""
    return Offer(lambda _: text, scene)


@dataclass(frozen=True, slots=True)
class Draft:
    """A finding with remedies that are planned before one is told.

    Attributes
    ----------
    finding : Finding
        Its own remedy is told where no offer holds.
    offers : iterable of Offer
        The best first; made only when they are asked for.
    """

    finding: Finding
    offers: Iterable[Offer] = ()


def trouble(finding: Finding) -> str:
    """Return what a finding is about, apart from its figures: two that give the same are the same trouble.

    >>> trouble(Finding("fault", "pane", "it reaches 3 1/2 in through the floor"))
    'pane: it reaches through the floor'
    """
    words = re.sub(r"-?\d[\d./]*( \d+/\d+)?( ?(mm|cm|in|px|degrees)\b)?", "", finding.text).split()
    return f"{finding.subject}: {' '.join(words[:6])}"
