"""What `plan`, `inspect` and `card` print of results that are given: each row where it belongs."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from ghostprep.box import Box
from ghostprep.card.drives import Drive, FileSystem
from ghostprep.cli import card as card_command
from ghostprep.cli import group, plan_text
from ghostprep.cli import inspect as inspect_command
from ghostprep.cli.run import status_of
from ghostprep.finding import Finding
from ghostprep.loop import LoopCandidate
from ghostprep.optics import Plan, make_plan
from ghostprep.optics.baffle import Baffle
from ghostprep.picture import Backing, Swatch
from ghostprep.prepare.figure import FigureExtent
from ghostprep.scene import parse_scene
from ghostprep.scene.starter import starter_text


@pytest.fixture(scope="module")
def plan() -> Plan:
    return make_plan(parse_scene(starter_text()))


def test_room_is_told_where_there_is_some(plan: Plan) -> None:
    for mm, told in ((7.5, "7.5 mm"), (-7.5, None), (0.0, None)):
        room, sight = replace(plan.room, body_to_pane_mm=mm), replace(plan.sight, behind_back_mm=-mm)
        rows = dict(plan_text._room(replace(plan, room=room, sight=sight)))
        assert rows.get("player") == (told and f"at least {told} clear of the pane")
        assert rows.get("back wall") == (told and f"{told} behind the ghost")


def test_the_shelfs_depth_is_told_if_it_was_given(plan: Plan) -> None:
    bare = plan.scene.model_copy(update={"shelf": None})
    assert "there" not in dict(plan_text._room(replace(plan, scene=bare)))["shelf"]


def test_a_board_is_cut_only_where_it_clears_the_ghost(plan: Plan) -> None:
    board = Baffle("left", 20, 3, reach_mm=40, low_mm=0, high_mm=110, clearance_mm=1)
    for baffle, told in ((board, True), (replace(board, clearance_mm=-1), False), (None, False)):
        rows = dict(plan_text._cut_list(replace(plan, sight=replace(plan.sight, baffle=baffle))))
        assert ("baffle" in rows) is told
    assert dict(plan_text._cut_list(replace(plan, sight=replace(plan.sight, baffle=board))))[
        "baffle"
    ].endswith(", on the left, 20 mm behind the opening, black")


def test_a_slot_is_cut_only_where_the_players_way_passes_a_wall(plan: Plan) -> None:
    way = next(way for way in plan.room.ways_out if way.direction == plan.room.out)
    for surface, in_the_way, told in (
        ("ceiling", (), True),
        ("opening", (), False),
        ("ceiling", ("pane",), False),
    ):
        ways = tuple(
            replace(way, surface=surface, in_the_way=in_the_way) if one is way else one
            for one in plan.room.ways_out
        )
        rows = dict(plan_text._cut_list(replace(plan, room=replace(plan.room, ways_out=ways))))
        assert ("slot" in rows) is told
        assert {"holder", "its window"} <= set(rows)


def inspected(*, figure: FigureExtent | None, loops: tuple[LoopCandidate, ...], **facts: Any) -> Any:
    told = {
        "path": Path("in/purser.mp4"), "size": (640, 360), "rate": Fraction(25), "frames": 300, "rotation": 0,
        "mirrored": False, "codec": "h264", "pixel_format": "yuv420p", "range": "limited", "matrix": "bt709",
        "still": False, "interlaced": False,
    }  # fmt: skip
    backing = Backing("green", "#30a050", 0.93, "an even green", mix="light")
    seen = SimpleNamespace(
        key=SimpleNamespace(backing=backing, cloths=CLOTHS), facts=SimpleNamespace(**told | facts),
        lasts_s=12.5, rate=Fraction(25), source=range(300),
        named=lambda loop: f"{2 * loop.first}-{2 * loop.last}",
    )  # fmt: skip
    return SimpleNamespace(
        seen=seen, figure=figure, loops=loops, findings=(), as_dict=lambda: {"loops": len(loops)}
    )


CLOTHS = (Swatch("#63799a", 0.74, 0.0, sure=True), Swatch("#8fb0a2", 0.19, 0.42, sure=False))
FIGURE = FigureExtent(Box(10, 20, 100, 200), 180.4, (60.0, 210.0))
LOOPS = (LoopCandidate(10, 84, 0, "cut", 0.5), LoopCandidate(20, 119, 9, "flow", 0.9))


def test_a_clip_is_told_with_its_turn_and_its_figure() -> None:
    rows = dict(inspect_command._rows(inspected(figure=FIGURE, loops=LOOPS)))
    assert rows["clip"] == "purser.mp4: 640x360, 25 frames a second, 12.50 s, 300 frames"
    assert rows["coding"] == "h264, yuv420p, limited range, bt709"
    fields = dict(inspect_command._rows(inspected(figure=None, loops=(), interlaced=True)))
    assert fields["coding"] == "h264, yuv420p, limited range, bt709, interlaced"
    assert rows["figure"] == "180 px tall, always within --crop 100x200+10+20"
    assert rows["cloths"] == "#63799a 74%, #8fb0a2 19% (sheer: 42%)"
    turned = dict(
        inspect_command._rows(inspected(figure=None, loops=(), rotation=90, mirrored=True, frames=None))
    )
    assert turned["clip"].startswith(
        "purser.mp4: 640x360, turned 90 degrees by its tag, mirrored by its tag, 25 "
    )
    assert turned["clip"].endswith(", 12.50 s, 0 frames")
    assert turned["figure"] == "none"
    still = dict(inspect_command._rows(inspected(figure=FIGURE, loops=(), still=True, frames=1)))
    assert still["clip"] == "purser.mp4: 640x360, one picture"


@pytest.mark.parametrize(
    ("options", "loops", "told"),
    [
        ([], LOOPS, ""),
        (["--start", "0.5", "--mix", "codes"], LOOPS, " --start 0.5 --mix codes"),
        (["--backing", "green", "--length", "2-4"], (), " --length 2-4 --backing green"),
        (["--solid", "#6a7d5e"], LOOPS, " --solid '#6a7d5e'"),
        (["--sheer", "#e6e0d8, #2b2118"], LOOPS, " --sheer '#e6e0d8,#2b2118'"),
        (["--plate", "my plate.png"], LOOPS, " --plate 'my plate.png'"),
        (
            ["--player", "mpeg1-ps-sif", "--fps", "29.97", "--raster", "96x72"],
            LOOPS,
            " --raster 96x72 --player mpeg1-ps-sif --fps 30000/1001",
        ),
    ],
)
def test_inspect_tells_its_loops_and_how_to_make_the_first(
    options: list[str],
    loops: tuple[LoopCandidate, ...],
    told: str,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
) -> None:
    found = inspected(figure=FIGURE, loops=loops)
    monkeypatch.setattr("ghostprep.prepare.inspect.inspect", lambda *_: found)
    assert status_of(group, ["inspect", "a.mp4", *options]) == 0
    lines = [line.rstrip() for line in capfd.readouterr().out.splitlines()]
    assert lines[-1].startswith(f"Next: ghostprep make a.mp4{told}  (")
    table = [line.split("  ") for line in lines if line[:2] in {"A ", "B "}]
    cells = [[cell.strip() for cell in row if cell.strip()] for row in table]
    offered = [["20-168", "3.00 s", "plain cut"], ["40-238", "4.00 s", "blend over 9 frames"]]
    assert [row[1:4] for row in cells] == offered[: len(loops)]
    assert status_of(group, ["inspect", "a.mp4", *options, "--json"]) == 0
    out, err = capfd.readouterr()
    assert (json.loads(out), err) == ({"loops": len(loops)}, "")


DRIVE = Drive(
    Path("/media/CARD"), "/dev/sdz1", FileSystem("FAT32", "boot sector"),
    removable=True, writable=True, total_bytes=8_000_000_000, free_bytes=61_000_000,
)  # fmt: skip


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({}, "FAT32 (by its boot sector), 61 of 8,000 MB free"),
        ({"writable": False}, "FAT32 (by its boot sector), 61 of 8,000 MB free, read-only"),
        ({"free_bytes": None}, "FAT32 (by its boot sector)"),
        ({"total_bytes": None}, "FAT32 (by its boot sector)"),
        ({"file_system": FileSystem("exFAT", "system"), "free_bytes": None}, "exFAT (by the system)"),
    ],
)
def test_a_drive_in_words(changed: dict[str, Any], words: str) -> None:
    assert card_command._drive_words(replace(DRIVE, **changed)) == words


def test_drives_are_listed_and_a_loop_alone_is_told_which_there_are(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    loop = tmp_path / "l.mp4"
    loop.touch()
    for drives, listed, seen in (
        ([], "No card and no USB drive", "none"),
        ([DRIVE, DRIVE], "Drives that can be taken out", "/media/CARD, /media/CARD"),
    ):
        monkeypatch.setattr("ghostprep.card.list_drives", lambda drives=drives: drives)
        assert status_of(group, ["card"]) == 0
        assert capfd.readouterr().out.startswith(listed)
        assert status_of(group, ["card", str(loop)]) == 2
        assert capfd.readouterr().err.endswith(f"name the card's folder last (cards seen: {seen})\n")


def test_what_was_written_is_told_apart_from_what_would_be(capfd: pytest.CaptureFixture[str]) -> None:
    from ghostprep.card import CardResult

    step = SimpleNamespace(name="01_PURSE.MP4", loop=Path("in/purser.mp4"), bytes=828_900)
    findings = (Finding("note", "card", "eject it"),)
    plan: Any = SimpleNamespace(
        folder=Path("/media/CARD"), drive=DRIVE, steps=[step], findings=findings,
        contents=SimpleNamespace(leaves=[SimpleNamespace(name="01_OLD.MP4")]),
    )  # fmt: skip
    card_command._show(plan, as_json=False)
    would = [line.rstrip() for line in capfd.readouterr().out.splitlines()]
    assert would == [
        "The card", "folder         /media/CARD",
        "drive          FAT32 (by its boot sector), 61 of 8,000 MB free",
        "to be removed  01_OLD.MP4", "Would be written, in play order", "01_PURSE.MP4  purser.mp4, 829 kB",
        "note: card: eject it",
    ]  # fmt: skip
    done = CardResult(plan, (), (), in_order=False, reading="direct", undone=False)
    card_command._show(done, as_json=False)
    did = [line.rstrip() for line in capfd.readouterr().out.splitlines()]
    assert did[3:8] == [
        "removed    01_OLD.MP4", "read back  past the system's cache, SHA-256 equal",
        "entries    NOT in play order",
        "Written, in play order", "01_PURSE.MP4  purser.mp4, 829 kB",
    ]  # fmt: skip
