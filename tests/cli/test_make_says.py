"""What `make` says: short, right, with what comes next; and what it refuses to ignore."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from ghostprep.cli import group
from ghostprep.cli.run import status_of

SMALL = ["--player", "master-ffv1-mkv", "--raster", "96x72"]


@pytest.fixture(scope="module")
def clip(make_letter_clip: Callable[..., Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_letter_clip(tmp_path_factory.mktemp("says") / "my clip.mp4", size=(96, 72), frames=60)


def test_make_is_short_and_names_what_comes_next(here: Path, capfd: pytest.CaptureFixture[str]) -> None:
    assert status_of(group, ["make", "my clip.mp4", *SMALL]) == 0
    short = capfd.readouterr().out
    assert len(short.splitlines()) < 20
    assert "jump at the join" not in short
    assert "proofs passed" in short
    assert "Next: ghostprep preview 'my clip_loop.mkv'" in short
    assert status_of(group, ["make", "my clip.mp4", *SMALL, "--all", "--overwrite"]) == 0
    every = capfd.readouterr().out
    report = json.loads(Path("my clip_loop.json").read_text())
    assert every.count(" passed ") + every.count("FAILED ") >= len(report["proofs"])
    assert "jump at the join" in every


def test_a_join_that_fails_is_a_fault_and_strict_ends_with_one(
    here: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    # the letter sways: from frame 7 to frame 0 it jumps
    arguments = ["make", "my clip.mp4", "jump.mkv", *SMALL, "--pick", "0-7", "--start", "0", "--strict"]
    arguments += ["--crossfade", "0"]
    assert status_of(group, arguments) == 1
    out = capfd.readouterr().out
    assert "proofs FAILED (join" in out
    assert "fault: join: at the join the picture jumps" in out
    assert "ghostprep card" not in out
    report = json.loads(Path("jump.json").read_text())
    faults = [f for f in report["findings"] if f["level"] == "fault"]
    failed = {p["name"] for p in report["proofs"] if not p["passed"]}
    assert {f["subject"] for f in faults} >= failed & {"join"}
    assert all(f["remedy"] for f in faults)
    assert [f["subject"] for f in report["findings"]].count("join") == 1


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--scene", "s.toml", "--turn", "90"], "--turn: is overruled: the scene file says how the screen"),
        (["--scene", "s.toml", "--turn", "0"], "--turn: is overruled: the scene file says how the screen"),
        (["--scene", "s.toml", "--reflections", "2"], "--reflections: is overruled: the scene file says"),
        (["--pick", "B", "--join", "fades"], "--pick: is overruled: --join fades does not choose"),
        (["--pick", "0-9", "--length", "2"], "--length: is overruled: --pick 0-9 says which frames"),
        (["--crossfade", "1", "--join", "none"], "--crossfade: is overruled: --join none blends nothing"),
        (["--plate", "p.png", "--backing", "green"], "--plate: is overruled: --backing green says"),
        (["--seed", "2"], "--seed belongs to --appear"),
        (["--repeat-for", "0.2"], "--repeat-for: is shorter than the loop"),
        (["--out-dir", ".", "--out", "x.mkv"], "--out-dir goes neither with --appear nor with --out"),
        (
            ["x.mp4", "--appear", "5-12", "--repeat-for", "40"],
            "x.mp4 is no clip; the file to write goes after",
        ),
    ],
)
def test_what_another_option_overrules_is_refused(
    here: Path, capfd: pytest.CaptureFixture[str], more: list[str], said: str
) -> None:
    assert status_of(group, ["scene", "s.toml"]) == 0
    capfd.readouterr()
    small = [] if "--scene" in more else SMALL
    assert status_of(group, ["make", "my clip.mp4", *small, *more]) == 2
    (line,) = capfd.readouterr().err.splitlines()
    assert said in line
    assert sorted(path.name for path in here.iterdir()) == ["my clip.mp4", "s.toml"]


def test_calm_that_changes_nothing_says_so(here: Path, capfd: pytest.CaptureFixture[str]) -> None:
    assert status_of(group, ["make", "my clip.mp4", *SMALL, "--calm"]) == 0
    assert "note: flash: --calm changed nothing" in capfd.readouterr().out


def test_a_player_that_goes_dark_between_repeats_is_told(
    here: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert status_of(group, ["make", "my clip.mp4", "a.mp4", "--length", "1"]) == 0
    out = capfd.readouterr().out
    assert "caution: repeats: a player such as h264-baseline-qvga goes dark for up to 0.5 s" in out
    assert "--repeat-for 30:00" in out
    assert "Next: ghostprep card a.mp4 FOLDER" in out
    assert status_of(group, ["make", "my clip.mp4", "b.mp4", "--length", "1", "--repeat-for", "5"]) == 0
    out = capfd.readouterr().out
    assert "goes dark" not in out
    assert "5 in the file, 5.00 s together" in out


def test_appearances_say_from_what_to_what(here: Path, capfd: pytest.CaptureFixture[str]) -> None:
    arguments = ["make", "my clip.mp4", *SMALL, "--appear", "3-5", "--repeat-for", "12", "--out", "e.mkv"]
    assert status_of(group, arguments) == 0
    assert "s from the beginning of one to the beginning of the next" in capfd.readouterr().out
    assert status_of(group, ["make", "--help"]) == 0
    told = " ".join(capfd.readouterr().out.split())
    assert "from the beginning of one appearance to the beginning of the next" in told
