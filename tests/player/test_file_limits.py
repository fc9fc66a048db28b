"""Limits that only the end of a file breaks, and what a full-range file says of itself."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from ghostprep.clip import write_frames
from ghostprep.player import extend_profile, load_profile
from ghostprep.player.attempt import Setting, Shape
from ghostprep.player.encode import arguments_for
from ghostprep.player.limits import check_limits, container_proofs, key_proofs
from ghostprep.player.parse.h264 import H264Stream
from ghostprep.player.read import StreamFacts, read_stream_facts


@pytest.mark.parametrize(("keys", "longest"), [((0, 10, 20), 1.0), ((0, 10), 2.0), ((0, 5), 2.5)])
def test_the_last_gap_between_key_frames_counts(keys: tuple[int, ...], longest: float) -> None:
    facts = StreamFacts(
        path=Path("x"), container="mp4", codec="h264", size_bytes=1, raster=(320, 240), rate=Fraction(10),
        frames=30, frame_bytes=(1,) * 30, keys=keys,
        coded=H264Stream(kinds=["I" if number in keys else "P" for number in range(30)]),
    )  # fmt: skip
    proof = {one.name: one for one in key_proofs(facts, load_profile("h264-main-720p"))}["key frames"]
    assert (proof.value, proof.passed) == (longest, longest <= 1)


def test_bytes_after_the_end_of_an_avi_are_noticed(loop_of: Callable[[str], Any], tmp_path: Path) -> None:
    loop = loop_of("mjpeg-avi-qvga").path.read_bytes()
    path = tmp_path / "longer.avi"
    for more, right in ((b"", True), (bytes(4), False)):
        path.write_bytes(loop + more)
        proofs = {one.name: one.passed for one in container_proofs(read_stream_facts(path))}
        assert proofs["size in header"] is right


@pytest.mark.parametrize("rate", [Fraction(60000, 1001), Fraction(90000, 2999)])
def test_a_matroska_file_cannot_tell_every_rate_exactly(tmp_path: Path, rate: Fraction) -> None:
    profile, path = load_profile("master-ffv1-mkv"), tmp_path / "loop.mkv"
    frames = [np.full((48, 64, 3), 128, np.uint8)] * 30
    write_frames(path, frames, size=(64, 48), rate=rate, arguments=("-c:v", "ffv1"))
    facts = read_stream_facts(path)
    for asked, right in ((rate, True), (rate * Fraction(10001, 10000), False)):
        proofs = check_limits(facts, profile, raster=(64, 48), rate=asked, frames=30)
        proof = {one.name: one for one in proofs}["rate"]
        assert proof.passed is right
        assert (proof.value == str(asked)) is right


@pytest.mark.parametrize("name", ["hevc-main-1080p", "h264-baseline-qvga"])
@pytest.mark.parametrize("kind", ["limited", "full"])
def test_a_file_tells_its_range(tmp_path: Path, name: str, kind: str) -> None:
    profile = extend_profile(name, {"colour": {"range": kind}}, where="test")
    frames = [np.full((360, 320), 128, np.uint8)] * 3
    path = tmp_path / "loop.mp4"
    arguments = arguments_for(profile, Shape((320, 240), Fraction(25), 3), Setting(30, plain=True))
    write_frames(path, frames, size=(320, 240), rate=Fraction(25), arguments=arguments, pixels="i420")
    facts = read_stream_facts(path)
    assert facts.full_range is (kind == "full")


def x265(setting: Setting, *, rate: Fraction = Fraction(25), **own: object) -> dict[str, str]:
    profile = extend_profile("hevc-main-1080p", own, where="test")
    arguments = arguments_for(profile, Shape((320, 240), rate, 30), setting)
    options = arguments[arguments.index("-x265-params") + 1]
    return dict(option.split("=", 1) for option in options.split(":"))


def test_hevc_blocks_are_of_sizes_that_the_standard_has_and_none_is_larger_than_a_region() -> None:
    """ITU-T H.265, 7.4.3.2.1: coding tree blocks of 16 to 64, transforms of 4 to 32; regions are 16x16."""
    tools = x265(Setting(30))
    assert [tools[name] for name in ("ctu", "max-tu-size", "qg-size")] == ["16"] * 3
    assert [tools[name] for name in ("cbqpoffs", "crqpoffs")] == ["-2"] * 2
    assert "ctu" not in x265(Setting(30, plain=True))


@pytest.mark.parametrize(("rate", "seconds", "key"), [(25, 1.0, "25"), (25, 0.5, "12"), (1, 0.5, "1")])
def test_hevc_key_frames_stand_no_further_apart_than_the_profile_says(
    rate: int, seconds: float, key: str
) -> None:
    tools = x265(Setting(30), rate=Fraction(rate), key_s=seconds)
    assert (tools["keyint"], tools["min-keyint"]) == (key, key)


def test_hevc_under_a_ceiling_takes_nine_tenths_of_the_rate() -> None:
    bits = {"rate_kbps": 1000}
    tools = x265(Setting(30, ceiling=True), bits=bits)
    assert (tools["vbv-maxrate"], tools["vbv-bufsize"]) == ("900", "500")
    assert "vbv-maxrate" not in x265(Setting(30), bits=bits)
