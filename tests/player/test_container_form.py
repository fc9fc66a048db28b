"""A file's container and data at each limit: what plain players read passes, one step beyond it fails."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from ghostprep.player import extend_profile, load_profile
from ghostprep.player.attempt import ladder
from ghostprep.player.limits import check_limits, container_proofs
from ghostprep.player.parse.avi import AviFile
from ghostprep.player.parse.mp4 import Mp4File, Track
from ghostprep.player.parse.mpeg import Mpeg1Stream
from ghostprep.player.read import StreamFacts
from ghostprep.player.search import lively_part

PICTURES, SOUND = Track("vide", "avc1", 0), Track("soun", "mp4a", 0)
MP4 = Mp4File(("ftyp", "moov", "mdat"), (PICTURES, SOUND))
AVI = AviFile(("vids", "auds"), 30, 2048, (), 30, 1, open_dml=False, size_field_right=True)
PLAIN = StreamFacts(
    path=Path("x"), container="mp4", codec="h264", size_bytes=3000, raster=(320, 240), rate=Fraction(10),
    frames=30, frame_bytes=(100,) * 30, keys=(0, 10, 20),
)  # fmt: skip


def failing(facts: StreamFacts) -> set[str]:
    return {proof.name for proof in container_proofs(facts) if not proof.passed}


@pytest.mark.parametrize(
    ("change", "fails"),
    [
        ({}, set()),
        ({"order": ("ftyp", "mdat", "moov")}, {"boxes"}),
        ({"order": ("ftyp", "mdat")}, {"boxes"}),
        ({"order": ("ftyp", "moov")}, {"boxes"}),
        ({"tracks": (SOUND, PICTURES)}, {"streams"}),
        ({"tracks": ()}, {"streams"}),
        ({"tracks": (PICTURES, replace(SOUND, edits=1))}, {"edit list"}),
        ({"tracks": (replace(PICTURES, coding="hvc1"),)}, set()),
        ({"tracks": (replace(PICTURES, coding="hev1"),)}, {"tag"}),
    ],
)
def test_the_boxes_of_an_mp4(change: dict[str, Any], fails: set[str]) -> None:
    assert failing(replace(PLAIN, mp4=replace(MP4, **change))) == fails


@pytest.mark.parametrize(
    ("change", "fails"),
    [
        ({}, set()),
        ({"streams": ("vids",)}, set()),
        ({"streams": ("auds", "vids")}, {"streams"}),
        ({"streams": ("vids", "auds", "auds")}, {"streams"}),
        ({"strangers": ("02tx",)}, {"streams"}),
        ({"riff_parts": 2}, {"parts"}),
        ({"open_dml": True}, {"parts"}),
        ({"index_entries": 31}, set()),
        ({"index_entries": 29}, {"index"}),
        ({"index_entries": 0}, {"index"}),
        ({"frames": 29}, {"frames in header"}),
        ({"frames": 31}, {"frames in header"}),
        ({"size_field_right": False}, {"size in header"}),
    ],
)
def test_the_chunks_of_an_avi(change: dict[str, Any], fails: set[str]) -> None:
    assert failing(replace(PLAIN, avi=replace(AVI, **change))) == fails


def test_an_avi_without_pictures_has_no_index() -> None:
    assert "index" in failing(replace(PLAIN, frames=0, avi=replace(AVI, index_entries=0)))


@pytest.mark.parametrize(
    ("streams", "right"),
    [((0xE0,), True), ((0xE0, 0xC0), True), ((0xC0, 0xE0), False), ((0xE0, 0xC0, 0xC1), False), ((), False)],
)
def test_the_packets_of_a_program_stream(streams: tuple[int, ...], right: bool) -> None:
    assert (failing(replace(PLAIN, coded=Mpeg1Stream(streams))) == set()) is right


def held(facts: StreamFacts, **bits: int) -> dict[str, tuple[object, bool]]:
    profile = extend_profile("mjpeg-avi-qvga", {"bits": bits}, where="test")
    proofs = check_limits(facts, profile, raster=(320, 240), rate=Fraction(10), frames=30)
    return {proof.name: (proof.value, proof.passed) for proof in proofs}


def test_each_limit_on_data_is_held_and_one_step_beyond_it_is_not() -> None:
    # 30 pictures of 100 bytes at 10 a second: 8 kbit/s, in each second as in all
    facts = replace(PLAIN, container="avi", codec="mjpeg", avi=AVI)
    for most, right in ((8, True), (7, False)):
        proofs = held(facts, rate_kbps=most)
        assert proofs["bit rate"] == (8.0, right)
        assert proofs["busiest second"] == (8.0, right)
    for most, right in ((100, True), (99, False)):
        assert held(facts, frame_bytes=most)["largest frame"] == (100, right)
    for most, right in ((2048, True), (2047, False)):
        assert held(facts, header_bytes=most)["header"] == (2048, right)


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"raster": (320, 238)}, "raster"),
        ({"frames": 31}, "frames"),
        ({"rate": Fraction(11)}, "rate"),
        ({"even": False}, "rate"),
        ({"first_time": Fraction(1, 10)}, "first time"),
        ({"keys": (1, 10)}, "first time"),
        ({"keys": ()}, "first time"),
        ({"codec": "h264"}, "form"),
    ],
)
def test_what_was_not_asked_for_fails(change: dict[str, Any], name: str) -> None:
    facts = replace(PLAIN, container="avi", codec="mjpeg", avi=AVI)
    assert held(facts)[name][1]
    assert not held(replace(facts, **change))[name][1]


def test_a_part_is_two_and_a_half_seconds_or_a_quarter_and_at_least_one() -> None:
    frames = [np.full((8, 8, 3), 5 * (number % 2), np.uint8) for number in range(120)]
    for count, rate, length in ((120, 10, 25), (99, 10, 24), (40, 10, 10), (39, 10, None), (120, 31, None)):
        found = lively_part(frames[:count], Fraction(rate))
        assert (None if found is None else found[1] - found[0]) == length


def test_the_settings_for_black_soften_the_rim_only_when_the_figure_is_coarse() -> None:
    rungs = ladder(load_profile("h264-baseline-qvga"), keyed=True, bought=True)
    settled = [rung for rung in rungs.rungs if rung.settled and rung.rim == 0]
    assert [rung.quality for rung in settled] == list(range(14, 31))
    assert [rung.guard.fade_px for rung in settled] == [max(0, quality - 22) / 4 for quality in range(14, 31)]
    assert [rung.guard.colour_px for rung in settled][-1] == 5
    assert [rung.hold for rung in settled] == list(range(0, 34, 2))
    assert rungs.rungs[rungs.kept] == settled[-1]
    assert all(rung.share == 0.985 for rung in rungs.rungs)
    assert [rung.rim for rung in rungs.rungs[: rungs.kept + 1]] == [0] * (rungs.kept + 1)
