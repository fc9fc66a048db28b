"""Limits that only the end of a file breaks, and what a full-range file says of itself."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from ghostprep.clip import write_frames
from ghostprep.player import Setting, StreamFacts, extend_profile, load_profile, read_stream_facts
from ghostprep.player.attempt import Shape
from ghostprep.player.encode import arguments_for
from ghostprep.player.limits_coding import key_proofs
from ghostprep.player.limits_container import container_proofs


@pytest.mark.parametrize(("keys", "longest"), [((0, 10, 20), 1.0), ((0, 10), 2.0), ((0, 5), 2.5)])
def test_the_last_gap_between_key_frames_counts(keys: tuple[int, ...], longest: float) -> None:
    facts = StreamFacts(
        path=Path("x"), container="mp4", codec="h264", size_bytes=1, raster=(320, 240), rate=Fraction(10),
        frames=30, frame_bytes=(1,) * 30, keys=keys,
        kinds=tuple("I" if number in keys else "P" for number in range(30)),
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
