"""Findings on shelf, cords, the player's body and the way to draw it out."""

from __future__ import annotations

from collections.abc import Iterator

from ghostprep.finding import Finding
from ghostprep.optics.advice.words import Words
from ghostprep.optics.plan import Plan


def findings(plan: Plan) -> Iterator[Finding]:
    """Yield what there is to say on the room."""
    yield from _shelf(plan)
    yield from _way_out(plan)


def _shelf(plan: Plan) -> Iterator[Finding]:
    words, shelf, scene = Words(plan.scene.units), plan.room.shelf, plan.scene
    needed = words(shelf.depth_needed_mm)
    if scene.shelf is None:
        yield Finding("note", "cords", f"with its walls, plug and cord the box needs a shelf {needed} deep")
    elif not shelf.fits:
        over = shelf.depth_needed_mm - scene.shelf.depth
        yield Finding(
            "fault",
            "cords",
            f"the box needs {needed} of shelf with its walls and {words(scene.shelf.cord)} for plug and "
            f"cord, but the shelf is {words(scene.shelf.depth)} deep",
            f"make the box {words.cut(over)} less deep, let plug and cord out at a side or below, or find a "
            "deeper shelf",
        )


def _way_out(plan: Plan) -> Iterator[Finding]:
    words, ways = Words(plan.scene.units), [w for w in plan.room.ways_out if w.clear]
    if not ways:
        yield Finding(
            "caution",
            "player",
            "it cannot be drawn out of the closed box in any direction: pane or front are in the way",
            "make a wall or the ceiling removable, or glue the pane last and loosely",
        )
        return
    texts = []
    for way in ways:
        slot = f" through a slot {words.fit(way.slot_mm)} in the {way.surface}"
        texts.append(way.direction + (slot if way.surface != "opening" else ""))
    least = min(way.travel_mm for way in ways)
    yield Finding(
        "note",
        "player",
        f"it can be drawn out {', or '.join(texts)}",
        f"leave {words.cut(least)} free there for it, or pull the box forward first",
    )
