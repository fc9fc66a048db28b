"""What is tried for a loop, and in which order, by profile."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from fractions import Fraction

import numpy as np
import pytest

from ghostprep.errors import JobError
from ghostprep.player import load_profile
from ghostprep.player.attempt import Attempt, Setting, Shape
from ghostprep.player.control import RateControl
from ghostprep.player.encode.h264 import _ceiling, _tools, bits_for
from ghostprep.player.measured import Measured

BASELINE = load_profile("h264-baseline-qvga")
JPEG = load_profile("mjpeg-avi-qvga")


def test_nothing_fits() -> None:
    control = RateControl(JPEG, (320, 240), Fraction(15), 90)
    attempt: Attempt | None = control.first()
    while attempt is not None:
        attempt = control.next(attempt, Measured(bytes=1, largest_frame=30_000, black_near=1, black_far=1))
    with pytest.raises(JobError, match="does not fit the player's limits even at the lowest quality"):
        _ = control.best


def test_a_header_that_is_too_large_is_no_fit() -> None:
    control = RateControl(JPEG, (320, 240), Fraction(15), 90)
    attempt = control.first()
    control.next(attempt, Measured(bytes=1, largest_frame=1, header_bytes=20_481, black_near=1, black_far=1))
    assert not control.is_best(attempt)
    with pytest.raises(JobError, match="does not fit"):
        _ = control.best


def test_without_black_nothing_is_done_for_it() -> None:
    control = RateControl(BASELINE, (320, 240), Fraction(30), 90, keyed=False)
    attempt: Attempt | None = control.first()
    made: list[Attempt] = []
    while attempt is not None:
        made.append(attempt)
        kbps = 9000 * math.exp(-0.12 * attempt.setting.quality)
        attempt = control.next(attempt, Measured(bytes=1, largest_frame=1, mean_kbps=kbps, peak_kbps=kbps))
    assert all(attempt.setting.plain and not attempt.draft for attempt in made)
    assert len(made) <= 3
    best = control.best
    assert "addroi" not in " ".join(best.arguments)
    # 9000 e^(-0.12 q) is 768 at q = 20.5
    assert best.setting.quality == 22


def played(control: RateControl, kbps: Callable[[Setting], float]) -> list[Attempt]:
    """Let the search run with an encoder that takes so many kbit/s and always keeps enough black."""
    made: list[Attempt] = []
    attempt: Attempt | None = control.first()
    while attempt is not None:
        made.append(attempt)
        took = kbps(attempt.setting)
        seen = Measured(
            bytes=1, largest_frame=1, mean_kbps=took, peak_kbps=took, black_near=0.96, black_far=1
        )
        attempt = control.next(attempt, seen)
    return made


def test_a_settled_one_follows_its_draft_on_the_same_frames() -> None:
    loop = [np.zeros((240, 320, 3), np.uint8)] * 300
    loop[0] = np.full((240, 320, 3), 90, np.uint8)
    control = RateControl(BASELINE, (320, 240), Fraction(30), 300, loop=loop)
    made = played(control, lambda one: 1500 * 2 ** ((18 - one.quality) / 6) if one.settled else 2000)
    for before, after in itertools.pairwise(made):
        assert before.draft == (after.from_draft and before.setting == after.setting.draft)
        assert not before.draft or before.part == after.part
    assert {attempt.part is None for attempt in made} == {True, False}
    assert [attempt.part is None for attempt in made] == sorted(attempt.part is None for attempt in made)
    best = control.best
    assert (best.part, best.draft, best.from_draft) == (None, False, True)
    assert [attempt for attempt in made if control.is_best(attempt)] == [best]
    # a draft's bits are not handed over: it may be coded fast
    assert {a.arguments[a.arguments.index("-preset") + 1] for a in made if a.draft} == {"veryfast"}
    assert best.arguments[best.arguments.index("-preset") + 1] == "medium"


@pytest.mark.parametrize(("raster", "whole"), [((640, 480), True), ((1280, 720), False)])
def test_where_bits_are_plenty_the_whole_loop_is_coded_at_once(raster: tuple[int, int], whole: bool) -> None:
    profile = load_profile("h264-main-720p")
    loop = [np.zeros((*raster[::-1], 3), np.uint8)] * 150
    control = RateControl(profile, raster, Fraction(30), 150, loop=loop)
    made = played(control, lambda _: 5000)
    assert (made[0].part is None) == whole
    assert control.best.setting.quality == 12
    assert len(made) == (1 if whole else 2)


def test_a_short_loop_and_one_whose_frames_are_not_given_have_no_part() -> None:
    loop = [np.full((240, 320, 3), 90, np.uint8)] * 90
    for given_loop in (loop, None):
        control = RateControl(BASELINE, (320, 240), Fraction(30), 90, loop=given_loop)
        assert all(attempt.part is None for attempt in played(control, lambda _: 500))
        assert control.asks_for_black == (given_loop is not None)


def test_the_master_is_done_at_once() -> None:
    control = RateControl(load_profile("master-ffv1-mkv"), (321, 241), Fraction(30), 9)
    attempt = control.first()
    assert attempt.pixels == "rgb24"
    assert control.next(attempt, Measured(bytes=1, largest_frame=1)) is None
    assert control.best == attempt


@pytest.mark.parametrize("seconds", [4, 20, 600])
@pytest.mark.parametrize("name", ["h264-baseline-qvga", "h264-main-720p"])
def test_what_flows_in_and_what_the_buffer_held_keep_under_the_mean(name: str, seconds: int) -> None:
    """Over a loop of so many seconds, by three in a hundred; into a short one three tenths flow at least."""
    profile = load_profile(name)
    told = _ceiling(profile, Fraction(seconds))
    flow, buffer, held = (
        int(told[told.index(key) + 1]) for key in ("-maxrate", "-bufsize", "-rc_init_occupancy")
    )
    bit_rate, most = bits_for(profile)
    assert buffer <= min(most, bit_rate / 2)
    assert held == pytest.approx(0.3 * buffer, abs=1)
    spent = flow * seconds + held
    if flow > 0.31 * bit_rate:
        assert spent == pytest.approx(0.97 * bit_rate * seconds, rel=1e-3)
    assert flow >= int(0.3 * bit_rate)


@pytest.mark.parametrize(("buffer_kbit", "held"), [(None, 14_000_000), (500, 500_000), (90_000, 14_000_000)])
def test_a_buffer_is_the_profiles_within_its_levels(buffer_kbit: int | None, held: int) -> None:
    """ITU-T H.264 table A-1, level 3.1: 14,000 units of 1000 bits for Baseline and Main."""
    profile = load_profile("h264-main-720p")
    bits = profile.bits.model_copy(update={"buffer_kbit": buffer_kbit})
    assert bits_for(profile.model_copy(update={"bits": bits}))[1] == held


@pytest.mark.parametrize("frames", [3, 250])
def test_first_and_last_frame_are_finer_for_the_seam(frames: int) -> None:
    profile = load_profile("h264-main-720p")
    told = _tools(profile, Shape((320, 240), Fraction(25), frames), Setting(30, plain=True), fast=False)
    zones = dict(part.split("=", 1) for part in told.split(":"))["zones"]
    first, last = (zone.split(",") for zone in zones.split("/"))
    assert first[:2] == ["0", "0"]
    assert last[:2] == [str(frames - 1)] * 2
    assert first[2] == last[2]
    assert float(first[2].removeprefix("q=")) < 30


@pytest.mark.parametrize(
    ("plain", "fast", "small"), [(False, False, True), (False, True, False), (True, False, False)]
)
def test_only_black_that_is_coded_with_care_gets_the_smallest_partitions(
    plain: bool, fast: bool, small: bool
) -> None:
    profile, shape = load_profile("h264-main-720p"), Shape((320, 240), Fraction(25), 50)
    told = _tools(profile, shape, Setting(20, plain=plain), fast=fast)
    assert ("partitions=all" in told.split(":")) is small
