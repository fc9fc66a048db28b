"""Puts the planned loops on the card: all of them proven, in play order, or nothing changed."""

from __future__ import annotations

import contextlib
import hashlib
from dataclasses import dataclass
from typing import Final

from ghostprep.card.calls import Folder, ReadingWay, SystemCalls, card_failed
from ghostprep.card.copying import Count, copy_in, exists, read_back, write_new
from ghostprep.card.plan import CardPlan, plan_card
from ghostprep.card.records import LEDGER, Journal, Ledger, Move, Written, to_bytes
from ghostprep.card.work_folder import (
    WORK,
    close_gaps,
    commit,
    in_order,
    new_name,
    old_name,
    undo,
    write_journal,
)
from ghostprep.errors import InputError, JobError
from ghostprep.finding import Finding
from ghostprep.progress import Progress, silent

_AS_IT_WAS: Final = "what was there before is still there"


@dataclass(frozen=True, slots=True)
class CardResult:
    """What was put on the card."""

    plan: CardPlan  # as carried out
    written: tuple[Written, ...]  # the new loops, in play order
    listing: tuple[str, ...]  # the folder's entries in their order on the card
    # whether all our loops stand there in play order; None where the system does not show the order of the
    # entries
    in_order: bool | None
    reading: ReadingWay  # the least sure way in which a loop was read back
    undone: bool  # whether an earlier run that was cut off was undone first

    @property
    def findings(self) -> tuple[Finding, ...]:
        """The plan's findings and those of the work itself."""
        found = list(self.plan.findings)
        if self.reading == "cached":
            text = "this system reads back through its cache, so the comparison may not have reached the card"
            remedy = "Eject the card, plug it in again and play it once."
            found.append(Finding("caution", "card", text, remedy))
        if self.in_order is False:
            text = (
                "the folder's entries are not in play order; a player that goes by them plays another order"
            )
            found.append(Finding("caution", "card", text, "Use an empty folder or a freshly formatted card."))
        found.append(Finding("note", "card", "the card is written", "Eject it before you pull it out."))
        return tuple(found)

    def as_dict(self) -> dict[str, object]:
        """Return the result as it stands in a report."""
        report = self.plan.as_dict()
        report["loops"] = [
            {"loop": str(s.loop), "name": w.name, "bytes": w.bytes, "sha256": w.sha256}
            for s, w in zip(self.plan.steps, self.written, strict=True)
        ]
        report |= {"entries": list(self.listing), "in_order": self.in_order, "read_back": self.reading}
        report |= {"undone": self.undone, "findings": [f.as_dict() for f in self.findings]}
        return report


def fill_card(plan: CardPlan, *, progress: Progress = silent, calls: SystemCalls | None = None) -> CardResult:
    """Put the planned loops on the card; `progress` is told the stages ``copy`` and ``compare``, in bytes.

    They are copied into a work folder on the card, read back past the cache when all of them are
    written (a card that holds less than it claims overwrites the first with the last), compared,
    and only then moved to their names in play order. Whatever fails before the end is undone; if
    the card does not even allow that, the next run does it first.

    Raises
    ------
    JobError
        The card or a loop failed on the way.
    InputError
        What is on the card has changed since the plan was made.
    """
    calls = calls or SystemCalls()
    try:
        folder = calls.open_folder(plan.folder)
    except OSError as error:
        raise card_failed(error, plan.folder, "opening the folder", "nothing was changed") from error
    try:
        _claim(calls, folder, plan)
        undone = plan.contents.unfinished
        if undone:
            try:
                undo(calls, folder)
            except OSError as error:
                told = "undoing an earlier run", "run again to undo the rest"
                raise card_failed(error, folder.path, *told) from error
            plan = plan_card(plan.order, progress=progress, calls=calls)
        return _Filling(plan, calls, folder, progress).run(undone=undone)
    finally:
        with contextlib.suppress(OSError):
            calls.close_folder(folder)


def _claim(calls: SystemCalls, folder: Folder, plan: CardPlan) -> None:
    try:
        calls.lock(folder)
        same = calls.status(folder, ".").st_dev == plan.contents.volume
    except BlockingIOError as error:
        where = str(folder.path)
        raise JobError("another run is writing there", where=where, remedy="wait for it") from error
    except OSError as error:
        raise card_failed(error, folder.path, "opening the folder", "nothing was changed") from error
    if not same:  # a mount point without its card is a folder of the system disk
        raise JobError("is no longer the card that it was", where=str(folder.path), remedy="plug it in again")


class _Filling:
    """One run; remembers what it is doing, for the one line if it fails."""

    def __init__(self, plan: CardPlan, calls: SystemCalls, folder: Folder, progress: Progress) -> None:
        self.plan = plan
        self.calls = calls
        self.folder = folder
        self.progress = progress
        self.doing = "making the work folder"
        self.counting = False  # the journal may be gone from here on: then the new loops count
        self.listed_in_order = False

    def run(self, *, undone: bool) -> CardResult:
        try:
            return self._fill(undone)
        except OSError as error:
            raise card_failed(error, self.plan.folder, self.doing, self._after_failure()) from error
        except (InputError, JobError) as error:
            after = self._after_failure()
            raise type(error)(
                error.what, where=error.where, tool_line=error.tool_line, remedy=error.remedy or after
            ) from error
        except BaseException:
            self._after_failure()
            raise

    def _after_failure(self) -> str:
        try:
            rolled_back = undo(self.calls, self.folder)
        except (OSError, JobError, InputError):
            if self.counting:
                return f"the loops may be in place already; run again to clear {WORK} away"
            return f"{_AS_IT_WAS}; run again to clear {WORK} away"
        if self.counting and not rolled_back:
            return "the loops are in place and proven all the same"
        return f"{_AS_IT_WAS}, and nothing else"

    def _fill(self, undone: bool) -> CardResult:
        calls, folder, plan = self.calls, self.folder, self.plan
        calls.make_folder(folder, WORK)
        work = calls.open_inner(folder, WORK)
        try:
            placed = self._copy(work)
            reading = self._compare(work, placed)
            written = tuple(
                Written(name=m.name, bytes=m.bytes, sha256=m.sha256, loop=s.loop.name)
                for m, s in zip(placed, plan.steps, strict=True)
            )
            if plan.keep_ledger:
                placed.append(self._write_ledger(work, written, len(placed)))
            aside = self._aside()
            self.doing = "writing the journal"
            write_journal(calls, folder, work, Journal(aside=tuple(aside), placed=tuple(placed)))
            self._move(work, aside, placed)
            listing = tuple(calls.names(folder))
            self.doing = "finishing"
            self.counting = True
            commit(calls, folder, work)
        finally:
            with contextlib.suppress(OSError):
                calls.close_folder(work)
        self.doing = "clearing the work folder away"
        undo(calls, folder)
        ours = [*(w.name for w in plan.contents.stays), *(s.name for s in plan.steps)]
        shown = tuple(n for n in listing if exists(calls, folder, n))
        ordered = in_order(shown, ours) if self.listed_in_order else None
        return CardResult(plan, written, shown, ordered, reading, undone)

    def _counting(self, stage: str, total: int) -> Count:
        """Return what tells the stage's progress, in bytes."""
        done = 0

        def count(more: int) -> None:
            nonlocal done
            done += more
            self.progress(stage, min(done, total), total)

        return count

    def _copy(self, work: Folder) -> list[Move]:
        count = self._counting("copy", sum(s.bytes for s in self.plan.steps))
        placed = []
        for number, step in enumerate(self.plan.steps):
            self.doing = f"copying {step.name}"
            sha256 = copy_in(self.calls, step.loop, work, new_name(number), size=step.bytes, count=count)
            if sha256 != self.plan.order.proven.get(step.loop, sha256):
                what, remedy = (
                    "is not the file that its report describes",
                    "make it again, or move the report away",
                )
                raise InputError(what, where=str(step.loop), remedy=remedy)
            placed.append(Move(work_name=new_name(number), name=step.name, bytes=step.bytes, sha256=sha256))
        return placed

    def _compare(self, work: Folder, placed: list[Move]) -> ReadingWay:
        """Hold what the card gives back against what was copied; return the least sure way of reading."""
        self.calls.flush_folder(work)
        count = self._counting("compare", sum(m.bytes for m in placed))
        ways: set[ReadingWay] = set()
        for move in placed:
            self.doing = f"reading back {move.name}"
            sha256, size, way = read_back(self.calls, work, move.work_name, count=count)
            ways.add(way)
            if (sha256, size) != (move.sha256, move.bytes):
                what = f"{move.name} reads back different from what was written"
                remedy = f"the card is bad, or smaller than it claims: use another one; {_AS_IT_WAS}"
                raise JobError(what, where=str(self.plan.folder), remedy=remedy)
        surest_last: tuple[ReadingWay, ...] = ("cached", "dropped", "uncached", "direct")
        return next(w for w in surest_last if w in ways)

    def _write_ledger(self, work: Folder, written: tuple[Written, ...], number: int) -> Move:
        self.doing = "writing the list of loops"
        data = to_bytes(Ledger(loops=(*self.plan.contents.stays, *written)))
        write_new(self.calls, work, new_name(number), data)
        sha256 = hashlib.sha256(data).hexdigest()
        return Move(work_name=new_name(number), name=LEDGER, bytes=len(data), sha256=sha256)

    def _aside(self) -> list[Move]:
        leaves = [(w.name, w.bytes, w.sha256) for w in self.plan.contents.leaves]
        if self.plan.contents.ledger_readable and (self.plan.keep_ledger or self.plan.contents.leaves):
            leaves.append((LEDGER, 0, "0" * 64))
        return [
            Move(work_name=old_name(number), name=name, bytes=size, sha256=sha256)
            for number, (name, size, sha256) in enumerate(leaves)
        ]

    def _move(self, work: Folder, aside: list[Move], placed: list[Move]) -> None:
        calls, folder = self.calls, self.folder
        for move in aside:
            self.doing = f"setting {move.name} aside"
            calls.rename(folder, move.name, work, move.work_name)
        self.doing = "closing gaps between entries"
        if self.plan.drive.file_system.is_card_like:
            self.listed_in_order = close_gaps(calls, folder)
        for move in placed:
            self.doing = f"moving {move.name} to its place"
            if exists(calls, folder, move.name):
                raise JobError("came into being while we worked", where=str(folder.path / move.name))
            calls.rename(work, move.work_name, folder, move.name)
