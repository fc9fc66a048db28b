"""A clip that cannot be used gets one line, exit status 2, and nothing is written."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import imageio_ffmpeg
import psutil
import pytest
from PIL import Image

from ghostprep.cli import group
from ghostprep.cli.run import status_of
from ghostprep.clip import probe
from ghostprep.player import load_profile
from ghostprep.prepare.setup import loop_name

FFMPEG = imageio_ffmpeg.get_ffmpeg_exe()


def sound_only(path: Path) -> None:
    subprocess.run(
        [FFMPEG, "-v", "error", "-f", "lavfi", "-i", "sine=d=0.2", "-c:a", "aac", str(path)], check=True
    )


MAKERS: dict[str, Callable[[Path], object]] = {
    "missing": lambda _: None,
    "empty": lambda path: path.write_bytes(b""),
    "text": lambda path: path.write_text("this is no film\n" * 50),
    "sound only": sound_only,
    "folder of nothing": lambda path: path.mkdir(),
}


@pytest.mark.parametrize("case", MAKERS)
def test_a_clip_that_cannot_be_used(case: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    clip, out = tmp_path / "clip.mp4", tmp_path / "out" / "loop.mp4"
    out.parent.mkdir()
    MAKERS[case](clip)
    assert status_of(group, ["make", str(clip), str(out)]) == 2
    said = capfd.readouterr().err.strip().splitlines()
    assert len(said) == 1
    assert said[0].startswith("ghostprep: ")
    assert "clip.mp4" in said[0]
    assert list(out.parent.iterdir()) == []


def test_a_clip_cut_off_before_its_index(
    green_clip: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    clip = tmp_path / "cut.mp4"
    clip.write_bytes(green_clip.read_bytes()[:2000])
    assert status_of(group, ["make", str(clip), str(tmp_path / "loop.mp4")]) == 2
    assert len(capfd.readouterr().err.strip().splitlines()) == 1
    assert sorted(p.name for p in tmp_path.iterdir()) == ["cut.mp4"]


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (["--turn", "45"], "--turn: is 45"),
        (["--player", "nothing-like-it"], "no player profile is named 'nothing-like-it'"),
        (["--scene", "nowhere.toml"], "nowhere.toml"),
        (["--start", "50"], "no frame lies in the part asked for; the clip is 3.00 s long"),
        (["--pick", "Z"], "--pick"),
        (["--raster", "99x99"], "99x99"),
    ],
)
def test_an_option_that_cannot_be_used(
    green_clip: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str], options: list[str], message: str
) -> None:
    out = tmp_path / "loop.mp4"
    assert status_of(group, ["make", str(green_clip), str(out), *options]) == 2
    assert message in capfd.readouterr().err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("out", [".", "..", "/", ""])
def test_a_folder_is_no_loop(
    green_clip: Path,
    tmp_path: Path,
    capfd: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    out: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert status_of(group, ["make", str(green_clip), out]) == 2
    assert capfd.readouterr().err.endswith(": is a folder; name a file in it\n")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_of_pictures_is_named_as_itself_from_within(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    render = tmp_path / "lantern" / "more"
    render.mkdir(parents=True)
    for n in range(3):
        Image.new("RGB", (64, 48), (40, 170, 70)).save(render / f"{n}.png")
        Image.new("RGB", (64, 48), (40, 170, 70)).save(render.parent / f"{n}.png")
    monkeypatch.chdir(render)
    profile = load_profile("h264-baseline-qvga")
    for typed, name in ((".", "more"), ("..", "lantern")):
        assert probe(Path(typed)).path.name == name
        assert loop_name(Path(typed), profile) == f"{name}_loop.mp4"


def children_of(pid: int) -> list[psutil.Process]:
    try:
        return psutil.Process(pid).children(recursive=True)
    except psutil.NoSuchProcess:
        return []


@pytest.mark.skipif(os.name != "posix", reason="sends POSIX signals")
@pytest.mark.parametrize("sent", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_an_interruption_leaves_no_file_and_no_process(
    make_letter_clip: Callable[..., Path], tmp_path: Path, sent: signal.Signals
) -> None:
    clip = make_letter_clip(tmp_path / "clip.mp4", size=(640, 480), frames=240, rate=Fraction(30))
    folder = tmp_path / "out"
    folder.mkdir()
    # a shell's background jobs come with Ctrl-C switched off
    code = "import signal; signal.signal(signal.SIGINT, signal.default_int_handler)\n"
    code += "from ghostprep.cli import main; main()"
    run = subprocess.Popen(
        [sys.executable, "-c", code, "make", str(clip), str(folder / "loop.mp4")],
        stderr=subprocess.PIPE,
        start_new_session=True,
    )
    deadline = time.monotonic() + 60
    while not (begun := children_of(run.pid)) and time.monotonic() < deadline:
        time.sleep(0.01)
    assert begun, "ffmpeg was never started"
    time.sleep(0.3)
    begun += children_of(run.pid)
    run.send_signal(sent)
    _, said = run.communicate(timeout=60)
    _, alive = psutil.wait_procs(begun, timeout=20)
    assert not alive
    assert not [path for path in folder.iterdir() if not path.name.startswith(".")]
    if sent != signal.SIGKILL:
        assert run.returncode == 130, said
        assert said.decode().strip().splitlines()[-1].startswith("ghostprep: interrupted")
        assert not list(folder.iterdir())


@pytest.mark.parametrize("command", ["make", "inspect"])
def test_numbered_pictures_that_a_shell_has_named_one_by_one_are_one_clip(
    command: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    pictures = [tmp_path / f"walk.{n:04d}.png" for n in range(1, 5)]
    for picture in pictures:
        picture.touch()
    assert status_of(group, [command, *map(str, pictures)]) == 2
    told = f"is one of several numbered pictures, which are one clip; name them by a counter: {tmp_path}"
    assert capfd.readouterr().err == f"ghostprep: {pictures[0]}: {told}{os.sep}walk.%04d.png\n"


def test_one_clip_at_a_time_is_looked_at(capfd: pytest.CaptureFixture[str]) -> None:
    assert status_of(group, ["inspect", "a.mp4", "b.mp4"]) == 2
    said = "ghostprep: one CLIP at a time is looked at, and 2 are named; see ghostprep inspect --help\n"
    assert capfd.readouterr().err == said
