"""What will be put on the card, under which names, and whether it fits; changes nothing."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from ghostprep.card.calls import SystemCalls
from ghostprep.card.contents import Contents, look
from ghostprep.card.drives import Drive, drive_of
from ghostprep.card.loops import look_at_loops
from ghostprep.card.names import fold
from ghostprep.card.orders import CardOrder
from ghostprep.card.place import Ask, check_place
from ghostprep.card.records import LEDGER, Written
from ghostprep.card.sources import check_loops, refuse_twice
from ghostprep.card.steps import Step, check_room, check_sizes, name_steps
from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.progress import Progress, silent


@dataclass(frozen=True, slots=True)
class CardPlan:
    """What `fill_card` will do.

    Attributes
    ----------
    folder : Path
        Resolved.
    steps : tuple of Step
        In play order.
    leaves : tuple of Written
        Our earlier loops that are removed when the new ones are proven.
    stays : tuple of Written
        Our earlier loops that stay, in play order before the new ones.
    old_ledger : bool
        Whether a ledger of ours is there.
    keep_ledger : bool
        Whether one is written.
    unfinished : bool
        Whether an earlier run was cut off; it is undone first, and the plan made again.
    volume : int
        The system's number of the volume, so that another one mounted meanwhile is noticed.
    """

    order: CardOrder
    folder: Path
    drive: Drive
    steps: tuple[Step, ...]
    leaves: tuple[Written, ...]
    stays: tuple[Written, ...]
    old_ledger: bool
    keep_ledger: bool
    unfinished: bool
    volume: int
    findings: tuple[Finding, ...]

    def as_dict(self) -> dict[str, object]:
        """Return the plan as it stands in a report."""
        return {
            "folder": str(self.folder),
            "drive": self.drive.as_dict(),
            "loops": [{"loop": str(s.loop), "name": s.name, "bytes": s.bytes} for s in self.steps],
            "removed": [w.name for w in self.leaves],
            "stays": [w.name for w in self.stays],
            "ledger": LEDGER if self.keep_ledger else None,
            "unfinished": self.unfinished,
            "findings": [f.as_dict() for f in self.findings],
        }


def plan_card(
    order: CardOrder, *, progress: Progress = silent, calls: SystemCalls | None = None, ask: Ask = drive_of
) -> CardPlan:
    """Return what will be put on the card, if all of it may be and fits.

    Parameters
    ----------
    progress : Progress
        Told the stage ``check``, in loops, where earlier loops are to be replaced.
    calls : SystemCalls, optional
        How the card is reached.
    ask : callable
        Tells the drive of a path.

    Raises
    ------
    InputError
        A loop or the folder cannot be used, a name is taken, a file is too large, or room is lacking.
    JobError
        The card cannot be read.
    """
    sources = check_loops(order.loops)
    seen = look_at_loops(order.loops, order.player)
    folder, drive = check_place(order.folder, any_folder=order.any_folder, ask=ask)
    for source in sources:
        if source.path.is_relative_to(folder):
            raise InputError(
                "is on the card already", where=str(source.path), remedy="name loops from elsewhere"
            )
    contents = look(calls or SystemCalls(), folder, replace=order.replace, progress=progress)
    refuse_twice(sources, contents.stays)
    steps = name_steps(sources, order.rules, contents)
    check_sizes(steps, order.rules, drive)
    if not contents.unfinished:  # what was left over takes room too, and is cleared away before it is counted
        check_room(steps, drive, replaced=bool(contents.leaves))
    return CardPlan(
        order=order,
        folder=folder,
        drive=drive,
        steps=steps,
        leaves=contents.leaves,
        stays=contents.stays,
        old_ledger=contents.ledger_readable,
        keep_ledger=order.ledger and not contents.ledger_foreign,
        unfinished=contents.unfinished,
        volume=contents.volume,
        findings=(*seen, *about_drive(drive), *contents.findings, *about_others(contents, steps)),
    )


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
