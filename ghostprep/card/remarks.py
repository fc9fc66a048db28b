"""What the builder should know about the card before it is written."""

from __future__ import annotations

from pathlib import Path

from ghostprep.card.contents import Contents
from ghostprep.card.drives import Drive
from ghostprep.card.names import fold
from ghostprep.card.steps import Step
from ghostprep.finding import Finding


def about_drive(drive: Drive) -> list[Finding]:
    """Return what may be wrong with a card's format."""
    found = []
    if drive.file_system.doubtful:
        text = "it is laid out as FAT32 but has fewer than 65525 clusters: a player may take it for FAT16"
        found.append(Finding("caution", "card", text, "Format it again, as FAT16 or with smaller clusters."))
    if drive.file_system.kind == "exFAT":
        text = "it is exFAT, which many small players do not read (common practice)"
        found.append(Finding("caution", "card", text, "If the screen stays dark, format the card as FAT32."))
    if drive.free_bytes is None:
        found.append(Finding("note", "card", "the system does not tell how much room it has"))
    return found


def about_others(contents: Contents, steps: tuple[Step, ...]) -> list[Finding]:
    """Return what else the player will find in the folder."""
    endings = {fold(Path(s.name).suffix) for s in steps}
    others = [n for n in contents.others if fold(Path(n).suffix) in endings]
    found = []
    if others:
        named = ", ".join(others[:3]) + (" ..." if len(others) > 3 else "")
        text = f"the player may also play what others put there ({len(others)}): {named}"
        found.append(Finding("caution", "card", text, "Move them away, or use an empty card."))
    if contents.stays:
        text = f"loops that we wrote before stay and play first: {len(contents.stays)}"
        found.append(Finding("note", "card", text, "Add --replace to have the new ones alone."))
    return found
