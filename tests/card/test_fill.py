"""Filling: what is written, proven, replaced, and what is never touched."""

import dataclasses
import hashlib
import json
import os
from pathlib import Path

import pytest

from ghostprep.card import CardOrder, fill_card, plan_card
from ghostprep.card.calls import Folder, SystemCalls
from ghostprep.card.records import LEDGER
from ghostprep.card.work_folder import WORK
from ghostprep.errors import InputError, JobError


def fill(card, *loops: Path, calls: SystemCalls | None = None, **more):
    order = CardOrder(tuple(loops) or tuple(card.loops), card.folder, **more)
    return fill_card(plan_card(order), calls=calls)


def written(card) -> dict[str, bytes]:
    return {n: d for n, d in card.holds().items() if n not in card.foreign and n != LEDGER}


def test_loops_stand_there_bit_by_bit_and_are_listed(card) -> None:
    result = fill(card)
    assert written(card) == {
        "01_PURSE.MP4": card.loops[0].read_bytes(),
        "02_LANTE.MP4": card.loops[1].read_bytes(),
    }
    ledger = json.loads((card.folder / LEDGER).read_text())
    assert [(w["name"], w["sha256"], w["loop"]) for w in ledger["loops"]] == [
        (name, hashlib.sha256(loop.read_bytes()).hexdigest(), loop.name)
        for name, loop in zip(("01_PURSE.MP4", "02_LANTE.MP4"), card.loops, strict=True)
    ]
    assert card.holds().items() >= card.foreign.items()
    assert not (card.folder / WORK).exists()
    assert [w.name for w in result.written] == ["01_PURSE.MP4", "02_LANTE.MP4"]


def test_the_list_can_be_switched_off(card) -> None:
    fill(card, ledger=False)
    assert set(card.holds()) == {*card.foreign, "01_PURSE.MP4", "02_LANTE.MP4"}
    fill(card, ledger=True)
    fill(card, ledger=False, replace=True)  # those of the list leave, the unlisted stay, no list is left
    assert set(card.holds()) == {
        *card.foreign, "01_PURSE.MP4", "02_LANTE.MP4", "03_PURSE.MP4", "04_LANTE.MP4"
    }  # fmt: skip


def test_later_loops_join_the_list_and_replace_takes_all_of_it(card, tmp_path: Path) -> None:
    fill(card, card.loops[0])
    fill(card, card.loops[1])
    assert set(written(card)) == {"01_PURSE.MP4", "02_LANTE.MP4"}
    new = tmp_path / "ferry.mp4"
    new.write_bytes(b"new loop")
    result = fill(card, new, replace=True)
    assert written(card) == {"01_FERRY.MP4": b"new loop"}
    assert [w.name for w in result.plan.contents.leaves] == ["01_PURSE.MP4", "02_LANTE.MP4"]
    assert card.holds().items() >= card.foreign.items()


def test_replace_leaves_alone_what_is_no_longer_as_we_wrote_it(card) -> None:
    fill(card)
    changed = bytearray((card.folder / "01_PURSE.MP4").read_bytes())
    changed[100] ^= 1  # same size, other content
    (card.folder / "01_PURSE.MP4").write_bytes(changed)
    (card.folder / "02_LANTE.MP4").unlink()
    (card.folder / "02_LANTE.MP4").symlink_to("HOLIDAY.JPG")
    result = fill(card, replace=True)
    assert (card.folder / "01_PURSE.MP4").read_bytes() == changed
    assert (card.folder / "02_LANTE.MP4").is_symlink()
    assert [w.name for w in result.written] == ["03_PURSE.MP4", "04_LANTE.MP4"]
    assert any("changed since we wrote it" in f.text for f in result.findings)
    assert card.holds().items() >= card.foreign.items()


def test_the_same_loops_can_be_replaced_by_themselves(card) -> None:
    fill(card)
    before = card.holds()
    fill(card, replace=True)
    assert card.holds() == before


def test_a_list_that_names_a_symlink_leads_nowhere(card, tmp_path: Path) -> None:
    outside = tmp_path / "outside.txt"
    outside.write_bytes(b"keep me")
    digest = hashlib.sha256(b"keep me").hexdigest()
    # a symlink's own size is the length of what it says
    entry = {"name": "X.MP4", "bytes": len(str(outside)), "sha256": digest, "loop": ""}
    (card.folder / LEDGER).write_text(json.dumps({"loops": [entry]}))
    (card.folder / "X.MP4").symlink_to(outside)
    fill(card, replace=True)
    assert (card.folder / "X.MP4").is_symlink()
    assert outside.read_bytes() == b"keep me"


def test_a_work_folder_that_is_not_ours_is_refused(card, tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "N0000.TMP").write_bytes(b"keep me")
    (card.folder / WORK).symlink_to(outside)
    with pytest.raises(InputError, match="not a work folder of ours"):
        fill(card)
    assert (outside / "N0000.TMP").read_bytes() == b"keep me"
    (card.folder / WORK).unlink()
    (card.folder / WORK).mkdir()
    (card.folder / WORK / "thesis.doc").write_bytes(b"keep me")
    with pytest.raises(InputError, match="not a work folder of ours"):
        fill(card)
    assert (card.folder / WORK / "thesis.doc").read_bytes() == b"keep me"


def test_a_loop_that_is_not_what_its_report_says_is_refused(card) -> None:
    digest = hashlib.sha256(card.loops[1].read_bytes()).hexdigest()
    fill(card, card.loops[1], proven={card.loops[1].resolve(): digest})
    before = card.holds()
    with pytest.raises(InputError, match="not the file that its report describes"):
        fill(card, card.loops[0], proven={card.loops[0].resolve(): digest})
    assert card.holds() == before


def test_a_loop_that_changes_meanwhile(card) -> None:
    plan = plan_card(CardOrder(tuple(card.loops), card.folder))
    before = card.holds()
    with card.loops[1].open("ab") as file:
        file.write(b"more")
    with pytest.raises(JobError, match="changed while it was copied"):
        fill_card(plan)
    card.loops[1].unlink()
    with pytest.raises(JobError, match=r"lantern\.mp4: cannot be read"):
        fill_card(plan)
    assert card.holds() == before


class Shortened(SystemCalls):
    """A card that takes a few bytes at a time, as the system may."""

    def write(self, handle: int, data: memoryview) -> int:
        return super().write(handle, data[: 1 + len(data) // 3])


def test_short_writes_are_carried_on(card) -> None:
    fill(card, calls=Shortened())
    assert written(card)["02_LANTE.MP4"] == card.loops[1].read_bytes()


class Worn(SystemCalls):
    """A card that keeps one bit wrong."""

    def write(self, handle: int, data: memoryview) -> int:
        wrong = bytearray(data)
        wrong[len(wrong) // 2] ^= 4
        return super().write(handle, memoryview(wrong))


class Overstated(SystemCalls):
    """A card that is smaller than it claims: the next file overwrites the first."""

    def create(self, at: Folder, name: str) -> int:
        if name == "N0001.TMP":
            (at.path / "N0000.TMP").write_bytes(bytes(3000))
        return super().create(at, name)


@pytest.mark.parametrize("calls", [Worn(), Overstated()], ids=["worn", "overstated"])
def test_what_reads_back_different_is_not_left_there(card, calls: SystemCalls) -> None:
    before = card.holds()
    with pytest.raises(JobError, match=r"01_PURSE\.MP4 reads back different.*smaller than it claims"):
        fill(card, calls=calls)
    assert card.holds() == before
    assert not (card.folder / WORK).exists()


class Refusing(SystemCalls):
    """A file system without direct reading."""

    def open_back(self, at: Folder, name: str, way: str) -> int:
        if way in self.without:
            raise OSError(22, "Invalid argument")
        return super().open_back(at, name, way)

    without: tuple[str, ...] = ("direct",)


@pytest.mark.skipif(not hasattr(os, "O_DIRECT"), reason="this system has no direct reading")
def test_the_surest_way_of_reading_back_is_told(card) -> None:
    calls = Refusing()
    assert fill(card, calls=calls, replace=True).reading == "dropped"
    calls.without = ("direct", "dropped")
    result = fill(card, calls=calls, replace=True)
    assert result.reading == "cached"
    assert any("through its cache" in f.text for f in result.findings)


def test_another_run_is_kept_out(card, watched) -> None:
    if not hasattr(os, "O_DIRECTORY"):
        pytest.skip("this system has no folder handles to lock")
    plan = plan_card(CardOrder(tuple(card.loops), card.folder))
    folder = watched.open_folder(card.folder)
    watched.lock(folder)
    try:
        with pytest.raises(JobError, match="another run"):
            fill_card(plan)
    finally:
        watched.close_folder(folder)
    fill_card(plan)


def test_a_mount_point_without_its_card_is_not_written_to(card) -> None:
    plan = plan_card(CardOrder(tuple(card.loops), card.folder))
    before = card.holds()
    other = dataclasses.replace(plan.contents, volume=plan.contents.volume + 1)
    with pytest.raises(JobError, match="no longer the card"):
        fill_card(dataclasses.replace(plan, contents=other))
    assert card.holds() == before


def test_entries_stand_in_play_order_though_there_were_gaps(card, tmp_path: Path, fat_order, taken) -> None:
    # gaps of one and two slots before the end: unequal names would fall into them out of order
    for name in ("A.TXT", "Two slots", "B.TXT", "C.TXT", "Another two", "LAST.TXT"):
        (card.folder / name).write_bytes(b"x")
    folder = fat_order.open_folder(card.folder)
    fat_order.names(folder)
    for name in ("A.TXT", "Two slots", "C.TXT", "Another two"):
        fat_order.remove(folder, name)
    fat_order.close_folder(folder)
    loops = []
    for name in (
        "a very long name that takes many slots.mp4",
        "b.mp4",
        "another very long name.mp4",
        "c.mp4",
    ):
        loops.append(tmp_path / name)
        loops[-1].write_bytes(name.encode())
    result = fill(card, *loops, calls=fat_order, player=taken("h264-main-720p"))
    assert result.in_order is True
    ours = [n for n in result.listing if n[:2].isdigit()]
    assert ours == [s.name for s in result.plan.steps]
    assert not any("GAP" in n for n in card.holds())
    assert sum("GPGAP" in text for _, text in fat_order.made) >= 8  # gaps there were, and they were closed


class NewestFirst(SystemCalls):
    """A system that lists the latest entry first, whatever stands on the card."""

    def names(self, at: Folder) -> list[str]:
        return sorted(super().names(at), key=lambda n: -(at.path / n).stat().st_ctime_ns)


def test_an_order_that_is_not_shown_is_not_claimed(card) -> None:
    assert fill(card, calls=NewestFirst()).in_order is None


def test_entries_out_of_order_are_told(card, fat_order, taken) -> None:
    class Stuck(type(fat_order)):
        def about(self, name, args, call):
            if name == "create" and "GPGAP" in args[1]:
                raise OSError(28, "No space left on device")
            return super().about(name, args, call)

    calls = Stuck()
    (card.folder / "AAAA long name of an old file.txt").write_bytes(b"x")
    (card.folder / "B.TXT").write_bytes(b"x")
    folder = calls.open_folder(card.folder)
    calls.names(folder)
    calls.remove(folder, "AAAA long name of an old file.txt")
    calls.close_folder(folder)
    loops = [card.folder.parent / ("first loop with a name that is longer than the gap.mp4"), card.loops[0]]
    loops[0].write_bytes(b"x")
    result = fill(card, *loops, calls=calls, player=taken("h264-main-720p"))
    assert result.in_order is False
    assert any("not in play order" in f.text for f in result.findings)
