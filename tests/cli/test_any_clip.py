"""The clips that builders bring, through the commands themselves: right, or refused in one line."""

import json
import os
import shlex
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import imageio_ffmpeg
import pytest

from ghostprep.cli import group
from ghostprep.cli.run import status_of

FFMPEG = imageio_ffmpeg.get_ffmpeg_exe()
SMALL = ["--player", "master-ffv1-mkv", "--raster", "96x72"]
ODD_NAME = 'a[bold]:ghost:\n\x1b[31m<b>&".mp4'
posix = pytest.mark.skipif(os.name != "posix", reason="no such names, files or modes on Windows")


@pytest.fixture(scope="module")
def clip(make_letter_clip: Callable[..., Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_letter_clip(tmp_path_factory.mktemp("any") / "clip.mp4", size=(96, 72), frames=24)


@pytest.fixture
def here(clip: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to work in, with the clip in it."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "clip.mp4").write_bytes(clip.read_bytes())
    return tmp_path


def refused(arguments: list[str], capfd: pytest.CaptureFixture[str]) -> str:
    """Run a command that must be refused, and return its one line."""
    assert status_of(group, arguments) == 2
    out, err = capfd.readouterr()
    assert out == ""
    (line,) = err.splitlines()
    assert line.startswith("ghostprep: ")
    return line


def make_files(folder: Path) -> None:
    clip = (folder / "clip.mp4").read_bytes()
    (folder / "cut.mp4").write_bytes(clip[:40])
    (folder / "list.m3u8").write_text("#EXTM3U\nhttp://127.0.0.1:9/a.ts\n")
    (folder / "list.mp4").write_text("ffconcat version 1.0\nfile 'clip.mp4'\n")
    os.mkfifo(folder / "fifo.mp4")


@posix
@pytest.mark.parametrize("command", ["inspect", "make"])
@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("cut.mp4", "is not a clip that can be read"),
        ("list.m3u8", "is a playlist that names other files"),
        ("list.mp4", "is a playlist that names other files"),
        ("fifo.mp4", "is not a regular file"),
        ("/dev/zero", "is not a regular file"),
        ("http://127.0.0.1:9/a.mp4", "there is no such file"),
        ("concat:clip.mp4|clip.mp4", "there is no such file"),
        ("pipe:0", "there is no such file"),
        ("-clip.mp4", "No such option"),
    ],
)
def test_what_is_no_clip(
    command: str, name: str, said: str, here: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    make_files(here)
    before = sorted(here.iterdir())
    assert said in refused([command, name], capfd)
    assert sorted(here.iterdir()) == before


@posix
@pytest.mark.parametrize(
    ("out", "said"),
    [
        ("clip.mkv", "is the clip itself; name another file"),
        ("link.mkv", "is the clip itself; name another file"),
        ("no/out.mkv", "no: the folder does not exist; make it first"),
        ("folder.mkv", "folder.mkv: is a folder; name a file in it"),
        ("fifo.mkv", "fifo.mkv: is not a regular file; name another file"),
        ("loose.mkv", "loose.mkv: is not a regular file; name another file"),
        ("x" * 251 + ".mkv", "File name too long; name another file"),
        ("out.mp4", "the ending is .mp4, the player takes .mkv; write out.mkv"),
    ],
)
def test_where_no_loop_can_go(out: str, said: str, here: Path, capfd: pytest.CaptureFixture[str]) -> None:
    Path("clip.mp4").rename("clip.mkv")
    Path("link.mkv").symlink_to("clip.mkv")
    Path("loose.mkv").symlink_to("nowhere.mkv")
    Path("folder.mkv").mkdir()
    os.mkfifo("fifo.mkv")
    before = {p.name: p.read_bytes() for p in here.iterdir() if p.suffix == ".mkv" and p.is_file()}
    assert said in refused(["make", "clip.mkv", out, *SMALL, "--overwrite"], capfd)
    assert {p.name: p.read_bytes() for p in here.iterdir() if p.name in before} == before


@posix
def test_a_name_is_only_a_name(here: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """It starts with "-", or steers a terminal: it is read, and shown written out."""
    Path("clip.mp4").rename(ODD_NAME)
    Path("-clip.mp4").write_bytes(Path(ODD_NAME).read_bytes())
    assert status_of(group, ["inspect", "--", "-clip.mp4"]) == 0
    capfd.readouterr()
    assert status_of(group, ["make", ODD_NAME, "o.mkv", *SMALL]) == 0
    out, err = capfd.readouterr()
    assert r'a[bold]:ghost:\n\x1b[31m<b>&".mp4' in out
    assert "\x1b" not in out + err
    assert json.loads(Path("o.json").read_text(encoding="utf-8"))["source"]["name"] == ODD_NAME


@posix
def test_a_page_and_a_report_escape_every_name(here: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """A tag, a line's end, and a byte that is no letter in any name."""
    name = os.fsdecode(b"<img src=x onerror=alert(1)>\n\xff.mkv")
    assert status_of(group, ["make", "clip.mp4", name, *SMALL]) == 0
    Path("clip.mp4").rename(os.fsdecode(b"odd\xff.mp4"))
    capfd.readouterr()
    assert status_of(group, ["make", os.fsdecode(b"odd\xff.mp4"), "odd.mkv", *SMALL]) == 0
    out, err = capfd.readouterr()
    assert r"odd\xff.mp4: " in out
    assert "udcff" not in out + err
    assert status_of(group, ["preview", name, "--no-open", "--out", "page.html"]) == 0
    page = Path("page.html").read_text(encoding="utf-8")
    assert "<img src=x" not in page
    assert r"&lt;img src=x onerror=alert(1)&gt;\n\xff.mkv" in page
    report = Path(name).with_suffix(".json").read_text(encoding="utf-8")
    assert json.loads(report)["output"]["name"] == name


@posix
def test_a_console_without_letters_or_colour(here: Path) -> None:
    """LANG=C and no terminal: names are written out, JSON stays JSON, nothing is coloured."""
    Path("clip.mp4").rename("日本.mp4")
    plain = {**os.environ, "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "NO_COLOR": "1"}
    command = [sys.executable, "-c", "from ghostprep.cli import main; main()", "inspect", "日本.mp4"]
    done = subprocess.run(command, capture_output=True, env=plain, timeout=60, check=True)
    assert b"\\xe6" in done.stdout
    assert b"\x1b" not in done.stdout + done.stderr
    done = subprocess.run([*command, "--json"], capture_output=True, env=plain, timeout=60, check=True)
    assert (
        os.fsencode(json.loads(done.stdout.decode("ascii"))["source"]["path"]).decode("utf-8") == "日本.mp4"
    )


@posix
def test_output_that_nobody_takes_is_one_line(here: Path) -> None:
    command = [sys.executable, "-c", "from ghostprep.cli import main; main()", "inspect", "clip.mp4"]
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            command, stdout=full, stderr=subprocess.PIPE, text=True, timeout=60, check=False
        )
    assert done.returncode == 1
    (line,) = done.stderr.splitlines()
    assert "No space left on device" in line
    head = subprocess.run(
        f"{shlex.join(command)} | true", shell=True, check=False, capture_output=True, text=True, timeout=60
    )
    assert head.stderr == ""


RIGHT = {
    "turned.mp4": ("-c", "copy", "-bsf:v", "h264_metadata=rotate=90"),
    "wide.mov": ("-c:v", "prores_ks", "-profile:v", "4444", "-pix_fmt", "yuva444p10le"),
    "ten.mkv": ("-c:v", "libx265", "-x265-params", "log-level=none", "-pix_fmt", "yuv420p10le"),
    "alpha.webm": ("-c:v", "libvpx-vp9", "-cpu-used", "8", "-pix_fmt", "yuva420p"),
    "av1.mp4": ("-c:v", "libsvtav1", "-preset", "12"),
    "old.mpg": ("-c:v", "mpeg2video", "-q:v", "2", "-r", "25"),
    "many.avi": ("-c:v", "mjpeg", "-q:v", "2", "-pix_fmt", "yuvj422p"),
    "dv.dv": ("-vf", "scale=720:576", "-r", "25", "-c:v", "dvvideo", "-pix_fmt", "yuv420p"),
    "moving.gif": (),
    "moving.webp": ("-c:v", "libwebp_anim",),
    "still.png": ("-frames:v", "1", "-update", "1"),
    "cine.mp4": ("-r", "24000/1001", "-c:v", "libx264"),
    "fast.mp4": ("-r", "240", "-c:v", "libx264", "-preset", "ultrafast"),
    "lines.mpg": ("-c:v", "mpeg2video", "-flags", "+ildct+ilme", "-r", "25", "-q:v", "2"),
    "narrow.mp4": ("-vf", "setsar=16/11", "-c:v", "libx264"),
    "odd.mkv": ("-vf", "crop=95:71", "-c:v", "ffv1", "-pix_fmt", "yuv444p"),
}  # fmt: skip


@pytest.mark.parametrize("name", RIGHT)
def test_clips_that_come_out_right(name: str, here: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """The file decodes to as many frames as it says, and the proofs of place and limits hold."""
    command = [FFMPEG, "-v", "error", "-y", "-i", "clip.mp4", *RIGHT[name], name]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if "Unknown encoder" in done.stderr:
        pytest.skip(done.stderr.splitlines()[0])
    assert done.returncode == 0, done.stderr
    assert status_of(group, ["make", name, "o.mkv", *SMALL, "--json"]) == 0
    report = json.loads(capfd.readouterr().out)
    passed = {proof["name"]: proof["passed"] for proof in report["proofs"]}
    assert all(passed[proof] for proof in ("form", "raster", "frames", "rate"))
    assert passed.get("upright", True)
    assert report["loop"]["frames"] >= 1
    assert sorted(p.name for p in here.iterdir() if p.name.startswith(".")) == []
