"""Repeats are copies of the packets, and sound stays in step from the first sample on."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.clip import run_copy, write_frames
from ghostprep.errors import InputError
from ghostprep.player import Profile, extend_profile, load_profile, profile_names
from ghostprep.player.encode.common import SOUND_KBPS, SOUND_RATE, sound_arguments
from ghostprep.player.limits import check_limits
from ghostprep.player.read import read_stream_facts
from ghostprep.player.repeat import plan_repeats, write_repeats

av = pytest.importorskip("av")

Loops = Callable[[str], Any]
IN_BOXES = [n for n in profile_names() if load_profile(n).container in ("mp4", "avi", "mkv")]


def capped(profile: Profile, largest_bytes: int) -> Profile:
    """The profile of a player that takes no larger file."""
    return profile.model_copy(update={"largest_bytes": largest_bytes})


def packets(path: Path) -> list[bytes]:
    with av.open(str(path)) as file:
        return [bytes(packet) for packet in file.demux(video=0) if packet.size]


@pytest.mark.parametrize("name", profile_names())
def test_the_packets_are_the_same_bytes(loop_of: Loops, tmp_path: Path, name: str) -> None:
    loop = loop_of(name)
    out = tmp_path / f"many{loop.profile.ending}"
    write_repeats(loop.path, out, loop.profile, loop.facts, 3, run=run_copy)
    facts = read_stream_facts(out)
    assert facts.frames == 3 * loop.facts.frames
    assert facts.coded.kinds == 3 * loop.facts.coded.kinds
    if name in IN_BOXES:
        assert facts.frame_bytes == 3 * loop.facts.frame_bytes
        assert packets(out) == 3 * packets(loop.path)
    proofs = check_limits(facts, loop.profile, raster=loop.raster, rate=loop.rate, frames=facts.frames)
    assert [proof for proof in proofs if not proof.passed] == []


@pytest.mark.parametrize("rate", [Fraction(24000, 1001), Fraction(25), Fraction(30000, 1001), Fraction(60)])
@pytest.mark.parametrize("name", ["h264-main-720p", "master-ffv1-mkv"])
def test_times_are_exact_at_every_rate(
    tmp_path: Path, make_lantern: Callable[..., np.ndarray], name: str, rate: Fraction
) -> None:
    profile = load_profile(name)
    frames = make_lantern((64, 48), 7)
    x264 = ("-vf", "format=yuv420p", "-c:v", "libx264", "-profile:v", "main", "-bf", "0")
    codec = ("-c:v", "ffv1") if name.startswith("master") else (*x264, "-use_editlist", "0")
    one, many = tmp_path / f"one{profile.ending}", tmp_path / f"many{profile.ending}"
    write_frames(one, frames, size=(64, 48), rate=rate, arguments=codec)
    write_repeats(one, many, profile, read_stream_facts(one), 40, run=run_copy)
    facts = read_stream_facts(many)
    assert (facts.rate, facts.frames, facts.even, facts.first_time) == (rate, 280, True, 0)
    with av.open(str(many)) as file:
        stream = file.streams.video[0]
        times = [packet.pts * stream.time_base for packet in file.demux(stream) if packet.size]
    tick = stream.time_base
    assert all(abs(time - i / rate) <= tick / 2 for i, time in enumerate(times))


def test_repeats_decode_to_the_same_pictures(loop_of: Loops, tmp_path: Path, planes_of: Any) -> None:
    loop = loop_of("h264-baseline-qvga")
    out = tmp_path / "many.mp4"
    write_repeats(loop.path, out, loop.profile, loop.facts, 3, run=run_copy)
    once, thrice = planes_of(loop.path), planes_of(out)
    np.testing.assert_array_equal(thrice, np.concatenate([once] * 3))


def test_how_many_fit(loop_of: Loops) -> None:
    loop = loop_of("mjpeg-avi-qvga")
    profile, facts = loop.profile, loop.facts
    seconds = facts.seconds
    assert plan_repeats(profile, facts, seconds * 5).count == 5
    assert plan_repeats(profile, facts, seconds * 5 - Fraction(1, 100)).count == 4
    assert plan_repeats(profile, facts, Fraction(1, 10)).count == 1
    day = plan_repeats(profile, facts, Fraction(86400))
    assert day.capped
    assert day.count * sum(facts.frame_bytes) < profile.largest_bytes
    assert plan_repeats(capped(profile, 3 * facts.size_bytes), facts, seconds * 5).count in (2, 3)
    with pytest.raises(InputError, match="--repeat-for: the length is 0 s"):
        plan_repeats(profile, facts, Fraction(0))


@settings(deadline=None, max_examples=80)
@given(wanted=st.fractions(Fraction(1, 10), 100), limit=st.integers(10_000, 50_000_000))
def test_the_file_never_passes_the_limit(wanted: Fraction, limit: int) -> None:
    from ghostprep.player.read import StreamFacts

    facts = StreamFacts(
        path=Path("x"), container="avi", codec="mjpeg", size_bytes=35_700, raster=(320, 240),
        rate=Fraction(15), frames=30, frame_bytes=(1000,) * 30, keys=tuple(range(30)),
    )  # fmt: skip
    plan = plan_repeats(capped(load_profile("mjpeg-avi-qvga"), limit), facts, wanted)
    assert plan.count >= 1
    if plan.count > 1:
        assert plan.seconds <= wanted
        assert 5700 + plan.count * 30 * (1000 + 16 + 8) <= limit


@pytest.mark.parametrize(("limit", "count"), [(117_540, 2), (117_539, 1), (173_460, 3), (173_459, 2)])
def test_sound_and_index_count_too(limit: int, count: int) -> None:
    """By hand: 30 frames of 1000 bytes, 64 each in the index, 2 s of sound at 96 kbit/s: 55,920 bytes.

    With 5,700 bytes before the first, two take 117,540 and three 173,460.
    """
    from ghostprep.player.read import StreamFacts

    facts = StreamFacts(
        path=Path("x"), container="avi", codec="mjpeg", size_bytes=35_700, raster=(320, 240),
        rate=Fraction(15), frames=30, frame_bytes=(1000,) * 30, keys=tuple(range(30)),
    )  # fmt: skip
    plan = plan_repeats(capped(load_profile("mjpeg-avi-qvga"), limit), facts, Fraction(100), sound_kbps=96)
    assert (plan.count, plan.seconds, plan.capped) == (count, 2 * count, True)


def test_the_cap_holds_for_the_written_file(loop_of: Loops, tmp_path: Path) -> None:
    loop = loop_of("mjpeg-avi-qvga")
    limit = loop.facts.size_bytes * 7 // 2
    plan = plan_repeats(capped(loop.profile, limit), loop.facts, Fraction(3600))
    assert plan.capped
    out = tmp_path / "many.avi"
    write_repeats(loop.path, out, loop.profile, loop.facts, plan.count, run=run_copy)
    assert out.stat().st_size <= limit


# --- sound ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "sound", "within"),
    [
        ("mjpeg-avi-qvga", "pcm", 0),
        ("h264-baseline-qvga", "aac", 1),
        ("mpeg4-sp-avi", "mp3", 1),
        ("mpeg1-ps-sif", "mp2", 1),
    ],
)
def test_sound_is_in_step(loop_of: Loops, tmp_path: Path, name: str, sound: str, within: int) -> None:
    """A click at a known sample is decoded at that sample by a second reader, in every repeat."""
    loop = loop_of(name)
    profile = extend_profile(name, {"sound": sound}, where="test")
    length = round(loop.facts.seconds * SOUND_RATE)
    click = length // 2
    wave = np.zeros(length, np.float32)
    wave[click : click + 40] = np.hanning(40) * 0.9
    sound_file = tmp_path / "sound.mkv"
    with av.open(str(sound_file), "w") as file:
        stream = file.add_stream("pcm_s16le", rate=SOUND_RATE, layout="mono")
        frame = av.AudioFrame.from_ndarray((wave[None] * 32767).astype(np.int16), "s16", "mono")
        frame.sample_rate = SOUND_RATE
        file.mux([*stream.encode(frame), *stream.encode(None)])
    out = tmp_path / f"many{profile.ending}"
    write_repeats(loop.path, out, profile, loop.facts, 2, run=run_copy, sound=sound_file)
    assert read_stream_facts(out).frames == 2 * loop.facts.frames
    with av.open(str(out)) as file:
        stream = file.streams.audio[0]
        assert stream.codec.canonical_name.partition("_")[0] == sound
        # what a plain player does: it plays all that is decoded, from the first sample on
        stream.codec_context.flags2 |= 0x10000000  # skip_manual
        heard = np.concatenate([f.to_ndarray().astype(np.float32)[:1].ravel() for f in file.decode(stream)])
        heard = heard[:: 1 if f_is_planar(stream) or stream.channels == 1 else 2]
    half = len(wave)
    first, second = np.argmax(np.abs(heard[:half])), half + np.argmax(np.abs(heard[half:]))
    assert abs(first - (click + 20)) <= within + 1
    assert abs(second - (length + click + 20)) <= within + 1
    facts = read_stream_facts(out)
    assert facts.first_time == 0
    assert facts.frames == 2 * loop.facts.frames


def f_is_planar(stream: Any) -> bool:
    return bool(stream.format.is_planar)


def test_a_player_without_sound_is_told(loop_of: Loops, tmp_path: Path) -> None:
    loop = loop_of("h264-annexb")
    with pytest.raises(InputError, match="takes no sound"):
        write_repeats(loop.path, tmp_path / "x", loop.profile, loop.facts, 2, run=run_copy, sound=loop.path)


def test_the_bits_of_sound_are_those_that_its_encoder_is_asked_for() -> None:
    """Uncompressed: 44,100 samples a second of 16 bit, one channel, 705.6 kbit/s."""
    asked = {"none": 0, "pcm": round(44_100 * 16 / 1000)}
    for name in profile_names():
        profile = load_profile(name)
        if profile.sound not in asked:
            arguments = sound_arguments(profile)
            asked[profile.sound] = int(arguments[arguments.index("-b:a") + 1].removesuffix("k"))
    assert {coding: SOUND_KBPS[coding] for coding in asked} == asked
