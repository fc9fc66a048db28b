"""Where the work can hurt someone. Local codes and licensed trades come before anything said here."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from ghostprep.finding import Finding
from ghostprep.optics.plan import Plan

_SHEET: Final = {
    "glass": (
        "glass breaks into sharp pieces",
        "let a glazier cut it and seam the edges, wear gloves and goggles, ask for safety glass where "
        "children reach",
    ),
    "acrylic": (
        "cut sheet has sharp edges and chips fly",
        "wear goggles, clamp the sheet, break the edges with a scraper; never cut it with a laser without "
        "proper extraction",
    ),
}


def findings(plan: Plan) -> Iterator[Finding]:
    """Yield the cautions that belong to every box of this kind."""
    what, remedy = _SHEET["glass" if plan.scene.pane.material == "glass" else "acrylic"]
    yield Finding("caution", "safety", what, remedy)
    yield Finding(
        "caution",
        "safety",
        "mains voltage kills",
        "keep it out of the box: use a certified low-voltage supply in the room, and leave fixed wiring to a "
        "licensed electrician under your local code",
    )
    yield Finding(
        "caution",
        "safety",
        "a player's lithium cell that runs for months on a charger can swell and burn",
        "use a player without a cell, or have it removed by someone qualified; else never leave it running "
        "unattended",
    )
    yield Finding(
        "caution",
        "safety",
        "player and lamps warm a closed box",
        "give it vent holes below and above, and feel the player after an hour: if it is too warm to hold, "
        "stop and make more air",
    )
