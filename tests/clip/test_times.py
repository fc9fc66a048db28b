"""Which frame is which: counting, steps, uneven times, jumps, interlaced clips, start offsets, edit lists."""

import importlib
import itertools
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ghostprep.clip import ClipFacts, glance, probe, read_frames

X264 = ("-c:v", "libx264", "-preset", "medium", "-crf", "10", "-pix_fmt", "yuv420p")


def numbers(facts: ClipFacts, card: Any, **settings: Any) -> list[int]:
    with read_frames(facts, **settings) as frames:
        return [card.number(f) for f in frames]


def whole_pass(facts: ClipFacts) -> tuple[list[Any], list[Fraction]]:
    with read_frames(facts) as frames:
        return list(frames), frames.times


@pytest.fixture
def uneven(card: Any, encode: Callable[..., Path]) -> Path:
    """90 frames at wandering times with B-frames and several key frames."""
    wander = "settb=1/90000,setpts='N*3000+mod(N*N*137,1700)'"
    return encode(
        "uneven.mp4", "-vf", wander, "-fps_mode", "passthrough", "-enc_time_base", "1/90000",
        *X264, "-g", "20", "-bf", "3", "-video_track_timescale", "90000", frames=card.frames(90),
    )  # fmt: skip


def test_uneven_times_are_kept_and_frames_are_counted(uneven: Path, card: Any) -> None:
    facts = probe(uneven)
    seen, times = whole_pass(facts)
    assert [card.number(f) for f in seen] == list(range(90))
    with av.open(str(uneven)) as container:
        outside = [f.pts * f.time_base for f in container.decode(video=0)]
    assert times == [t - outside[0] for t in outside]
    assert len({b - a for a, b in itertools.pairwise(times)}) > 10


@pytest.mark.parametrize(
    ("start", "stop", "step"),
    [(0, None, 7), (13, 40, 1), (13, 40, 5), (89, None, 1), (90, None, 1), (5, 5, 1)],
)
def test_slices_are_slices(uneven: Path, card: Any, start: int, stop: int | None, step: int) -> None:
    facts = probe(uneven)
    assert numbers(facts, card, start=start, stop=stop, step=step) == list(range(90))[start:stop:step]


@pytest.mark.parametrize("suffix", ["mp4", "mkv", "avi", "ts"])
def test_a_jump_lands_on_the_frame(suffix: str, card: Any, encode: Callable[..., Path]) -> None:
    codec = ("-c:v", "mpeg4", "-q:v", "2", "-bf", "0") if suffix == "avi" else (*X264, "-bf", "3")
    facts = probe(encode(f"clip.{suffix}", *codec, "-g", "12", frames=card.frames(60), rate="30000/1001"))
    seen, times = whole_pass(facts)
    assert len(seen) == 60
    for start in (1, 11, 12, 13, 35, 59):
        with read_frames(facts, start=start, stop=start + 6, step=2, times=times) as frames:
            jumped = list(frames)
            assert frames.times == times[start : start + 6 : 2]
        assert len(jumped) == len(seen[start : start + 6 : 2])
        for got, wanted in zip(jumped, seen[start : start + 6 : 2], strict=True):
            assert (got == wanted).all()


def test_a_jump_by_wrong_times_is_noticed(uneven: Path, card: Any) -> None:
    """Times of another clip lead elsewhere; the frames are counted then."""
    facts = probe(uneven)
    wrong = [Fraction(i, 24) for i in range(90)]
    assert numbers(facts, card, start=31, stop=34, times=wrong) == [31, 32, 33]


@given(st.integers(0, 40), st.one_of(st.none(), st.integers(0, 45)), st.integers(1, 9))
@settings(deadline=None, max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_slice_with_a_jump(
    shared_clip: tuple[ClipFacts, list[Fraction]], card: Any, start: int, stop: int | None, step: int
) -> None:
    facts, times = shared_clip
    got = numbers(facts, card, start=start, stop=stop, step=step, times=times)
    assert got == list(range(40))[start:stop:step]


@pytest.fixture(scope="module")
def shared_clip(tmp_path_factory: pytest.TempPathFactory) -> tuple[ClipFacts, list[Fraction]]:
    path = tmp_path_factory.mktemp("shared") / "clip.mp4"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=25, options={"g": "9", "crf": "10"})
        stream.width, stream.height, stream.pix_fmt = 128, 96, "yuv420p"
        for i in range(40):
            bits = [16 + 219 * (i >> bit & 1) for bit in range(8)]
            picture = np.repeat(np.repeat(np.array(bits, np.uint8)[None, :, None], 96, axis=0), 16, axis=1)
            frame = av.VideoFrame.from_ndarray(np.repeat(picture, 3, axis=2), format="rgb24")
            container.mux(stream.encode(frame))
        container.mux(stream.encode())
    facts = probe(path)
    return facts, whole_pass(facts)[1]


def test_interlaced_clips_are_woven_apart_one_to_one(card: Any, encode: Callable[..., Path]) -> None:
    """A ball's two fields, half a frame apart, must not leave a comb; the count stays."""
    height, width = 96, 128
    pictures = []
    for i in range(12):
        picture = np.full((height, width, 3), 40, np.uint8)
        for field in range(2):
            left = 10 + 6 * i + 3 * field
            picture[16 + field : 80 : 2, left : left + 24] = 220
        pictures.append(picture)
    path = encode(
        "field.mpg", "-vf", "setfield=tff", "-c:v", "mpeg2video", "-flags", "+ildct+ilme", "-q:v", "1",
        frames=pictures,
    )  # fmt: skip
    facts = probe(path)
    assert facts.interlaced
    seen, times = whole_pass(facts)
    assert len(seen) == 12

    def comb(frame: np.ndarray) -> float:
        luma = frame[..., 1].astype(float)
        return float(np.abs(luma[1:-1] - (luma[:-2] + luma[2:]) / 2)[20:70].mean())

    assert comb(pictures[5]) > 4 * comb(seen[5])
    with read_frames(facts, start=7, stop=9, times=times) as frames:
        assert all((got == seen[7 + i]).all() for i, got in enumerate(frames))


def test_dv_comes_out_square_and_whole(card: Any, encode: Callable[..., Path]) -> None:
    path = encode("tape.dv", "-vf", "scale=720:576,setsar=16/15", "-pix_fmt", "yuv420p", "-target", "pal-dv",
                  frames=card.frames(5))  # fmt: skip
    facts = probe(path)
    assert (facts.codec, facts.coded_size) == ("dvvideo", (720, 576))
    # 768 by the usual 16:15, 788 where the reader takes the tape's 702 visible columns
    assert facts.size[0] in (768, 786, 787, 788)
    assert numbers(facts, card) == list(range(5))


def test_an_edit_list_decides_where_the_clip_begins(
    card: Any, encode: Callable[..., Path], ffmpeg: Any
) -> None:
    whole = encode("whole.mp4", *X264, "-g", "10", frames=card.frames(30))
    cut = whole.with_name("cut.mp4")
    ffmpeg("-ss", "0.6", "-i", whole, "-c", "copy", cut)  # frame 15: packets from 10 on are kept, and hidden
    facts = probe(cut)
    seen, times = whole_pass(facts)
    assert [card.number(f) for f in seen] == list(range(15, 30))
    assert times[0] == 0
    assert numbers(facts, card, start=4, stop=7, times=times) == [19, 20, 21]


def test_a_late_start_counts_from_the_first_frame(card: Any, encode: Callable[..., Path]) -> None:
    facts = probe(encode("late.ts", *X264, "-output_ts_offset", "100", frames=card.frames(20)))
    assert facts.start > 99
    _, times = whole_pass(facts)
    assert times[:3] == [0, Fraction(1, 25), Fraction(2, 25)]


@pytest.mark.parametrize("large", [0, 4_000_000], ids=["one at a time", "side by side"])
@pytest.mark.parametrize("key_interval", [5, 250])
def test_glances_lie_evenly(
    key_interval: int, large: int, card: Any, encode: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(importlib.import_module("ghostprep.clip.glance"), "_LARGE", large)
    facts = probe(encode("clip.mp4", *X264, "-g", str(key_interval), frames=card.frames(200)))
    seen = glance(facts, 16, longest=64)
    assert 12 <= len(seen) <= 16
    assert all(g.frame.shape == (48, 64, 3) for g in seen)
    for glimpse in seen:
        assert card.number(glimpse.frame) == glimpse.time * 25
    times = [g.time for g in seen]
    assert times == sorted(times)
    assert times[0] == 0
    assert max(b - a for a, b in zip([*times], [*times[1:], Fraction(8)], strict=True)) <= Fraction(8, 6)


@pytest.mark.parametrize("large", [0, 4_000_000], ids=["one at a time", "side by side"])
def test_glances_into_a_long_clip_jump(
    large: int, encode: Callable[..., Path], card: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(importlib.import_module("ghostprep.clip.glance"), "_LARGE", large)
    facts = probe(encode("long.mp4", *X264, "-g", "50", frames=card.frames(250), rate="2"))
    seen = glance(facts, 8, longest=128)
    assert len(seen) >= 5
    assert [card.number(g.frame) for g in seen] == [g.time * 2 for g in seen]
    assert seen[-1].time > 90


def test_fields_that_the_first_frames_do_not_tell_of(encode: Callable[..., Path], card: Any) -> None:
    """A clip may say that it is interlaced and begin with whole pictures."""
    flags = ("-flags", "+ildct+ilme", "-x264-params", "tff=1")
    path = encode("declared.mp4", *X264, *flags, "-bf", "0", frames=card.frames(10))
    facts = probe(path)
    assert facts.interlaced
    seen, times = whole_pass(facts)
    assert [card.number(f) for f in seen] == list(range(10))
    with read_frames(facts, start=4, stop=5, times=times) as frames:
        assert (next(frames) == seen[4]).all()
