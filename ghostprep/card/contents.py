"""What is in the folder on the card: ours, others', and what a run that was cut off left."""

from __future__ import annotations

import re
import stat
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from ghostprep.card.calls import Folder, SystemCalls, card_failed
from ghostprep.card.copying import exists, read_back, read_small
from ghostprep.card.names import fold
from ghostprep.card.records import LEDGER, Ledger, Written, read_record
from ghostprep.card.work_folder import WORK
from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.progress import Progress

# two or three digits: a date such as 20261129_ is no place in the play order
_NUMBERED: Final = re.compile(r"([0-9]{2,3})_")


@dataclass(frozen=True, slots=True)
class Contents:
    """A folder on the card."""

    leaves: tuple[Written, ...]  # our loops that are replaced, and those that stay
    stays: tuple[Written, ...]
    others: tuple[str, ...]  # names of regular files that are not ours
    last_number: int  # highest place in the play order among what stays; 0 if nothing is numbered
    ledger_readable: bool  # whether a ledger of ours is there, or a file of its name that is none
    ledger_foreign: bool
    unfinished: bool  # whether an earlier run was cut off
    volume: int  # the system's number of the volume that the folder is on
    findings: tuple[Finding, ...]


def look_into(calls: SystemCalls, path: Path, *, replace: bool, progress: Progress) -> Contents:
    """Return what is in the folder at `path`; read only.

    Our earlier loops are told by name and size; before they are replaced also by their SHA-256,
    since a file that was changed is no longer ours.

    Raises
    ------
    InputError
        Loops shall be replaced and no list of ours says which.
    JobError
        The card cannot be read.
    """
    try:
        folder = calls.open_folder(path)
        try:
            return _look(calls, folder, replace, progress)
        finally:
            calls.close_folder(folder)
    except OSError as error:
        raise card_failed(error, path, "looking at what it holds", "nothing was changed") from error


def _look(calls: SystemCalls, folder: Folder, replace: bool, progress: Progress) -> Contents:
    names = calls.names(folder)
    unfinished = exists(calls, folder, WORK)
    findings = []
    if unfinished:
        findings.append(Finding("note", "card", "an earlier run was cut off; it is undone first"))
    present = {fold(n): n for n in names}
    ledger: Ledger | None = Ledger()
    if fold(LEDGER) in present:
        ledger = read_record(Ledger, read_small(calls, folder, LEDGER))
    if ledger is None:
        if replace:
            where = str(folder.path / LEDGER)
            raise InputError(
                "the list of our loops cannot be read", where=where, remedy="leave out --replace"
            )
        text = f"{LEDGER} is not a list of ours; it is left alone, and the new loops are not listed"
        findings.append(Finding("caution", "card", text, "Rename it to have a list kept."))
    ours = [w for w in (ledger.loops if ledger else ()) if fold(w.name) in present]
    unchanged = []
    for done, written in enumerate(ours):
        if replace:
            progress("check", done, len(ours))
        if _as_written(calls, folder, present[fold(written.name)], written, whole=replace):
            unchanged.append(written)
    changed = [w.name for w in ours if w not in unchanged]
    if changed and replace:
        text = f"changed since we wrote it, so it is left alone: {', '.join(changed[:3])}"
        findings.append(Finding("caution", "card", text, "Remove it by hand if it is not wanted."))
    gone = {fold(w.name) for w in unchanged} if replace else set()
    kept = [n for n in names if fold(n) not in gone]
    known = {fold(w.name) for w in unchanged} | {fold(LEDGER), fold(WORK)}
    return Contents(
        leaves=tuple(unchanged) if replace else (),
        stays=() if replace else tuple(unchanged),
        others=tuple(n for n in names if fold(n) not in known and _regular(calls, folder, n)),
        last_number=max((int(m[1]) for n in kept if (m := _NUMBERED.match(n))), default=0),
        ledger_readable=ledger is not None and fold(LEDGER) in present,
        ledger_foreign=ledger is None,
        unfinished=unfinished,
        volume=calls.status(folder, ".").st_dev,
        findings=tuple(findings),
    )


def _regular(calls: SystemCalls, folder: Folder, name: str) -> bool:
    return stat.S_ISREG(calls.status(folder, name).st_mode)


def _as_written(calls: SystemCalls, folder: Folder, name: str, written: Written, *, whole: bool) -> bool:
    facts = calls.status(folder, name)
    if not stat.S_ISREG(facts.st_mode) or facts.st_size != written.bytes:
        return False
    return not whole or read_back(calls, folder, name)[0] == written.sha256
