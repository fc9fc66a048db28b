"""The frame rate: the clip's own frames wherever the player allows it."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.errors import InputError
from ghostprep.player import RateChoice, all_profiles, choose_rate, load_profile, plan_rate
from ghostprep.player.profile import Profile, RateLimits

NTSC = Fraction(30000, 1001)


@pytest.mark.parametrize(
    ("name", "source", "expected"),
    [
        ("h264-baseline-qvga", NTSC, RateChoice(NTSC, "same")),
        ("h264-baseline-qvga", Fraction(24000, 1001), RateChoice(Fraction(24000, 1001), "same")),
        ("h264-baseline-qvga", Fraction(50), RateChoice(Fraction(25), "fewer", 2)),
        ("h264-baseline-qvga", Fraction(60000, 1001), RateChoice(NTSC, "fewer", 2)),
        ("h264-baseline-qvga", Fraction(240), RateChoice(Fraction(30), "fewer", 8)),
        ("h264-baseline-qvga", Fraction(2), RateChoice(Fraction(6), "repeated", 3)),
        ("mjpeg-avi-qvga", NTSC, RateChoice(Fraction(15), "relabelled", 2)),
        ("mjpeg-avi-qvga", Fraction(24000, 1001), RateChoice(Fraction(24), "relabelled", 1)),
        ("mjpeg-avi-qvga", Fraction(25), RateChoice(Fraction(24), "resampled")),
        ("mjpeg-avi-qvga", Fraction(30), RateChoice(Fraction(15), "fewer", 2)),
        ("mpeg1-ps-sif", Fraction(15), RateChoice(Fraction(30), "repeated", 2)),
        ("mpeg1-ps-sif", Fraction(60), RateChoice(Fraction(30), "fewer", 2)),
        ("mpeg1-ps-sif", Fraction(2997, 100), RateChoice(NTSC, "relabelled", 1)),
        ("master-ffv1-mkv", Fraction(240), RateChoice(Fraction(240), "same")),
    ],
)
def test_known_cases(name: str, source: Fraction, expected: RateChoice) -> None:
    profile = load_profile(name)
    assert plan_rate(profile, source) == expected
    assert choose_rate(profile, source) == expected.rate


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
    choice = plan_rate(profile, source)
    assert profile.rate.takes(choice.rate)
    if choice.how == "same":
        assert choice.rate == source
    elif choice.how == "fewer":
        assert choice.rate * choice.step == source
    elif choice.how == "repeated":
        assert choice.rate == source * choice.step
    elif choice.how == "relabelled":
        assert abs(choice.rate * choice.step / source - 1) <= Fraction(1, 1000)


@settings(deadline=None, max_examples=80)
@given(source=rates, least=st.integers(1, 30), more=st.integers(0, 60), whole=st.booleans())
def test_any_limits(source: Fraction, least: int, more: int, whole: bool) -> None:
    base = load_profile("h264-baseline-qvga")
    limits = RateLimits(least=Fraction(least), largest=Fraction(least + more), whole=whole)
    profile = Profile.model_validate(base.model_dump() | {"rate": limits.model_dump()})
    assert limits.takes(choose_rate(profile, source))
