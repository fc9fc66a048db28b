"""Findings on shelf, cords and the way to draw the player out, and on where the work can hurt someone.

Local codes and licensed trades come before anything said here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from ghostprep.optics.advice.draft import Draft
from ghostprep.optics.advice.words import Words, listed, the
from ghostprep.optics.plan import Plan
from ghostprep.optics.room import WayOut, towards

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
    if shelf is None:
        needed = words(fit.depth_needed_mm)
        yield Draft("note", "cords", f"with its walls, plug and cord the box needs a shelf {needed} deep")
        return
    for subject, needed, over, room, less, more in zip(
        ("shelf", "shelf", "cords"),
        fit.needed_mm,
        fit.over_mm,
        (shelf.width, shelf.height, shelf.depth),
        ("narrower", "lower", "less deep, let plug and cord out at a side or below"),
        ("wide", "high", "deep"),
        strict=True,
    ):
        if room is None or over <= 1e-6:
            continue
        cord = f" and {words(shelf.cord)} for plug and cord" if subject == "cords" else ""
        text = f"with its walls{cord} the box needs {words(needed)}, but the shelf is {words(room)} {more}"
        remedy = f"make the box {words.cut(over)} {less}, or find a shelf that is {words.cut(needed)} {more}"
        yield Draft("fault", subject, text, remedy)


def _way_out(plan: Plan) -> Draft:
    words, room = Words(plan.scene.units), plan.room
    way = next(w for w in room.ways_out if w.direction == room.out)
    others = [_through(words, w) for w in room.ways_out if w.clear and w is not way]
    if way.clear:
        text = f"it can be drawn out {_through(words, way)}"
        if others:
            text += f"; with another holder.out also {', or '.join(others)}"
        remedy = f"leave {words.cut(way.travel_mm)} free there for it, or pull the box forward first"
        return Draft("note", "player", text, remedy)
    if others:
        text = f"it cannot be drawn out {towards(way.direction)}, as holder.out says: {_met(way.in_the_way)}"
        return Draft("caution", "player", text, f"it can be drawn out {', or '.join(others)}")
    met = dict.fromkeys(name for w in room.ways_out for name in w.in_the_way)
    text = f"it cannot be drawn out of the closed box in any direction: {_met(list(met))}"
    remedy = "make a wall or the ceiling removable, or glue last, and loosely, what is in the way"
    return Draft("caution", "player", text, remedy)


def _through(words: Words, way: WayOut) -> str:
    slot = f" through a slot {words.fit(way.slot_mm)} in the {way.surface}"
    return towards(way.direction) + (slot if way.surface != "opening" else "")


def _met(names: Sequence[str]) -> str:
    return f"{listed([the(name) for name in names])} {'is' if len(names) == 1 else 'are'} in the way"
