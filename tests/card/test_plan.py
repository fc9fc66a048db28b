"""The plan: order, room, limits, and what it refuses; it changes nothing."""

import dataclasses
import os
from pathlib import Path

import pytest

from ghostprep.card import CardOrder, fill_card, plan_card
from ghostprep.card.drives import FileSystem
from ghostprep.card.records import LEDGER
from ghostprep.errors import InputError, JobError


def order(card, *loops: Path, **more) -> CardOrder:
    return CardOrder(tuple(loops) or tuple(card.loops), card.folder, **more)


def test_loops_are_numbered_in_the_order_given_and_nothing_is_touched(card, taken) -> None:
    before = card.holds()
    plan = plan_card(order(card))
    assert [s.name for s in plan.steps] == ["01_PURSE.MP4", "02_LANTE.MP4"]
    again = plan_card(order(card, *reversed(card.loops), player=taken("h264-main-720p")))
    assert [s.name for s in again.steps] == ["01_lantern.mp4", "02_purser.mp4"]
    assert card.holds() == before


def test_numbers_go_on_from_what_is_there(card) -> None:
    (card.folder / "07_OLD.MP4").write_bytes(b"x")
    (card.folder / "20260101_party.mp4").write_bytes(b"x")  # a date is no place in an order
    plan = plan_card(order(card))
    assert [s.name for s in plan.steps] == ["08_PURSE.MP4", "09_LANTE.MP4"]
    (text,) = [f.text for f in plan.findings if "others" in f.text]
    assert "(2)" in text
    assert "07_OLD.MP4" in text


@pytest.mark.parametrize("count", [1, 3, 4])
def test_three_of_what_others_put_there_are_named(card, count: int) -> None:
    for n in range(count):
        (card.folder / f"PARTY{n}.MP4").write_bytes(b"x")
    (text,) = [f.text for f in plan_card(order(card)).findings if "others" in f.text]
    assert text.count("PARTY") == min(count, 3)
    assert text.endswith("...") is (count > 3)


def test_an_order_by_name_that_would_break_is_refused(card) -> None:
    (card.folder / "98_OLD.MP4").write_bytes(b"x")
    with pytest.raises(InputError, match="number 100"):
        plan_card(order(card))


def test_more_than_99_loops_get_three_digits(card, tmp_path: Path) -> None:
    loops = []
    for number in range(100):
        loops.append(tmp_path / f"loop{number}.mp4")
        loops[-1].write_bytes(str(number).encode())
    names = [s.name for s in plan_card(order(card, *loops)).steps]
    assert (names[0], names[-1]) == ("001_LOOP.MP4", "100_LOOP.MP4")
    assert names == sorted(names)


@pytest.mark.parametrize(
    ("kind", "size", "refused"),
    [("FAT32", 2**32 - 1, False), ("FAT16", 2**32, True), ("FAT", 2**32, True), ("exFAT", 2**32, False)],
)
def test_a_file_on_fat_ends_at_4_gib_less_one(
    card, tmp_path: Path, kind: str, size: int, refused: bool
) -> None:
    # 0xFFFFFFFF bytes: Microsoft FAT32 File System Specification 1.03
    loop = tmp_path / "long.mp4"
    with loop.open("wb") as file:
        file.truncate(size)  # a hole: takes no room
    card.drive = dataclasses.replace(card.drive, file_system=FileSystem(kind, "system"), free_bytes=10**11)
    if refused:
        with pytest.raises(InputError, match="4,294,967,295"):
            plan_card(order(card, loop))
    else:
        assert plan_card(order(card, loop)).steps[0].bytes == size


def test_an_ending_of_three_letters_is_chosen_where_names_are_short(card, tmp_path: Path, taken) -> None:
    stream = tmp_path / "a.h264"
    stream.write_bytes(b"x")
    player = taken("h264-annexb").model_copy(update={"names": "8.3"})
    assert plan_card(order(card, stream, player=player)).steps[0].name == "01_A.264"
    with pytest.raises(InputError, match=r"01_A\.H264, is longer than 8 characters"):
        plan_card(order(card, stream))


def test_room_is_counted_in_clusters(card) -> None:
    # 3000 and 4000 bytes take one cluster of 4096 each; 16 more are kept for the bookkeeping
    card.drive = dataclasses.replace(card.drive, free_bytes=18 * 4096)
    plan_card(order(card))
    card.drive = dataclasses.replace(card.drive, free_bytes=18 * 4096 - 1)
    with pytest.raises(InputError, match="73,728 bytes are needed and 73,727 are free"):
        plan_card(order(card))
    card.drive = dataclasses.replace(card.drive, free_bytes=None)
    plan = plan_card(order(card))
    assert any("does not tell how much room" in f.text for f in plan.findings)


def test_loops_that_cannot_be_used(card, tmp_path: Path) -> None:
    bad = {
        "missing.mp4": "does not exist; check the name",
        "folder.mp4": "not a regular file",
        "pipe.mp4": "not a regular file",
        "empty.mp4": "is empty",
        "a\x00b.mp4": "cannot be read",
    }
    (tmp_path / "folder.mp4").mkdir()
    os.mkfifo(tmp_path / "pipe.mp4")
    (tmp_path / "empty.mp4").touch()
    for name, reason in bad.items():
        with pytest.raises(InputError, match=reason):
            plan_card(order(card, card.loops[0], tmp_path / name))
    with pytest.raises(InputError, match="no loop"):
        plan_card(CardOrder((), card.folder))


def test_equal_names_are_refused(card, tmp_path: Path) -> None:
    (tmp_path / "more").mkdir()
    twin = tmp_path / "more" / "PURSER.MP4"
    twin.write_bytes(b"x")
    with pytest.raises(InputError, match="same name as"):
        plan_card(order(card, card.loops[0], twin))
    with pytest.raises(InputError, match="same name as"):
        plan_card(order(card, card.loops[0], card.loops[0]))


def test_a_loop_on_the_card_is_not_copied_onto_it(card) -> None:
    (card.folder / "x.mp4").write_bytes(b"x")
    with pytest.raises(InputError, match="on the card already"):
        plan_card(order(card, card.folder / "x.mp4"))


def test_formats_that_players_mistake(card) -> None:
    for system, words in (
        (FileSystem("exFAT", "system"), "exFAT"),
        (FileSystem("FAT32", "boot sector", doubtful=True), "65525"),
    ):
        card.drive = dataclasses.replace(card.drive, file_system=system)
        assert any(words in f.text for f in plan_card(order(card)).findings)


@pytest.mark.parametrize(
    "text",
    [
        b"",
        b"milk, eggs",
        b'{"loops": [{"name": "../HOLIDAY.JPG", "bytes": 1, "sha256": "' + b"0" * 64 + b'"}]}',
        b'{"loops": [{"name": "HOLIDAY.JPG", "bytes": -1, "sha256": "x"}]}',
        b"[" * 100_000,
        b"\xff" * 100,
        b" " * (2 << 20),
    ],
)
def test_a_list_that_is_not_ours_is_left_alone(card, text: bytes) -> None:
    (card.folder / LEDGER).write_bytes(text)
    result = fill_card(plan_card(order(card)))
    assert (card.folder / LEDGER).read_bytes() == text
    assert any("not a list of ours" in f.text for f in result.findings)
    with pytest.raises(InputError, match="cannot be read"):
        plan_card(order(card, replace=True))


def test_a_card_that_cannot_be_read(card, watched, failing) -> None:
    plan_card(order(card), calls=watched)
    for at in range(1, len(watched.made) + 1):
        with pytest.raises(JobError, match=r"does not answer.*nothing was changed"):
            plan_card(order(card), calls=failing(at, "gone"))
