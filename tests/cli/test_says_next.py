"""What the other commands say: what comes next, with the user's own names; what they refuse to ignore."""

import json
import os
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import cv2
import numpy as np
import pytest

from ghostprep.cli import group
from ghostprep.cli.run import status_of
from ghostprep.loop import LoopCandidate
from ghostprep.prepare.choose import MOST, different


@pytest.fixture(scope="module")
def clip(make_letter_clip: Callable[..., Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_letter_clip(tmp_path_factory.mktemp("next") / "my clip.mp4", size=(96, 72), frames=120)


def said(arguments: list[str], capfd: pytest.CaptureFixture[str], status: int = 0) -> str:
    assert status_of(group, arguments) == status
    out, err = capfd.readouterr()
    return out + err


def test_inspect_lists_few_loops_and_the_command_for_the_first(
    here: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    text = said(["inspect", "my clip.mp4", "--length", "1-3.5", "--end", "3.9"], capfd)
    rows = [line for line in text.splitlines() if line[:3] in {f"{letter}  " for letter in "ABCDEFGH"}]
    assert 1 <= len(rows) <= MOST
    assert all(row.rstrip().endswith(("smooth", "a small jump", "jumps")) for row in rows)
    assert "Next: ghostprep make 'my clip.mp4' --end 3.9 --length 1-3.5" in text


def test_of_a_picture_inspect_tells_the_loop_that_make_makes_of_it(
    here: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    picture = np.full((72, 96, 3), (60, 200, 40), np.uint8)
    picture[20:60, 40:56] = 230
    cv2.imwrite("one.png", picture)
    text = said(["inspect", "one.png"], capfd)
    assert "note: still: the clip is one picture: it becomes a loop of 8 s" in text
    assert "Next: ghostprep make one.png  (" in text
    assert "does not loop" not in text


def test_inspect_and_make_mean_the_same_loop_by_a_letter(
    here: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    status_of(group, ["inspect", "my clip.mp4", "--json"])
    loops = json.loads(capfd.readouterr().out)["loops"]
    small = ["--player", "master-ffv1-mkv", "--raster", "96x72"]
    last = len(loops) - 1
    said(["make", "my clip.mp4", "l.mkv", *small, "--pick", "ABCDE"[last]], capfd)
    made = json.loads(Path("l.json").read_text())["loop"]
    assert (made["first"], made["last"]) == (loops[last]["first"], loops[last]["last"])


def candidate(first: int, frames: int, score: float) -> LoopCandidate:
    return LoopCandidate(first, first + frames - 1, 0, "cut", score=score)


def test_loops_that_look_alike_are_offered_once_and_those_not_seen_first() -> None:
    ranked = [
        candidate(0, 100, 1.2),
        candidate(5, 104, 0.5),
        candidate(40, 100, 0.9),
        candidate(40, 100, 0.9),
    ]
    ranked += [candidate(n * 50, 200 + n, 0.95) for n in range(2, 12)]
    kept = different(ranked, Fraction(30))
    assert len(kept) == MOST
    assert [one.looks for one in kept] == ["smooth"] * (MOST - 1) + ["a small jump"]
    assert ranked[1] not in kept
    assert len({one.name for one in kept}) == MOST


@pytest.mark.parametrize("option", [["--pick", "2"], ["--out", "z.toml"]])
def test_what_belongs_to_solve_is_refused_without_it(
    here: Path, capfd: pytest.CaptureFixture[str], option: list[str]
) -> None:
    said(["scene", "my box.toml"], capfd)
    text = said(["plan", "my box.toml", *option], capfd, status=2)
    assert text == f"ghostprep: {option[0]} belongs to --solve; see ghostprep plan --help\n"


def test_scene_plan_and_players_say_what_comes_next(here: Path, capfd: pytest.CaptureFixture[str]) -> None:
    assert "Next: ghostprep plan 'my box.toml'" in said(["scene", "my box.toml"], capfd)
    text = said(["plan", "my box.toml"], capfd)
    assert "Next: ghostprep make CLIP --scene 'my box.toml'" in text
    assert "Findings: " in text
    shallow = Path("my box.toml").read_text().replace("depth = 200", "depth = 100")
    Path("shallow.toml").write_text(shallow)
    if status_of(group, ["plan", "shallow.toml", "--strict"]) == 1:
        text = capfd.readouterr().out
        assert "Next: ghostprep plan shallow.toml --solve" in text
        assert "fault" in text
    assert "Next: ghostprep players NAME" in said(["players"], capfd)
    assert "Next: ghostprep make CLIP --player h264-annexb" in said(["players", "h264-annexb"], capfd)


def test_an_angle_that_the_ghosts_place_overrules_is_refused(
    here: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    said(["scene", "s.toml"], capfd)
    text = Path("s.toml").read_text()
    free = text.replace("# at = [", "at = [", 1).replace("through = ", "# through = ", 1)
    assert "\nat = [" in free
    for angle, status in (("45", 0), ("40", 2)):
        Path("a.toml").write_text(free.replace("angle = 45", f"angle = {angle}"))
        out = said(["plan", "a.toml"], capfd, status=status)
    assert "pane.angle: is 40 degrees, but from the screen to ghost.at it must be 45.0; leave" in out


@pytest.mark.skipif(os.name != "posix", reason="no such modes on Windows")
def test_a_cache_that_may_not_be_read_stops_nothing(
    here: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    cache = here / "cache"
    cache.mkdir()
    monkeypatch.setenv("GHOSTPREP_CACHE", str(cache))
    first = said(["inspect", "my clip.mp4"], capfd)
    real = Path.is_file

    def is_file(path: Path) -> bool:
        # as root every mode can be read, so the system's answer is put in its place
        if path.parent == cache:
            raise PermissionError(13, "Permission denied", str(path))
        return real(path)

    monkeypatch.setattr(Path, "is_file", is_file)
    assert said(["inspect", "my clip.mp4"], capfd) == first


def test_chart_and_preview_say_what_comes_next(here: Path, capfd: pytest.CaptureFixture[str]) -> None:
    said(["scene", "my box.toml"], capfd)
    text = said(["chart", "--scene", "my box.toml"], capfd)
    assert "Next: ghostprep chart --scene 'my box.toml' --seen" in text
    assert "100 frames" in text
    said(["chart", "--scene", "my box.toml", "--overwrite"], capfd)  # its report says that it is ours
    made = said(["make", "my clip.mp4", "l.mp4", "--length", "1"], capfd)
    assert "Next: ghostprep preview l.mp4" in made
    text = said(["preview", "l.mp4", "--no-open"], capfd)
    assert "Next: ghostprep card l.mp4 FOLDER" in text
    page = Path("l.html").read_text()
    count = next(line for line in made.splitlines() if "proofs passed" in line)
    assert count in page


@pytest.mark.parametrize("option", [["--replace"], ["--dry-run"], ["--player", "h264-annexb"]])
def test_card_without_loops_takes_no_option_that_needs_them(
    capfd: pytest.CaptureFixture[str], option: list[str]
) -> None:
    assert said(["card", *option], capfd, status=2) == (
        "ghostprep: name the loops first and the card's folder last; see ghostprep card --help\n"
    )
