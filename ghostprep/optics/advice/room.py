"""Findings on shelf, cords and the way to draw the player out, and on where the work can hurt someone.

Local codes and licensed trades come before anything said here.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from ghostprep.optics.advice.draft import Draft
from ghostprep.optics.advice.words import Words
from ghostprep.optics.plan import Plan

_GLASS: Final = (
    "glass breaks into sharp pieces",
    "let a glazier cut it and seam the edges, wear gloves and goggles, ask for safety glass where "
    "children reach",
)
_PLASTIC: Final = (
    "cut sheet has sharp edges and chips fly",
    "wear goggles, clamp the sheet, break the edges with a scraper; never cut it with a laser without proper "
    "extraction",
)
_SAFETY: Final = (
    (
        "mains voltage kills",
        "keep it out of the box: use a certified low-voltage supply in the room, and leave fixed wiring to a "
        "licensed electrician under your local code",
    ),
    (
        "a player's lithium cell that runs for months on a charger can swell and burn",
        "use a player without a cell, or have it removed by someone qualified; else never leave it running "
        "unattended",
    ),
    (
        "player and lamps warm a closed box",
        "give it vent holes below and above, and feel the player after an hour: if it is too warm to hold, "
        "stop and make more air",
    ),
)


def findings(plan: Plan) -> Iterator[Draft]:
    """Yield what there is to say on the room, and the cautions that belong to every box of this kind."""
    yield from _shelf(plan)
    yield _way_out(plan)
    for what, remedy in (_GLASS if plan.scene.pane.material == "glass" else _PLASTIC, *_SAFETY):
        yield Draft("caution", "safety", what, remedy)


def _shelf(plan: Plan) -> Iterator[Draft]:
    words, fit, shelf = Words(plan.scene.units), plan.room.shelf, plan.scene.shelf
    needed = words(fit.depth_needed_mm)
    if shelf is None:
        yield Draft("note", "cords", f"with its walls, plug and cord the box needs a shelf {needed} deep")
    elif not fit.fits:
        text = (
            f"the box needs {needed} of shelf with its walls and {words(shelf.cord)} for plug and cord, but "
            f"the shelf is {words(shelf.depth)} deep"
        )
        less = f"make the box {words.cut(fit.depth_needed_mm - shelf.depth)} less deep"
        yield Draft(
            "fault",
            "cords",
            text,
            f"{less}, let plug and cord out at a side or below, or find a deeper shelf",
        )


def _way_out(plan: Plan) -> Draft:
    words, ways = Words(plan.scene.units), [w for w in plan.room.ways_out if w.clear]
    if not ways:
        text = "it cannot be drawn out of the closed box in any direction: pane or front are in the way"
        remedy = "make a wall or the ceiling removable, or glue the pane last and loosely"
        return Draft("caution", "player", text, remedy)
    texts = []
    for way in ways:
        slot = f" through a slot {words.fit(way.slot_mm)} in the {way.surface}"
        texts.append(way.direction + (slot if way.surface != "opening" else ""))
    least = words.cut(min(way.travel_mm for way in ways))
    remedy = f"leave {least} free there for it, or pull the box forward first"
    return Draft("note", "player", f"it can be drawn out {', or '.join(texts)}", remedy)
