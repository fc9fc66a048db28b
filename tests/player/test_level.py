"""H.264 levels: our table against x264's own choice, and against the standard's worked limits."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from ghostprep.clip import write_frames
from ghostprep.errors import InputError
from ghostprep.player import load_profile
from ghostprep.player.control import RateControl
from ghostprep.player.h264_level import Demand, least_level, level_named
from ghostprep.player.limits import check_limits
from ghostprep.player.read import read_stream_facts

# ITU-T H.264 (08/2021), table A-1: the least level by frame size and macroblock rate
SIZES = [
    ((176, 144), 15, "1"), ((320, 240), 15, "1.2"), ((240, 240), 25, "1.2"), ((240, 240), 30, "1.3"),
    ((240, 320), 20, "1.2"), ((240, 320), 25, "1.3"), ((240, 320), 30, "1.3"), ((320, 480), 30, "2.1"),
    ((480, 272), 30, "2.1"), ((640, 480), 30, "3"), ((720, 576), 25, "3"), ((800, 480), 25, "3"),
    ((800, 480), 30, "3.1"), ((1024, 600), 30, "3.1"), ((1280, 720), 30, "3.1"), ((1280, 720), 60, "3.2"),
    ((1920, 1080), 30, "4"),
]  # fmt: skip


@pytest.mark.parametrize(("raster", "rate", "level"), SIZES)
def test_x264_chooses_the_same_level(tmp_path: Path, raster: tuple[int, int], rate: int, level: str) -> None:
    ours = least_level(Demand(raster=raster, rate=Fraction(rate)))
    assert ours is not None
    assert ours.name == level
    path = tmp_path / "own.mp4"
    width, height = raster
    black = np.full((height * 3 // 2, width), 128, np.uint8)
    black[:height] = 16
    arguments = (
        "-c:v",
        "libx264",
        "-preset",
        "ultrafast",
        "-profile:v",
        "baseline",
        "-refs",
        "1",
        "-crf",
        "40",
    )
    write_frames(path, [black, black], size=raster, rate=Fraction(rate), arguments=arguments, pixels="i420")
    facts = read_stream_facts(path)
    assert (facts.profile, facts.level) == ("constrained-baseline", level)


def test_the_exact_edge() -> None:
    """1280x720 at 30 is 3600 macroblocks x 30 = 108,000 a second: exactly level 3.1."""
    level = level_named("3.1")
    assert Demand(raster=(1280, 720), rate=Fraction(30)).fits(level)
    assert not Demand(raster=(1280, 720), rate=Fraction(30001, 1000)).fits(level)
    # A.3.1: neither side longer than the root of 8 x MaxFS macroblocks (here 169)
    assert Demand(raster=(169 * 16, 16), rate=Fraction(30)).fits(level)
    assert not Demand(raster=(170 * 16, 16), rate=Fraction(30)).fits(level)


def test_reference_frames_fill_the_decoders_memory() -> None:
    """Level 1.3 holds 2376 macroblocks of decoded frames: 7 of 320x240 (300), not 8."""
    level = level_named("1.3")
    assert Demand(raster=(320, 240), rate=Fraction(30), references=7).fits(level)
    assert not Demand(raster=(320, 240), rate=Fraction(30), references=8).fits(level)


def test_high_profile_has_more_bits() -> None:
    """Table A-2: units of 1250 instead of 1000 bit for High."""
    level = level_named("3.1")
    raster, rate = (1280, 720), Fraction(30)
    assert not Demand(raster=raster, rate=rate, bit_rate=17_500_000).fits(level)
    assert Demand(raster=raster, rate=rate, bit_rate=17_500_000, profile="high").fits(level)


def test_too_much_for_the_player_is_refused_before_the_work() -> None:
    control = RateControl(load_profile("h264-main-720p"), (1280, 720), Fraction(60), 60)
    with pytest.raises(InputError, match=r"1280x720 at 60 .* more than H.264 level 3.1 allows"):
        control.first()
    others = r"profiles that take it: .*h264-high-1080p.*, hevc-main-1080p"
    with pytest.raises(InputError, match=rf"does not take a raster of 1920x1080; it takes [^;]*; {others}"):
        RateControl(load_profile("h264-main-720p"), (1920, 1080), Fraction(30), 60)
    with pytest.raises(InputError, match=r"does not take 29.97 frames a second"):
        RateControl(load_profile("mjpeg-avi-qvga"), (320, 240), Fraction(30000, 1001), 60)


def test_an_unknown_level() -> None:
    with pytest.raises(ValueError, match=r"no H.264 level is named '9'"):
        level_named("9")


@pytest.mark.parametrize(
    ("made", "taken"),
    [
        ("baseline", {"constrained-baseline", "main", "high"}),
        ("main", {"main", "high"}),
        ("high", {"high"}),
    ],
)
def test_a_decoder_takes_plainer_profiles_than_its_own(tmp_path: Path, made: str, taken: set[str]) -> None:
    """ITU-T H.264, clauses A.2.2 to A.2.4: a decoder of Main takes Constrained Baseline, one of High both."""
    path = tmp_path / "loop.mp4"
    grey = np.full((360, 320), 128, np.uint8)
    arguments = ("-c:v", "libx264", "-profile:v", made, "-crf", "30", "-bf", "0")
    write_frames(path, [grey, grey], size=(320, 240), rate=Fraction(25), arguments=arguments, pixels="i420")
    facts = read_stream_facts(path)
    base = load_profile("h264-main-720p")
    assert base.h264 is not None
    for name in ("constrained-baseline", "main", "high"):
        h264 = base.h264.model_copy(update={"profile": name})
        profile = base.model_copy(update={"h264": h264})
        proofs = check_limits(facts, profile, raster=(320, 240), rate=Fraction(25), frames=2)
        assert {proof.name: proof.passed for proof in proofs}["coding"] is (name in taken)
