"""The command: its words, its JSON and its exit status."""

import hashlib
import json
from collections import namedtuple
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import numpy as np
import psutil
import pytest

from ghostprep.card.drives import drive_of
from ghostprep.cli import group
from ghostprep.cli.run import status_of
from ghostprep.clip import write_frames
from ghostprep.player import Profile, extend_profile, load_profile
from ghostprep.player.attempt import Setting, Shape
from ghostprep.player.encode import arguments_for
from ghostprep.player.read import has_pictures

Part = namedtuple("Part", "device mountpoint fstype opts")


@pytest.fixture(autouse=True)
def _no_card(card) -> None:
    """The folder is no card, as it is in truth."""
    card.ask = drive_of


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
        (["MISSING", "FOLDER", "--any-folder"], "does not exist; check the name"),
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


@pytest.fixture
def made(tmp_path: Path) -> Callable[..., Path]:
    """Give a real loop for a player, with the report that `make` lays beside it."""

    def make(name: str, profile: Profile, *, seed: int = 0, raster: tuple[int, int] = (320, 240)) -> Path:
        loop = tmp_path / f"{name}{profile.ending}"
        shape = (raster[1] * 3 // 2, raster[0])
        frames = [np.full(shape, 40 + 20 * seed + number, np.uint8) for number in range(10)]
        arguments = arguments_for(profile, Shape(raster, Fraction(15), len(frames)), Setting(30, plain=True))
        write_frames(loop, frames, size=raster, rate=Fraction(15), arguments=arguments, pixels="i420")
        digest = hashlib.sha256(loop.read_bytes()).hexdigest()
        table = {
            "recipe": {"player": profile.name},
            "player": profile.as_dict(),
            "output": {"sha256": digest},
        }
        loop.with_suffix(".json").write_text(json.dumps(table))
        return loop

    return make


SMALL = load_profile("h264-baseline-qvga")


def test_the_player_is_taken_from_the_report_beside_the_loop(card, made, capsys) -> None:
    purser = made("purser", load_profile("h264-main-720p"))
    lantern = made("lantern", SMALL, seed=1)
    assert card_command(purser, card.folder, "--any-folder") == 0
    assert (card.folder / "01_purser.mp4").exists()  # this profile takes long names
    assert card_command(purser, lantern, card.folder, "--any-folder", "--replace") == 2
    assert "give --player NAME" in capsys.readouterr().err
    assert card_command(lantern, card.folder, "--any-folder", "--replace") == 0
    assert "02_LANTE.MP4" not in card.holds()
    assert "01_LANTE.MP4" in card.holds()
    assert "01_purser.mp4" not in card.holds()


def test_the_builders_own_keys_reach_the_card(card, made, capsys) -> None:
    """As the scene's [player] table or a profile file of the builder's own gives them."""
    own = extend_profile("h264-main-720p", {"names": "8.3"}, where="scene")
    assert card_command(made("purser", own), card.folder, "--any-folder") == 0
    assert "01_PURSE.MP4" in card.holds()
    few = extend_profile("h264-baseline-qvga", {"largest_bytes": 1000}, where="scene")
    assert card_command(made("lantern", few, seed=1), card.folder, "--any-folder") == 2
    assert "it takes at most 1 kB" in capsys.readouterr().err
    first, other = made("few", few, seed=3), made("other", SMALL, seed=2)
    assert card_command(first, other, card.folder, "--any-folder") == 2
    assert f"other limits than {first}" in capsys.readouterr().err


def test_what_the_player_does_not_take_is_refused(card, made, capsys) -> None:
    before = card.holds()
    large = made("large", load_profile("h264-high-1080p"), raster=(640, 480))
    assert card_command(large, card.folder, "--any-folder", "--player", SMALL.name) == 2
    said = capsys.readouterr().err
    assert "large.mp4: is beyond the player h264-baseline-qvga: its raster is 640x480 px" in said
    assert "it takes at most 320x240" in said
    assert "make it again with ghostprep make --player h264-baseline-qvga" in said
    assert card_command(card.loops[0], card.folder, "--any-folder", "--player", SMALL.name) == 2
    assert "is no loop that can be read" in capsys.readouterr().err
    assert card.holds() == before


def test_a_clip_that_no_report_tells_of_is_copied_with_a_caution(card, made, capsys) -> None:
    loop = made("purser", SMALL)
    loop.with_suffix(".json").unlink()
    assert card_command(loop, card.folder, "--any-folder") == 0
    assert "whether it takes them was not checked" in " ".join(capsys.readouterr().out.split())


def test_the_same_loop_twice_is_refused(card, made, capsys) -> None:
    loop = made("purser", SMALL)
    twin = loop.with_name("twin.mp4")
    twin.write_bytes(loop.read_bytes())
    before = card.holds()
    assert card_command(loop, twin, card.folder, "--any-folder") == 2
    assert f"twin.mp4: is the same loop as {loop}; leave one of them out" in capsys.readouterr().err
    assert card.holds() == before
    assert card_command(loop, card.folder, "--any-folder") == 0
    assert card_command(loop, card.folder, "--any-folder") == 2
    assert "stands on the card already as 01_PURSE.MP4" in capsys.readouterr().err
    assert card_command(loop, card.folder, "--any-folder", "--replace") == 0


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


def test_what_holds_no_picture_is_refused_though_no_player_is_known(
    card, tmp_path, capsys, monkeypatch
) -> None:
    monkeypatch.setattr("ghostprep.card.loops.has_pictures", has_pictures)
    note, clip = tmp_path / "note.mp4", tmp_path / "clip.mkv"
    note.write_text("The purser walks at eight.\n" * 50)
    frames = [np.zeros((48, 64, 3), np.uint8)] * 2
    write_frames(clip, frames, size=(64, 48), rate=Fraction(25), arguments=("-c:v", "ffv1"))
    before = card.holds()
    assert card_command(clip, note, card.folder, "--any-folder") == 2
    said = capsys.readouterr().err
    assert said == f"ghostprep: {note}: holds no moving picture that can be read; name a finished loop\n"
    assert card.holds() == before
    assert card_command(clip, card.folder, "--any-folder") == 0
