"""What will be put on the card, under which names, and whether it fits; changes nothing."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from ghostprep.card.calls import SystemCalls
from ghostprep.card.contents import Contents, look_into
from ghostprep.card.drives import FAT_LARGEST_FILE, Drive
from ghostprep.card.loops import CardOrder, LoopFile, check_loops, look_at_loops, refuse_twice
from ghostprep.card.names import NameStyle, card_name, fold, why_illegal
from ghostprep.card.place import check_place
from ghostprep.card.records import LEDGER
from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.player import Profile
from ghostprep.progress import Progress, silent

_BOOKKEEPING: Final = 16
"""Clusters for the list, the journal, the work folder and a longer folder."""


@dataclass(frozen=True, slots=True)
class Step:
    """One loop and its name on the card."""

    loop: Path
    name: str
    bytes: int


@dataclass(frozen=True, slots=True)
class CardPlan:
    """What `fill_card` will do."""

    order: CardOrder
    folder: Path  # resolved
    drive: Drive
    steps: tuple[Step, ...]  # in play order
    contents: Contents  # of the folder; what was cut off there is undone first, and the plan made again
    findings: tuple[Finding, ...]

    @property
    def keep_ledger(self) -> bool:
        """Whether a list of our loops is written."""
        return self.order.ledger and not self.contents.ledger_foreign

    def as_dict(self) -> dict[str, object]:
        """Return the plan as it stands in a report."""
        return {
            "folder": str(self.folder),
            "drive": self.drive.as_dict(),
            "loops": [{"loop": str(s.loop), "name": s.name, "bytes": s.bytes} for s in self.steps],
            "removed": [w.name for w in self.contents.leaves],
            "stays": [w.name for w in self.contents.stays],
            "ledger": LEDGER if self.keep_ledger else None,
            "unfinished": self.contents.unfinished,
            "findings": [f.as_dict() for f in self.findings],
        }


def plan_card(order: CardOrder, *, progress: Progress = silent, calls: SystemCalls | None = None) -> CardPlan:
    """Return what will be put on the card, if all of it may be and fits.

    Where earlier loops are to be replaced `progress` is told the stage ``check``, in loops.

    Raises
    ------
    InputError
        A loop or the folder cannot be used, a name is taken, a file is too large, or room is lacking.
    JobError
        The card cannot be read.
    """
    sources = check_loops(order.loops)
    seen = look_at_loops(order.loops, order.player)
    folder, drive = check_place(order.folder, any_folder=order.any_folder)
    for source in sources:
        if source.path.is_relative_to(folder):
            where = str(source.path)
            raise InputError("is on the card already", where=where, remedy="name loops from elsewhere")
    contents = look_into(calls or SystemCalls(), folder, replace=order.replace, progress=progress)
    refuse_twice(sources, contents.stays)
    steps = name_steps(sources, order.player, contents)
    check_sizes(steps, drive)
    if not contents.unfinished:  # what was left over takes room too, and is cleared away before it is counted
        check_room(steps, drive, replaced=bool(contents.leaves))
    findings = (*seen, *about_drive(drive), *contents.findings, *about_others(contents, steps))
    return CardPlan(order, folder, drive, steps, contents, findings)


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


def name_steps(sources: tuple[LoopFile, ...], player: Profile | None, contents: Contents) -> tuple[Step, ...]:
    """Return the loops with their names on the card, numbered on from what stays there; 8.3 for any player.

    Since no number is used twice, no name is either.

    Raises
    ------
    InputError
        A name cannot be made legal.
    """
    first = contents.last_number + 1
    last = contents.last_number + len(sources)
    if last > 999 or (last > 99 and contents.last_number):
        what = f"the folder would hold loops up to number {last}, and order by name would break"
        raise InputError(what, remedy="use an empty folder, or --replace")
    steps = []
    names: NameStyle = player.names if player else "8.3"
    digits = max(2, len(str(last)))
    for number, source in enumerate(sources, first):
        where = str(source.path)
        ending = source.path.suffix
        if names == "8.3" and len(ending) > 4 and player:
            ending = next((e for e in player.endings if len(e) <= 4), ending)
        name = card_name(source.path.stem, ending, number, digits=digits, names=names)
        reason = why_illegal(name, names)
        if reason:
            raise InputError(f"its name on the card, {name}, {reason}", where=where, remedy="rename it")
        steps.append(Step(source.path, name, source.bytes))
    return tuple(steps)


def check_sizes(steps: tuple[Step, ...], drive: Drive) -> None:
    """Refuse a loop that is too large for the card's file system."""
    for step in steps:
        if drive.file_system.is_fat and step.bytes > FAT_LARGEST_FILE:
            what = f"has {step.bytes:,} bytes, and {drive.file_system.kind} takes {FAT_LARGEST_FILE:,} a file"
            raise InputError(what, where=str(step.loop), remedy="make a shorter loop")


def check_room(steps: tuple[Step, ...], drive: Drive, *, replaced: bool) -> None:
    """Refuse what does not fit beside what is there, counted in whole clusters."""
    if drive.free_bytes is None:
        return
    cluster = drive.cluster_bytes
    needed = sum(-(-s.bytes // cluster) * cluster for s in steps) + _BOOKKEEPING * cluster
    if needed > drive.free_bytes:
        why = " (earlier loops leave only when the new ones are proven)" if replaced else ""
        what = f"{needed:,} bytes are needed and {drive.free_bytes:,} are free{why}"
        raise InputError(what, where=str(drive.mount), remedy="make room, or use a larger card")
