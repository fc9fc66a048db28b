"""The work folder on the card: a run fills it first, so that a run cut off anywhere can be undone.

A run copies into it, writes its journal, moves files out of and into the player's folder, and
removes the journal: that one removal is what makes the run count. So while a journal stands, its
moves are undone, and without one all that the work folder holds is left over.

On FAT and exFAT many players play in the order of a folder's entries, not by name. A new entry goes into the
first gap that is long enough, so entries of different lengths can come to stand out of order where files were
deleted before. The gaps are closed with empty files while the loops take their places, and opened afterwards.
"""

from __future__ import annotations

import errno
import re
import stat
from collections.abc import Sequence
from typing import Final

from ghostprep.card.calls import Folder, SystemCalls
from ghostprep.card.copying import exists, read_back, read_small, write_new
from ghostprep.card.names import fold
from ghostprep.card.records import JOURNAL, Journal, Move, read_record, to_bytes
from ghostprep.errors import InputError, JobError

WORK: Final = "GHOSTPRP.TMP"
_JOURNAL_PART: Final = "JOURNAL.NEW"
_OURS: Final = re.compile(r"[NO]\d{4}\.TMP|JOURNAL\.(JSN|NEW)", re.IGNORECASE)
_REPAIR: Final = "check the card with the system's disk check, then run again"
_GAP: Final = re.compile(r"GPGAP\d{3}\.TMP", re.IGNORECASE)
_MOST_GAPS: Final = 1000
"""As many as the names have numbers."""


def new_name(number: int) -> str:
    """Return the name in the work folder of the `number`-th new file."""
    return f"N{number:04d}.TMP"


def old_name(number: int) -> str:
    """Return the name in the work folder of the `number`-th file that was set aside."""
    return f"O{number:04d}.TMP"


def write_journal(calls: SystemCalls, folder: Folder, work: Folder, journal: Journal) -> None:
    """Write the journal whole or not at all; from here on a run that is cut off is undone move by move."""
    write_new(calls, work, _JOURNAL_PART, to_bytes(journal))
    calls.rename(work, _JOURNAL_PART, work, JOURNAL)
    calls.flush_folder(work)
    calls.flush_folder(folder)


def commit(calls: SystemCalls, folder: Folder, work: Folder) -> None:
    """Make the run count: everything is on the card before the journal goes."""
    calls.flush_folder(folder)
    calls.flush_folder(work)
    calls.remove(work, JOURNAL)
    calls.flush_folder(work)


def undo(calls: SystemCalls, folder: Folder) -> bool:
    """Undo what a run left behind in `folder`, and clear it away; return whether moves were undone.

    Raises
    ------
    InputError
        There is a work folder that does not look like ours.
    JobError
        The card was cut off inside a move, so that one file stands under two names.
    OSError
        The card failed.
    """
    if not exists(calls, folder, WORK):
        return False
    if not stat.S_ISDIR(calls.status(folder, WORK).st_mode):
        raise _not_ours(folder)
    work = calls.open_inner(folder, WORK)
    try:
        if not all(_OURS.fullmatch(name) for name in calls.names(work)):
            raise _not_ours(folder)
        undone = _undo_moves(calls, folder, work)
        open_gaps(calls, folder)
        for name in calls.names(work):
            calls.remove(work, name)
    finally:
        calls.close_folder(work)
    calls.remove_folder(folder, WORK)
    calls.flush_folder(folder)
    return undone


def _undo_moves(calls: SystemCalls, folder: Folder, work: Folder) -> bool:
    if not exists(calls, work, JOURNAL):
        return False
    journal = read_record(Journal, read_small(calls, work, JOURNAL))
    if journal is None:
        what = "the journal of an earlier run cannot be read"
        raise JobError(what, where=str(work.path / JOURNAL), remedy=_REPAIR)
    if not _counted_after_all(calls, folder, work, journal):
        _refuse_double(calls, folder, work, journal)
        for move in journal.placed:
            _take_back(calls, folder, work, move)
        open_gaps(calls, folder)
        for move in journal.aside:
            if exists(calls, work, move.work_name):
                _put_back(calls, folder, work, move)
        calls.flush_folder(folder)
    calls.remove(work, JOURNAL)
    calls.flush_folder(work)
    return True


def _counted_after_all(calls: SystemCalls, folder: Folder, work: Folder, journal: Journal) -> bool:
    # the removal of the journal was lost but a later removal was not: the old files are gone, keep the new
    new = {move.name: move.work_name for move in journal.placed}
    for move in journal.aside:
        still_there = exists(calls, folder, move.name) and (
            move.name not in new or exists(calls, work, new[move.name])
        )
        if not (still_there or exists(calls, work, move.work_name)):
            return True
    return False


def _refuse_double(calls: SystemCalls, folder: Folder, work: Folder, journal: Journal) -> None:
    # a rename on FAT writes the new entry, then clears the old one; cut off in between, both lead to the same
    # clusters, and removing either would free the other's
    works: dict[str, list[str]] = {}
    for move in (*journal.aside, *journal.placed):
        works.setdefault(move.name, []).append(move.work_name)
    for name, work_names in works.items():
        if exists(calls, folder, name) and all(exists(calls, work, w) for w in work_names):
            what = "the card was cut off while a file was renamed, and shows it twice"
            raise JobError(what, where=str(folder.path / name), remedy=_REPAIR)


def _take_back(calls: SystemCalls, folder: Folder, work: Folder, move: Move) -> None:
    if exists(calls, work, move.work_name) or not exists(calls, folder, move.name):
        return
    sha256, _, _ = read_back(calls, folder, move.name)
    if sha256 == move.sha256:  # else someone has put another file there since
        calls.remove(folder, move.name)


def _put_back(calls: SystemCalls, folder: Folder, work: Folder, move: Move) -> None:
    if exists(calls, folder, move.name):
        what, where = f"cannot be put back: another file is called {move.name}", work.path / move.work_name
        raise JobError(what, where=str(where), remedy="rename that file, then run again")
    calls.rename(work, move.work_name, folder, move.name)


def _not_ours(folder: Folder) -> InputError:
    remedy = "rename it, or use another folder"
    return InputError("is not a work folder of ours", where=str(folder.path / WORK), remedy=remedy)


def close_gaps(calls: SystemCalls, at: Folder) -> bool:
    """Make empty files until one comes to stand last, so that what follows is written in order.

    Returns whether the system lists a folder in the order of its entries. Gaps are filled from the front,
    so where a later file is listed before an earlier one it does not, and the gaps stay as they are.
    """
    before = ""
    for number in range(_MOST_GAPS):
        name = f"GPGAP{number:03d}.TMP"
        try:
            calls.close(calls.create(at, name))
        except OSError as error:
            if error.errno != errno.ENOSPC:
                raise
            break  # a FAT16 card takes few names outside its folders: leave them for the loops
        listing = [fold(n) for n in calls.names(at)]
        if listing[-1] == fold(name):
            return True
        if before and listing.index(fold(name)) < listing.index(fold(before)):
            open_gaps(calls, at)
            return False
        before = name
    open_gaps(calls, at)
    return True


def open_gaps(calls: SystemCalls, at: Folder) -> None:
    """Remove the empty files again."""
    for name in calls.names(at):
        if _GAP.fullmatch(name):
            facts = calls.status(at, name)
            if stat.S_ISREG(facts.st_mode) and facts.st_size == 0:
                calls.remove(at, name)


def in_order(listing: Sequence[str], wanted: Sequence[str]) -> bool:
    """Return whether all the `wanted` names stand in the listing, in this order.

    Examples
    --------
    >>> in_order(["OTHER.TXT", "01_a.avi", "02_B.AVI"], ["01_A.AVI", "02_B.AVI"])
    True
    """
    places = {fold(name): place for place, name in enumerate(listing)}
    found = [places.get(fold(name), -1) for name in wanted]
    return -1 not in found and found == sorted(found)
