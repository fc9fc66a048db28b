"""Profiles as data: those that come with the tool, and a builder's own."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.errors import InputError
from ghostprep.player import all_profiles, extend_profile, load_profile, profile_names
from ghostprep.player.h264_level import highest_rate, level_named
from ghostprep.player.profile import RasterLimits, RateLimits
from ghostprep.player.rate import choose_rate
from ghostprep.player.words import about_screen, limits_in_words

EXPECTED = {
    "mjpeg-avi-qvga", "mjpeg-avi-hvga", "mjpeg-es", "mpeg1-ps-sif", "mpeg4-sp-avi", "h264-baseline-qvga",
    "h264-main-720p", "h264-high-1080p", "h264-high-2160p", "h264-annexb", "hevc-main-1080p",
    "master-ffv1-mkv",
}  # fmt: skip


def test_all_are_there_and_readable() -> None:
    assert set(profile_names()) == EXPECTED
    assert [profile.name for profile in all_profiles()] == profile_names()


@pytest.mark.parametrize("name", sorted(EXPECTED))
def test_each_says_what_it_is_and_why(name: str) -> None:
    profile = load_profile(name)
    assert profile.title
    assert profile.about
    words = limits_in_words(profile)
    assert all(limit.text for limit in words)
    # every reason belongs to a limit that is there, and is shown
    shown = " ".join(limit.why for limit in words)
    for key, reason in profile.why.items():
        part: object = profile
        for step in key.split("."):
            assert hasattr(part, step), f"{name}: a reason for {key}, which is no key"
            part = getattr(part, step)
        assert reason in shown, f"{name}: the reason for {key} is not shown"


@pytest.mark.parametrize("name", [n for n in sorted(EXPECTED) if n.startswith("h264")])
def test_each_levels_own_limits_hold_the_profile(name: str) -> None:
    """No profile promises more than ITU-T H.264 table A-1 allows at its level."""
    profile = load_profile(name)
    limits = profile.h264
    assert limits is not None
    level = level_named(limits.level)
    unit = 1.25 if limits.profile == "high" else 1
    assert (profile.bits.rate_kbps or 0) <= level.rate_units * unit
    assert (profile.bits.buffer_kbit or 0) <= level.buffer_units * unit
    assert highest_rate(level, profile.raster.usual) >= 30


@pytest.mark.parametrize(
    "raster", [(2340, 1080), (1080, 2400), (2048, 1536), (2560, 1440), (3840, 2160), (4096, 2304)]
)
def test_screens_that_people_have_are_taken(raster: tuple[int, int]) -> None:
    profile = load_profile("h264-high-2160p")
    assert profile.raster.takes(raster)
    assert choose_rate(profile, Fraction(25), raster=raster) == 25
    # ITU-T H.264 table A-1, level 5.1: 983,040 macroblocks a second; 3840x2160 has 240 x 135 of them
    assert highest_rate(level_named("5.1"), (3840, 2160)) == Fraction(983_040, 240 * 135)


@pytest.mark.parametrize(
    ("raster", "cut"),
    [
        ((2340, 1080), True),
        ((1080, 2400), True),
        ((1920, 1080), False),
        ((2048, 1536), False),
        ((480, 240), False),
    ],
)
def test_a_phones_own_shape_is_pointed_out(raster: tuple[int, int], cut: bool) -> None:
    found = about_screen(raster)
    assert bool(found) is cut
    assert all("round corners" in one.text and "chart" in one.remedy for one in found)


def test_a_builders_file_extends_one(tmp_path: Path) -> None:
    own = tmp_path / "hallway.toml"
    own.write_text(
        'extends = "h264-baseline-qvga"\ntitle = "mine"\n[bits]\nrate_kbps = 500\n', encoding="utf-8"
    )
    profile = load_profile(own)
    base = load_profile("h264-baseline-qvga")
    assert (profile.name, profile.title) == ("hallway", "mine")
    assert (profile.bits.rate_kbps, profile.bits.buffer_kbit) == (500, base.bits.buffer_kbit)
    assert profile.raster == base.raster


def test_a_file_extends_the_file_beside_it(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text('extends = "mjpeg-es"\n[rate]\nlargest = 12\n', encoding="utf-8")
    (tmp_path / "b.toml").write_text('extends = "a.toml"\nblank_s = 2\n', encoding="utf-8")
    profile = load_profile(tmp_path / "b.toml")
    assert (profile.rate.largest, profile.blank_s, profile.container) == (12, 2, "jpeg-stream")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('extends = "h264-baselin-qvga"\n', "did you mean h264-baseline-qvga"),
        (
            'extends = "mjpeg-es"\n[bits]\nframe_byte = 3\n',
            "bits.frame_byte; did you mean frame_bytes",
        ),
        ('extends = "mjpeg-es"\nrastr = 1\n', "unknown key rastr; did you mean raster"),
        (
            'extends = "mjpeg-es"\n[raster]\nusual = [0, 240]\n',
            "usual.0: input should be greater than 0",
        ),
        ('extends = "mjpeg-es"\n[raster]\nusual = [322, 240]\n', "outside the profile's own raster limits"),
        ('extends = "mjpeg-es"\n[rate]\nleast = 90\n', "it must not be above largest"),
        ('extends = "mjpeg-es"\ncodec = "h264"\n', r"the table \[h264\] goes with codec h264"),
        ('extends = "mjpeg-es"\n[rate]\nlargest = "30/0"\n', "rate.largest: 30/0 divides by nothing"),
        ('extends = "mjpeg-es"\nkey_s = inf\n', "key_s: input should be a finite number"),
        (
            'extends = "h264-baseline-qvga"\n[h264]\nlevel = "9.9"\n',
            "h264.level: no H.264 level is named '9.9': 1, 1b",
        ),
        (
            'extends = "hevc-main-1080p"\nlevel = "high"\n',
            "level: hevc has no level 'high'",
        ),
        ('extends = "hevc-main-1080p"\nlevel = "4a"\n', "level: hevc has no level '4a'"),
        ('extends = "mpeg4-sp-avi"\nlevel = "4.1"\n', "level: mpeg4 has no level '4.1'"),
        (
            'extends = "mjpeg-es"\n[why]\n"raster.larges" = "x"\n',
            "why: there is no key 'raster.larges'; did you mean raster.largest",
        ),
        ('title = "x"\n', "container is missing"),
        ('extends = "self.toml"\n', "extends itself"),
        ("extends = 3\n", "extends must be a profile's name"),
        ("title = \n", "is not TOML"),
    ],
)
def test_what_cannot_be_used_is_one_line(tmp_path: Path, text: str, message: str) -> None:
    own = tmp_path / "self.toml"
    own.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=message) as caught:
        load_profile(own)
    assert "\n" not in str(caught.value)


def test_unknown_names_and_files() -> None:
    with pytest.raises(InputError, match="did you mean mjpeg-avi-qvga"):
        load_profile("mjpg-avi-qvga")
    with pytest.raises(InputError, match="No such file"):
        load_profile("nowhere/at_all.toml")
    with pytest.raises(InputError, match="is not a text file"):
        load_profile(_binary())


def _binary() -> Path:
    import tempfile

    folder = Path(tempfile.mkdtemp())
    path = folder / "x.toml"
    path.write_bytes(b"\xff\xfe\x00\x81")
    return path


def test_a_scenes_own_keys() -> None:
    profile = extend_profile("mjpeg-avi-qvga", {"rate": {"largest": 12}}, where="scene.toml [player]")
    assert profile.rate.largest == 12
    with pytest.raises(InputError, match=r"scene.toml \[player\]: unknown key rates"):
        extend_profile("mjpeg-avi-qvga", {"rates": {}}, where="scene.toml [player]")


@settings(deadline=None, max_examples=80)
@given(
    largest=st.tuples(st.integers(16, 400), st.integers(16, 400)),
    raster=st.tuples(st.integers(0, 400), st.integers(0, 400)),
    multiple=st.sampled_from([1, 2, 8, 16]),
)
def test_either_way_means_either_way(
    largest: tuple[int, int], raster: tuple[int, int], multiple: int
) -> None:
    usual = (multiple, multiple)
    limits = RasterLimits(usual=usual, largest=largest, multiple=multiple)
    assert limits.takes(raster) == limits.takes((raster[1], raster[0]))
    if limits.takes(raster):
        assert raster[0] % multiple == raster[1] % multiple == 0
        assert sorted(raster)[0] <= sorted(largest)[0]
        assert sorted(raster)[1] <= sorted(largest)[1]


def test_whole_rates() -> None:
    limits = RateLimits(least=Fraction(10), largest=Fraction(24), whole=True)
    assert limits.takes(Fraction(24))
    assert not limits.takes(Fraction(24000, 1001))
    assert not limits.takes(Fraction(25))
