"""What tells the layouts of one scene apart: figures, what is for and against each, faults that remain."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Final

from ghostprep.finding import Finding
from ghostprep.optics.advice.words import Words, listed
from ghostprep.optics.edges import Trim, is_wide, share_of_opening
from ghostprep.optics.plan import Plan

_ALIKE: Final = 0.03
"""Figures within this share of each other count as alike."""
_MEASURES: Final[tuple[tuple[Callable[[Plan], float], str, str], ...]] = (
    (lambda p: -math.prod(p.pane.cut), "smallest pane", "largest pane"),
    (
        lambda p: -math.prod(p.sight.baffle.size) if p.sight.baffle else 0.0,
        "smallest baffle",
        "largest baffle",
    ),
    (lambda p: p.light.contrast, "brightest", "faintest"),
    (lambda p: -p.sight.behind_back_mm, "most scenery behind the ghost", "least scenery behind the ghost"),
    (lambda p: p.room.body_to_pane_mm, "most room at the player", "least room at the player"),
    (lambda p: float(any(w.clear for w in p.room.ways_out)), "player can be drawn out", "player is shut in"),
)


def trade_offs(plans: Sequence[Plan]) -> dict[str, list[list[str]]]:
    """Return under "for it" and "against it" one list of reasons for each plan."""
    good: list[list[str]] = [[] for _ in plans]
    bad: list[list[str]] = [[] for _ in plans]
    for value_of, best_word, worst_word in _MEASURES:
        values = [value_of(p) for p in plans]
        best, worst = max(values), min(values)
        if best - worst <= _ALIKE * max(abs(best), abs(worst)):
            continue
        for row, value in enumerate(values):
            if value == best:
                good[row].append(best_word)
            elif value == worst:
                bad[row].append(worst_word)
    for row, plan in enumerate(plans):
        if not plan.sight.seen_from_everywhere:
            bad[row].append("cut off from the outermost eyes")
        if any(r.first == "player" for r in plan.reaches):
            bad[row].append("the player's body reaches into a wall")
        bad[row] += [_shutting(plan, trim) for trim in plan.sight.trims()]
        if any(patch.surface == "opening" for patch in plan.sight.patches):
            bad[row].append("mirrors the room before the box")
    return {"for it": good, "against it": bad}


def _shutting(plan: Plan, trim: Trim) -> str:
    """Return what a trim or post does to the opening."""
    told = f"a {trim.name.split(',')[0]} at the {trim.side}"
    if not is_wide(plan.scene, trim):
        return told
    return f"{told} that shuts {100 * share_of_opening(plan.scene, trim):.0f} % of the opening"


def remaining_faults(plans: Sequence[Plan]) -> list[Finding]:
    """Return the faults of some layouts, each once, with the layouts' numbers from 1 in its subject."""
    faults: dict[Finding, list[str]] = {}
    for number, plan in enumerate(plans, 1):
        for finding in plan.findings:
            if finding.level == "fault":
                faults.setdefault(finding, []).append(str(number))
    return [
        replace(
            finding,
            subject=f"{'every layout' if len(numbers) == len(plans) else f'layout {listed(numbers)}'}: "
            f"{finding.subject}",
        )
        for finding, numbers in faults.items()
    ]


def measures_of(plan: Plan, words: Words) -> dict[str, str]:
    """Return what tells one layout from another, each under its name."""
    screen = plan.scene.screen
    baffle = plan.sight.baffle
    board = words.size(baffle.size) if baffle else "none needed"
    columns = {
        "screen on the": screen.wall,
        "its top points": screen.top,
        "its middle": words.point(plan.layout.screen.centre),
        "swivel": f"{screen.swivel:g} degrees",
        "pane": f"{words.size(plan.pane.cut)} at {plan.layout.angle_deg:.1f} degrees",
        "baffle": board,
        "ghost": words.point(plan.layout.ghost),
        "contrast": f"{plan.light.contrast:.2f}",
    }
    for number, divider in enumerate(plan.scene.divider, 1):
        where = f"{words.point(divider.start)} to {words.point(divider.end)}"
        doors = [f"doorway {words.size((d.width, d.height))} at {words(d.at)}" for d in divider.doorways]
        columns[f"divider {number}"] = "; ".join([where, *doors])
    columns["faults"] = str(plan.faults)
    return columns
