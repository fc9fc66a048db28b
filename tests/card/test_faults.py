"""Every call to the card is made to fail, one after the other: nothing that was there is lost.

``once`` the call fails and the next ones work; ``late`` it is done but reported as failed; ``gone``
all calls from there on fail, as when the card is pulled out.
"""

import dataclasses
import errno
import os
from pathlib import Path

import pytest

from ghostprep.card import CardOrder, fill_card, plan_card
from ghostprep.card.calls import SystemCalls
from ghostprep.card.records import LEDGER, Journal, Move
from ghostprep.card.work_folder import WORK, undo, write_journal
from ghostprep.errors import JobError


class Bench:
    """A card with two loops of ours and a new pair that replaces them, or joins them."""

    def __init__(self, card, *, replace: bool) -> None:
        self.card, self.replace = card, replace
        self.fill(card.loops, SystemCalls())
        self.old = card.holds()
        self.new_loops = []
        for name, data in (("ferry.mp4", b"ferry" * 900), ("purser.mp4", b"purser" * 800), ("c.mp4", b"c")):
            folder = card.folder.parent / "new"
            folder.mkdir(exist_ok=True)
            (folder / name).write_bytes(data)
            self.new_loops.append(folder / name)

    def fill(self, loops: list[Path], calls: SystemCalls) -> None:
        order = CardOrder(tuple(loops), self.card.folder, replace=self.replace)
        fill_card(plan_card(order), calls=calls)

    def run(self, calls: SystemCalls) -> None:
        self.fill(self.new_loops, calls)

    def reset(self) -> None:
        for path in sorted(self.card.folder.rglob("*"), reverse=True):
            path.rmdir() if path.is_dir() else path.unlink()
        for name, data in self.old.items():
            (self.card.folder / name).write_bytes(data)

    def undo(self) -> None:
        calls = SystemCalls()
        folder = calls.open_folder(self.card.folder)
        try:
            undo(calls, folder)
        finally:
            calls.close_folder(folder)


@pytest.fixture(params=[True, False], ids=["replace", "add"])
def bench(request, card) -> Bench:
    return Bench(card, replace=request.param)


@pytest.fixture
def steps(bench, fat_order) -> list[tuple[str, str]]:
    """Return the calls of a run in which nothing fails."""
    bench.run(fat_order)
    bench.new = bench.card.holds()
    bench.reset()
    made = list(fat_order.made)
    while made[-1][0] == "close_folder":
        made.pop()  # all is done by then, and nothing is said if letting go of the folder fails
    return made


def test_each_kind_of_step_is_reached(steps) -> None:
    kinds = {name for name, _ in steps}
    assert kinds >= {"make_folder", "create", "write", "flush", "read", "rename", "remove", "remove_folder"}
    assert kinds >= {"open_back", "close", "flush_folder", "names", "status", "lock"}


@pytest.mark.parametrize("how", ["once", "late"])
def test_a_step_that_fails_changes_nothing(bench, steps, failing, how: str) -> None:
    kept = 0
    for at in range(1, len(steps) + 1):
        if steps[at - 1][0] == "close_folder":
            continue
        with pytest.raises(JobError, match=r"CARD: .*EIO.*; .") as caught:
            bench.run(failing(at, how))
        line = caught.value.one_line()
        assert caught.value.exit_code == 1
        assert "\n" not in line
        holds = bench.card.holds()
        # old or new as a whole; nothing left over: the card answered again when it was cleared up
        in_place = "in place and proven" in line
        assert holds == (bench.new if in_place else bench.old), (at, steps[at - 1], line)
        assert not (bench.card.folder / WORK).exists()
        kept += not in_place
        bench.reset()
    assert kept > len(steps) / 2


def test_a_card_pulled_out_loses_nothing_and_the_next_run_mends_it(bench, steps, failing) -> None:
    for at in range(1, len(steps) + 1):
        with pytest.raises(JobError, match=r"does not answer \(pulled out, or failing\)"):
            bench.run(failing(at, "gone"))
        holds = bench.card.holds()
        assert holds.items() >= bench.card.foreign.items()
        if LEDGER in holds and holds[LEDGER] != bench.new[LEDGER]:
            # until the run counts, each old loop is there, in its place or set aside
            assert set(bench.old.values()) <= set(holds.values()), (at, steps[at - 1])
        bench.undo()
        assert bench.card.holds() in (bench.old, bench.new), (at, steps[at - 1])
        assert not (bench.card.folder / WORK).exists()
        bench.reset()


def test_the_next_run_after_a_pulled_card_does_the_job(bench, steps, failing) -> None:
    for at in range(1, len(steps) + 1, 3):
        with pytest.raises(JobError, match="does not answer"):
            bench.run(failing(at, "gone"))
        if bench.replace:
            bench.run(SystemCalls())
            assert bench.card.holds() == bench.new, (at, steps[at - 1])
        else:
            bench.undo()
            if bench.card.holds() == bench.old:
                bench.run(SystemCalls())
            assert bench.card.holds() == bench.new
        bench.reset()


def test_pulled_out_again_while_it_is_mended(card, failing, watched) -> None:
    bench = Bench(card, replace=True)
    bench.run(SystemCalls())
    bench.new = card.holds()
    bench.reset()
    bench.run(watched)
    bench.reset()
    journal_stands = next(
        n for n, (_, text) in enumerate(watched.made) if "JOURNAL.JSN" in text and "NEW" in text
    )
    for first in range(journal_stands, len(watched.made) + 1, 5):
        for second in range(1, 60, 4):
            with pytest.raises(JobError, match="does not answer"):
                bench.run(failing(first, "gone"))
            calls = failing(second, "gone")
            try:
                folder = calls.open_folder(card.folder)
                undo(calls, folder)
            except OSError:
                pass
            bench.undo()
            assert card.holds() in (bench.old, bench.new), (first, second)
            bench.reset()


def test_an_interrupt_at_any_step_changes_nothing(bench, steps, failing) -> None:
    for at in range(1, len(steps) + 1):
        with pytest.raises(KeyboardInterrupt, match="by hand"):
            bench.run(failing(at, "once", KeyboardInterrupt("by hand")))
        assert bench.card.holds() in (bench.old, bench.new), (at, steps[at - 1])
        assert not (bench.card.folder / WORK).exists()
        bench.reset()


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOSPC, "no room is left"),
        (errno.EROFS, "write lock"),
        (errno.EACCES, "does not allow it"),
        (errno.ENODEV, "pulled out"),
        (errno.ENOTCONN, "pulled out"),
        (errno.EIO, "pulled out"),
        (errno.EFBIG, "File too large"),
    ],
)
def test_errors_are_told_in_words(card, failing, number: int, words: str) -> None:
    before = card.holds()
    plan = plan_card(CardOrder(tuple(card.loops), card.folder))
    with pytest.raises(JobError, match=words):
        fill_card(plan, calls=failing(8, "once", OSError(number, os.strerror(number))))
    assert card.holds() == before


def _journal_left(card, aside: tuple[Move, ...], placed: tuple[Move, ...]) -> SystemCalls:
    calls = SystemCalls()
    folder = calls.open_folder(card.folder)
    calls.make_folder(folder, WORK)
    work = calls.open_inner(folder, WORK)
    write_journal(calls, folder, work, Journal(aside=aside, placed=placed))
    calls.close_folder(work)
    calls.close_folder(folder)
    return calls


def _undo(card, calls: SystemCalls) -> None:
    folder = calls.open_folder(card.folder)
    try:
        undo(calls, folder)
    finally:
        calls.close_folder(folder)


def test_a_name_shown_twice_after_a_cut_is_not_removed(card) -> None:
    # a cut inside a rename on FAT leaves two entries for one file: removing either frees both
    move = Move(work_name="N0000.TMP", name="01_X.MP4", bytes=1, sha256="0" * 64)
    calls = _journal_left(card, (), (move,))
    (card.folder / WORK / "N0000.TMP").write_bytes(b"x")
    (card.folder / "01_X.MP4").write_bytes(b"x")
    with pytest.raises(JobError, match=r"shows it twice.*disk check"):
        _undo(card, calls)
    assert (card.folder / WORK / "N0000.TMP").exists()
    assert (card.folder / "01_X.MP4").exists()


def test_what_others_put_in_a_place_meanwhile_is_kept(card) -> None:
    aside = Move(work_name="O0000.TMP", name="01_X.MP4", bytes=1, sha256="0" * 64)
    placed = Move(work_name="N0000.TMP", name="01_X.MP4", bytes=1, sha256="1" * 64)
    calls = _journal_left(card, (aside,), (placed,))
    (card.folder / WORK / "O0000.TMP").write_bytes(b"the old loop")
    (card.folder / "01_X.MP4").write_bytes(b"someone's")
    with pytest.raises(JobError, match=r"another file is called 01_X\.MP4"):
        _undo(card, calls)
    assert (card.folder / "01_X.MP4").read_bytes() == b"someone's"
    (card.folder / "01_X.MP4").rename(card.folder / "MINE.MP4")
    _undo(card, calls)
    assert (card.folder / "01_X.MP4").read_bytes() == b"the old loop"
    assert not (card.folder / WORK).exists()


def test_a_journal_that_cannot_be_read_stops_the_run(card) -> None:
    calls = _journal_left(card, (), ())
    (card.folder / WORK / "JOURNAL.JSN").write_bytes(b"{")
    with pytest.raises(JobError, match="journal of an earlier run cannot be read"):
        _undo(card, calls)


def test_removals_that_reached_the_card_out_of_turn_do_not_cost_the_new_loops(card) -> None:
    # the journal's removal was lost in the card's own cache, that of the old loop was not
    aside = Move(work_name="O0000.TMP", name="01_X.MP4", bytes=1, sha256="0" * 64)
    placed = Move(work_name="N0000.TMP", name="01_X.MP4", bytes=3, sha256="1" * 64)
    calls = _journal_left(card, (aside,), (placed,))
    (card.folder / "01_X.MP4").write_bytes(b"new")
    _undo(card, calls)
    assert (card.folder / "01_X.MP4").read_bytes() == b"new"
    assert not (card.folder / WORK).exists()


def test_what_was_left_over_does_not_bar_the_next_run(card, failing) -> None:
    # a large copy that was cut off fills the card; the room it takes is free again when it is undone
    left = card.folder / WORK
    card.ask = lambda path: dataclasses.replace(card.drive, free_bytes=0 if left.exists() else 10**6)
    order = CardOrder(tuple(card.loops), card.folder)
    with pytest.raises(JobError, match="does not answer"):
        fill_card(plan_card(order), calls=failing(9, "gone"))
    assert (card.folder / WORK).exists()
    result = fill_card(plan_card(order))
    assert result.undone
    assert not result.plan.contents.unfinished
    assert set(card.holds()) == {*card.foreign, LEDGER, "01_PURSE.MP4", "02_LANTE.MP4"}
