"""The command: its words, its JSON and its exit status."""

import hashlib
import json
from collections import namedtuple
from pathlib import Path

import psutil
import pytest

from ghostprep.cli import group
from ghostprep.cli.run import status_of

Part = namedtuple("Part", "device mountpoint fstype opts")


def card_command(*words: object) -> int:
    return status_of(group, ["card", *map(str, words)])


def report(loop: Path, player: str | None, sha256: str | None = None) -> None:
    table = {"recipe": {"player": player}, "output": {"sha256": sha256}}
    loop.with_suffix(".json").write_text(json.dumps(table))


def test_the_plan_is_printed_and_nothing_is_changed(card, capsys) -> None:
    before = card.holds()
    assert card_command(*card.loops, card.folder, "--any-folder", "--dry-run") == 0
    said = capsys.readouterr().out
    assert "01_PURSE.MP4" in said
    assert "02_LANTE.MP4" in said
    assert card.holds() == before


def test_json_is_one_object_alone_on_stdout(card, capsys) -> None:
    assert card_command(*card.loops, card.folder, "--any-folder", "--json") == 0
    out, err = capsys.readouterr()
    said = json.loads(out)
    assert [loop["name"] for loop in said["loops"]] == ["01_PURSE.MP4", "02_LANTE.MP4"]
    for loop, path in zip(said["loops"], card.loops, strict=True):
        data = (card.folder / loop["name"]).read_bytes()
        assert data == path.read_bytes()
        assert loop["sha256"] == hashlib.sha256(data).hexdigest()
    assert said["read_back"] in {"direct", "uncached", "dropped", "cached"}
    assert "Eject it" in err


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (["LOOP"], "no folder was named"),
        (["FOLDER"], "no loop was named"),
        (["LOOP", "FOLDER"], "no removable drive"),
        (["LOOP", "/usr/lib"], "system folder"),
        (["LOOP", "MISSING"], "does not exist"),
        (["MISSING", "FOLDER", "--any-folder"], "does not exist"),
        (["FOLDER", "FOLDER", "--any-folder"], "not a regular file"),
        (["LOOP", "FOLDER", "--any-folder", "--player", "none-such"], "none-such"),
        (["LOOP", "FOLDER", "--any-folder", "--player", "mjpeg-avi-qvga"], "takes .avi files"),
    ],
)
def test_wrong_input_is_one_line_and_status_2(card, capsys, words: list[str], line: str) -> None:
    known = {"LOOP": card.loops[0], "FOLDER": card.folder, "MISSING": card.folder / "MISSING"}
    before = card.holds()
    assert card_command(*(known.get(w, w) for w in words)) == 2
    out, err = capsys.readouterr()
    assert line in err
    assert err.count("\n") == 1
    assert out == ""
    assert card.holds() == before


def test_the_player_is_taken_from_the_report_beside_the_loop(card, capsys) -> None:
    digest = hashlib.sha256(card.loops[0].read_bytes()).hexdigest()
    report(card.loops[0], "h264-main-720p", digest)
    assert card_command(card.loops[0], card.folder, "--any-folder") == 0
    assert (card.folder / "01_purser.mp4").exists()  # this profile takes long names
    report(card.loops[1], "h264-baseline-qvga")
    assert card_command(*card.loops, card.folder, "--any-folder", "--replace") == 2
    assert "give --player NAME" in capsys.readouterr().err
    arguments = ("--any-folder", "--replace", "--player", "h264-baseline-qvga")
    assert card_command(*card.loops, card.folder, *arguments) == 0
    assert {"01_PURSE.MP4", "02_LANTE.MP4"} < set(card.holds())
    assert "01_purser.mp4" not in card.holds()


def test_a_loop_other_than_its_report_says_is_refused(card, capsys) -> None:
    report(card.loops[0], None, "0" * 64)
    assert card_command(card.loops[0], card.folder, "--any-folder") == 2
    assert "not the file that its report describes" in capsys.readouterr().err


@pytest.mark.parametrize("text", ["", "[]", "{", '{"recipe": 5, "output": []}', "[" * 100_000, "\udcff"])
def test_a_report_that_cannot_be_read_is_none(card, text: str) -> None:
    card.loops[0].with_suffix(".json").write_bytes(text.encode("utf-8", "surrogateescape"))
    assert card_command(card.loops[0], card.folder, "--any-folder", "--no-ledger") == 0
    assert set(card.holds()) == {*card.foreign, "01_PURSE.MP4"}


def test_without_words_the_cards_are_listed(tmp_path: Path, capsys, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(psutil, "disk_partitions", lambda all=False: [])
    assert card_command() == 0
    assert "No card" in capsys.readouterr().out
    parts = [Part("/dev/sdz1", str(tmp_path), "exfat", "rw")]
    monkeypatch.setattr(psutil, "disk_partitions", lambda all=False: parts)
    monkeypatch.setattr("ghostprep.card.drives._removable", lambda *part: True)
    assert card_command() == 0
    assert str(tmp_path) in capsys.readouterr().out.replace("\n", "")
    assert card_command("--json") == 0
    (drive,) = json.loads(capsys.readouterr().out)["drives"]
    assert (drive["mount"], drive["file_system"], drive["removable"]) == (str(tmp_path), "exFAT", True)
