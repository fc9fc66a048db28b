"""Writing: counts and colours by another reader; every failure is one line and leaves no process."""

import contextlib
import os
import shutil
import subprocess
import sys
import textwrap
import threading
import time
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import psutil
import pytest

from ghostprep.clip import probe, read_frames, read_sound, run_copy, write_frames
from ghostprep.clip.child import Child
from ghostprep.errors import InputError, JobError

X264 = ("-c:v", "libx264", "-preset", "ultrafast", "-pix_fmt", "yuv420p")
LOSSLESS = ("-c:v", "ffv1", "-pix_fmt", "gbrp")


def test_what_is_written_is_what_another_reader_reads(card: Any, tmp_path: Path) -> None:
    path = tmp_path / "-out put.mkv"
    frames = card.frames(7)
    assert (
        write_frames(path, iter(frames), size=card.size, rate=Fraction(24000, 1001), arguments=LOSSLESS) == 7
    )
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        assert stream.average_rate == Fraction(24000, 1001)
        read = [f.to_ndarray(format="rgb24") for f in container.decode(stream)]
    assert len(read) == 7
    assert all((a == b).all() for a, b in zip(read, frames, strict=True))


def test_planes_are_written_as_they_are(card: Any, tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    planes = [rng.integers(16, 235, (144, 128), np.uint8) for _ in range(4)]
    path = tmp_path / "planes.mkv"
    assert (
        write_frames(
            path, planes, size=card.size, rate=Fraction(25), arguments=["-c:v", "ffv1"], pixels="i420"
        )
        == 4
    )
    with av.open(str(path)) as container:
        read = [f.to_ndarray() for f in container.decode(video=0)]
    assert all((a == b).all() for a, b in zip(read, planes, strict=True))


def test_views_that_are_not_contiguous_are_written_right(card: Any, tmp_path: Path) -> None:
    path = tmp_path / "mirrored.mkv"
    write_frames(path, [card.frame()[:, ::-1]], size=card.size, rate=Fraction(25), arguments=LOSSLESS)
    with read_frames(probe(path)) as frames:
        assert (next(frames) == card.frame()[:, ::-1]).all()


def test_the_encoders_refusal_is_told(card: Any, tmp_path: Path) -> None:
    path = tmp_path / "out.mp4"
    with pytest.raises(JobError, match="nonsense"):
        write_frames(
            path,
            card.frames(300),
            size=card.size,
            rate=Fraction(25),
            arguments=[*X264, "-profile:v", "nonsense"],
        )
    with pytest.raises(JobError, match="No such file or directory"):
        write_frames(tmp_path / "no" / "x.mp4", [], size=card.size, rate=Fraction(25), arguments=X264)
    with pytest.raises(JobError, match=r"frame 1 is \(4, 4, 3\) uint8, not \(96, 128, 3\)"):
        write_frames(
            path, [card.frame(), card.frame()[:4, :4]], size=card.size, rate=Fraction(25), arguments=X264
        )
    with pytest.raises(JobError, match="there was no frame to write"):
        write_frames(path, [], size=card.size, rate=Fraction(25), arguments=X264)


def test_few_frames_wait_for_the_encoder(card: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It takes ten a second: the tenth is asked for when all but three before it have been taken."""
    monkeypatch.setattr("ghostprep.clip.write._AHEAD_BYTES", 0)
    asked = []

    def frames() -> Iterator[np.ndarray]:
        for frame in card.frames(12):
            asked.append(time.monotonic())
            yield frame

    arguments = ("-vf", "realtime", *X264)
    path = tmp_path / "x.mp4"
    assert write_frames(path, frames(), size=card.size, rate=Fraction(10), arguments=arguments) == 12
    assert asked[9] - asked[0] > 0.4


def test_a_filter_that_holds_more_frames_than_may_wait_gets_them(
    card: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ghostprep.clip.write._AHEAD_BYTES", 0)
    arguments = ("-vf", "reverse", *X264)
    path = tmp_path / "x.mp4"
    assert write_frames(path, card.frames(5), size=card.size, rate=Fraction(10), arguments=arguments) == 5


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_full_disk_is_told(card: Any, tmp_path: Path) -> None:
    (tmp_path / "full.mkv").symlink_to("/dev/full")
    with pytest.raises(JobError, match="No space left on device"):
        write_frames(
            tmp_path / "full.mkv", card.frames(250), size=card.size, rate=Fraction(25), arguments=LOSSLESS
        )


def test_an_error_of_the_frames_own_passes_through_and_ends_the_encoder(card: Any, tmp_path: Path) -> None:
    def failing() -> Iterator[np.ndarray]:
        yield card.frame()
        raise ZeroDivisionError("inside")

    with pytest.raises(ZeroDivisionError, match="inside"):
        write_frames(tmp_path / "x.mp4", failing(), size=card.size, rate=Fraction(25), arguments=X264)


@pytest.mark.parametrize("moment", [0, 1, 7, 40, 150])
def test_a_killed_encoder_is_told(moment: int, card: Any, tmp_path: Path) -> None:
    def frames() -> Iterator[np.ndarray]:
        for i in range(2000):
            if i == moment:
                kill_children()
            yield card.frame(i % 256)

    with pytest.raises(JobError, match="the encoder stopped"):
        write_frames(tmp_path / "x.mp4", frames(), size=card.size, rate=Fraction(25), arguments=X264)


@pytest.mark.parametrize("moment", [1, 2, 5, 30, 80])
def test_a_killed_decoder_is_told(moment: int, card: Any, encode: Callable[..., Path]) -> None:
    """Frames of 1 MB and more of them than are read ahead, so that the decoder is still at work."""
    facts = probe(encode("clip.mp4", *X264, frames=card.frames(200)))
    with read_frames(facts, size=(1280, 960)) as frames:
        for _ in range(moment):
            next(frames)
        kill_children()
        with pytest.raises(JobError, match="the decoder was ended"):
            list(frames)
    assert moment <= len(frames.times) < 200


def kill_children() -> None:
    for child in psutil.Process().children():
        if "ffmpeg" in child.name():
            child.kill()


def test_readers_end_whatever_happens(card: Any, encode: Callable[..., Path]) -> None:
    facts = probe(encode("clip.mp4", *X264, frames=card.frames(200)))
    with read_frames(facts) as frames:
        next(frames)
    assert list(frames) == []
    forgotten = read_frames(facts)
    next(forgotten)
    del forgotten
    closed = read_frames(facts)
    closed.close()
    assert list(closed) == []
    unread = read_frames(facts)
    del unread
    with contextlib.suppress(KeyboardInterrupt), read_frames(facts) as frames:
        next(frames)
        raise KeyboardInterrupt
    assert threading.active_count() < 12


def test_a_child_that_stands_still_is_killed() -> None:
    """Nothing is fed to it, so nothing comes: the watchdog must end the wait."""
    arguments = ["-f", "u8", "-i", "pipe:0", "-f", "u8", "pipe:1"]
    begun = time.monotonic()
    with Child(arguments, feed=True, take=True, stall_s=1.0) as child:
        assert child.read_into(memoryview(bytearray(64))) == 0
        child.finish()
        assert child.stalled
        assert "nothing came for 1 s" in child.reason
        assert time.monotonic() - begun < 8


@pytest.mark.skipif(os.name != "posix", reason="signals as POSIX has them")
@pytest.mark.parametrize("how", ["SIGINT", "SIGTERM", "SIGKILL"])
def test_no_child_outlives_us(how: str, card: Any, encode: Callable[..., Path], tmp_path: Path) -> None:
    import signal

    clip = encode("clip.mp4", *X264, frames=card.frames(250))
    script = textwrap.dedent(f"""
        import signal, sys
        from fractions import Fraction
        from pathlib import Path
        from ghostprep.clip import probe, read_frames, write_frames
        def stop(*_): raise KeyboardInterrupt
        signal.signal(signal.SIGTERM, stop)
        signal.signal(signal.SIGINT, stop)  # a shell's background jobs come with it switched off
        def slowly(frames):
            import time
            for i, frame in enumerate(frames):
                if i == 5: print("going", flush=True)
                time.sleep(0.02)
                yield frame
        with read_frames(probe({str(clip)!r})) as frames:
            write_frames(Path({str(tmp_path / "out.mp4")!r}), slowly(frames), size=(128, 96),
                         rate=Fraction(25), arguments={list(X264)!r})
    """)
    parent = subprocess.Popen(
        [sys.executable, "-c", script], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    )
    try:
        assert parent.stdout is not None
        assert parent.stdout.readline() == b"going\n"
        children = psutil.Process(parent.pid).children(recursive=True)
        assert len(children) == 2
        parent.send_signal(getattr(signal, how))
        assert parent.wait(timeout=10) != 0
        _, alive = psutil.wait_procs(children, timeout=5)
        assert not alive
    finally:
        parent.kill()
        parent.wait()
        parent.stdout.close()


def test_packets_are_copied_and_repeated(card: Any, encode: Callable[..., Path], tmp_path: Path) -> None:
    loop = encode("loop.mp4", *X264, "-g", "250", frames=card.frames(10))
    out = tmp_path / "repeats.mp4"
    run_copy([loop], out, ["-map", "0:v", "-c", "copy"], before=["-stream_loop", "3"])
    with read_frames(probe(out)) as frames:
        assert [card.number(f) for f in frames] == list(range(10)) * 4
    with pytest.raises(InputError, match="no such file"):
        run_copy([tmp_path / "none.mp4"], out, ["-c", "copy"])
    with pytest.raises(JobError, match="copying stopped"):
        run_copy([loop], tmp_path / "x.mp4", ["-c", "copy", "-bsf:v", "nonsense"])


def tone(rate: int, seconds: float) -> np.ndarray:
    """A sweep, so that every moment sounds different."""
    t = np.arange(round(rate * seconds)) / rate
    return (0.5 * np.sin(2 * np.pi * (200 * t + 150 * t * t)))[:, None].astype(np.float32)


Sing = Callable[..., Path]


@pytest.fixture
def sing(card: Any, encode: Callable[..., Path], tmp_path: Path) -> Sing:
    """Write two seconds of picture with a sweep under it."""

    def run(name: str, *coding: str) -> Path:
        sound = tmp_path / "sweep.f32"
        sound.write_bytes(tone(48_000, 2).tobytes())
        heard = ("-f", "f32le", "-ar", "48000", "-ac", "1", "-i", sound)
        return encode(name, *heard, *X264, *coding, frames=card.frames(50))

    return run


@pytest.fixture
def sounding(sing: Sing) -> Path:
    return sing("sounding.mkv", "-c:a", "pcm_f32le")


def test_sound_goes_in_and_comes_out_to_the_sample(sounding: Path) -> None:
    facts = probe(sounding)
    assert facts.sound
    whole = tone(48_000, 2)
    for start, stop in (
        (Fraction(0), Fraction(2)),
        (Fraction(1, 3), Fraction(3, 2)),
        (Fraction(41, 25), Fraction(2)),
    ):
        got = read_sound(facts, start, stop)
        wanted = whole[round(start * 48_000) : round(stop * 48_000)]
        assert got.shape == wanted.shape
        assert np.abs(got - wanted).max() < 1e-4


def test_sound_is_silent_where_the_clip_has_none(sounding: Path) -> None:
    got = read_sound(probe(sounding), Fraction(3, 2), Fraction(3))
    assert got.shape == (72_000, 1)
    assert np.abs(got[:20_000]).max() > 0.4
    assert not got[24_100:].any()


@pytest.mark.parametrize(("name", "codec"), [("lossy.mp4", "aac"), ("lossy.mkv", "aac"), ("lossy.ts", "mp2")])
def test_lossy_sound_stays_in_time(name: str, codec: str, sing: Sing) -> None:
    """Lossy coders add a lead-in that the container hides, to the sample or to its clock's tick."""
    path = sing(name, "-c:a", codec, "-b:a", "192k")
    got = read_sound(probe(path), Fraction(1, 2), Fraction(3, 2))[:, 0]
    wanted = tone(48_000, 2)[24_000:72_000, 0]
    lags = range(-60, 61)
    likeness = [float(np.dot(got[100:-100], wanted[100 + lag : 47_900 + lag])) for lag in lags]
    assert abs(lags[int(np.argmax(likeness))]) <= (1 if name.endswith("mp4") else 48)
    assert max(likeness) > 0.95 * float(np.dot(wanted[100:47_900], wanted[100:47_900]))


def test_sound_that_cannot_be_read_is_refused(sounding: Path, card: Any, encode: Callable[..., Path]) -> None:
    with pytest.raises(InputError, match="has no sound"):
        read_sound(probe(encode("mute.mp4", *X264, frames=card.frames(3))), Fraction(0), Fraction(1))
    with pytest.raises(InputError, match="at most 600 s"):
        read_sound(probe(sounding), Fraction(0), Fraction(4000))


def test_no_temporary_is_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, card: Any) -> None:
    folder = tmp_path / "temporaries"
    folder.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(folder))
    write_frames(tmp_path / "a.mkv", card.frames(25), size=card.size, rate=Fraction(25),
                 arguments=X264)  # fmt: skip
    with pytest.raises(JobError, match="stopped"):
        write_frames(tmp_path / "b.mkv", card.frames(25), size=card.size, rate=Fraction(25),
                     arguments=["-c:v", "nonsense"])  # fmt: skip
    assert not list(folder.iterdir())
    shutil.rmtree(folder)
