"""The name of each loop on the card, and whether all of them may be there and fit."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from ghostprep.card.contents import Contents
from ghostprep.card.drives import Drive
from ghostprep.card.kind import FAT_LARGEST_FILE
from ghostprep.card.names import card_name, fold, why_illegal
from ghostprep.card.orders import CardRules
from ghostprep.card.sources import LoopFile
from ghostprep.errors import InputError

_BOOKKEEPING: Final = 16
"""Clusters for the list, the journal, the work folder and a longer folder."""


@dataclass(frozen=True, slots=True)
class Step:
    """One loop and its name on the card."""

    loop: Path
    name: str
    bytes: int


def name_steps(sources: tuple[LoopFile, ...], rules: CardRules, contents: Contents) -> tuple[Step, ...]:
    """Return the loops with their names on the card, numbered on from what stays there.

    Since no number is used twice, no name is either.

    Raises
    ------
    InputError
        The player does not take a loop's kind of file, or a name cannot be made legal.
    """
    first = contents.last_number + 1
    last = contents.last_number + len(sources)
    if last > 999 or (last > 99 and contents.last_number):
        raise InputError(
            f"the folder would hold loops up to number {last}, and order by name would break",
            remedy="use an empty folder, or --replace",
        )
    steps = []
    for number, source in enumerate(sources, first):
        where = str(source.path)
        name = card_name(
            source.path.stem,
            _ending(source, rules),
            number,
            digits=max(2, len(str(last))),
            names=rules.names,
        )
        reason = why_illegal(name, rules.names)
        if reason:
            raise InputError(f"its name on the card, {name}, {reason}", where=where, remedy="rename it")
        steps.append(Step(source.path, name, source.bytes))
    return tuple(steps)


def check_sizes(steps: tuple[Step, ...], rules: CardRules, drive: Drive) -> None:
    """Refuse a loop that is too large for the card's file system or for the player."""
    limits = [(rules.largest_bytes, "the player")]
    if drive.file_system.is_fat:
        limits.append((FAT_LARGEST_FILE, drive.file_system.kind))
    for step in steps:
        for limit, whose in limits:
            if limit is not None and step.bytes > limit:
                raise InputError(
                    f"has {step.bytes:,} bytes, and {whose} takes {limit:,} a file",
                    where=str(step.loop),
                    remedy="make a shorter loop",
                )


def check_room(steps: tuple[Step, ...], drive: Drive, *, replaced: bool) -> None:
    """Refuse what does not fit beside what is there, counted in whole clusters."""
    if drive.free_bytes is None:
        return
    cluster = drive.cluster_bytes
    needed = sum(-(-s.bytes // cluster) * cluster for s in steps) + _BOOKKEEPING * cluster
    if needed > drive.free_bytes:
        why = " (earlier loops leave only when the new ones are proven)" if replaced else ""
        raise InputError(
            f"{needed:,} bytes are needed and {drive.free_bytes:,} are free{why}",
            where=str(drive.mount),
            remedy="make room, or use a larger card",
        )


def _ending(source: LoopFile, rules: CardRules) -> str:
    own = source.path.suffix
    if rules.endings and fold(own) not in map(fold, rules.endings):
        raise InputError(
            f"the player takes {' or '.join(rules.endings)} files",
            where=str(source.path),
            remedy="make the loop for this player",
        )
    if rules.names == "8.3" and len(own) > 4:
        return next((e for e in rules.endings if len(e) <= 4), own)
    return own
