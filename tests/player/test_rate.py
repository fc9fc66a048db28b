"""The frame rate: the clip's own frames wherever the player allows it."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.errors import InputError
from ghostprep.player import all_profiles, load_profile
from ghostprep.player.profile import Profile, RateLimits
from ghostprep.player.rate import choose_rate

NTSC = Fraction(30000, 1001)


@pytest.mark.parametrize(
    ("name", "source", "expected"),
    [
        ("h264-baseline-qvga", NTSC, (NTSC, "same", 1)),
        ("h264-baseline-qvga", Fraction(24000, 1001), (Fraction(24000, 1001), "same", 1)),
        ("h264-baseline-qvga", Fraction(50), (Fraction(25), "fewer", 2)),
        ("h264-baseline-qvga", Fraction(60000, 1001), (NTSC, "fewer", 2)),
        ("h264-baseline-qvga", Fraction(240), (Fraction(30), "fewer", 8)),
        ("h264-baseline-qvga", Fraction(2), (Fraction(6), "repeated", 3)),
        ("mjpeg-avi-qvga", NTSC, (Fraction(15), "relabelled", 2)),
        ("mjpeg-avi-qvga", Fraction(24000, 1001), (Fraction(24), "relabelled", 1)),
        ("mjpeg-avi-qvga", Fraction(25), (Fraction(24), "resampled", 1)),
        ("mjpeg-avi-qvga", Fraction(30), (Fraction(15), "fewer", 2)),
        ("mjpeg-avi-hvga", Fraction(20), (Fraction(10), "fewer", 2)),
        ("mjpeg-avi-qvga", Fraction(50), (Fraction(10), "fewer", 5)),
        ("h264-baseline-qvga", Fraction(5000, 1001), (Fraction(5), "relabelled", 1)),
        # as phones write it, a hair above what the player takes: not every second frame is thrown away
        ("h264-baseline-qvga", Fraction(90000, 2999), (Fraction(30), "relabelled", 1)),
        ("mpeg1-ps-sif", Fraction(15), (Fraction(30), "repeated", 2)),
        ("mpeg1-ps-sif", Fraction(60), (Fraction(30), "fewer", 2)),
        ("mpeg1-ps-sif", Fraction(2997, 100), (NTSC, "relabelled", 1)),
        ("master-ffv1-mkv", Fraction(240), (Fraction(240), "same", 1)),
    ],
)
def test_known_cases(name: str, source: Fraction, expected: tuple[Fraction, str, int]) -> None:
    rate = choose_rate(load_profile(name), source)
    assert (rate, *told(source, rate)) == expected


def told(source: Fraction, rate: Fraction) -> tuple[str, int]:
    """Return what becomes of the clip's frames at a rate, and how many make one or are made of one."""
    if rate == source:
        return "same", 1
    for how, ratio in (("fewer", source / rate), ("repeated", rate / source)):
        if ratio.denominator == 1:
            return how, int(ratio)
    step = max(1, round(source / rate))
    return ("relabelled", step) if abs(rate * step / source - 1) <= Fraction(1, 1000) else ("resampled", 1)


def test_the_level_sets_the_rate_at_a_large_raster() -> None:
    """ITU-T H.264 table A-1, level 3.1: 108,000 macroblocks a second, 30 frames of 1280x720."""
    profile = load_profile("h264-main-720p")
    assert choose_rate(profile, Fraction(60), raster=(1280, 720)) == 30
    assert choose_rate(profile, Fraction(60), raster=(640, 480)) == 60
    assert choose_rate(profile, Fraction(50), raster=(1280, 720)) == 25


def test_no_rate_is_refused() -> None:
    with pytest.raises(InputError, match="frame rate is 0"):
        choose_rate(load_profile("mjpeg-es"), Fraction(0))


rates = st.builds(Fraction, st.integers(1, 240_000), st.sampled_from([1, 1000, 1001]))


@settings(deadline=None, max_examples=80)
@given(source=rates, which=st.integers(0, 10))
def test_the_player_always_takes_it(source: Fraction, which: int) -> None:
    profile = all_profiles()[which]
    rate = choose_rate(profile, source)
    assert profile.rate.takes(rate)
    assert (rate == source) == profile.rate.takes(source)
    # other frames than the clip's own only where no part and no multiple of its rate will do
    if told(source, rate)[0] == "resampled":
        assert not any(profile.rate.takes(r) for k in range(2, 60) for r in (source / k, source * k))


@settings(deadline=None, max_examples=80)
@given(source=rates, least=st.integers(1, 30), more=st.integers(0, 60), whole=st.booleans())
def test_any_limits(source: Fraction, least: int, more: int, whole: bool) -> None:
    base = load_profile("h264-baseline-qvga")
    limits = RateLimits(least=Fraction(least), largest=Fraction(least + more), whole=whole)
    profile = Profile.model_validate(base.model_dump() | {"rate": limits.model_dump()})
    assert limits.takes(choose_rate(profile, source))


@pytest.mark.parametrize(("choices", "rate"), [((15, 25, 50), 15), ((20, 30, 60), 30), ((25, 50), 25)])
def test_of_the_only_rates_those_count_that_the_level_decodes(choices: tuple[int, ...], rate: int) -> None:
    """ITU-T H.264 table A-1, level 3.1: 30 frames of 1280x720 a second."""
    profile = load_profile("h264-main-720p")
    limits = RateLimits(least=Fraction(1), largest=Fraction(60), choices=tuple(map(Fraction, choices)))
    own = profile.model_copy(update={"rate": limits})
    assert choose_rate(own, Fraction(60), raster=(1280, 720)) == rate
