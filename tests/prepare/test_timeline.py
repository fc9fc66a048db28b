import subprocess
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import imageio_ffmpeg
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep import Recipe, inspect, make
from ghostprep.prepare.timeline import clock_rate, shown_at_ticks


def sampled(times: list[Fraction], rate: Fraction, frame_s: Fraction) -> list[int]:
    return list(shown_at_ticks(((time, index) for index, time in enumerate(times)), rate, frame_s))


@pytest.mark.parametrize("rate", [Fraction(24000, 1001), Fraction(25), Fraction(30000, 1001), Fraction(60)])
def test_an_even_clip_passes_one_for_one(rate: Fraction) -> None:
    times = [index / rate for index in range(1465)]
    assert sampled(times, rate, 1 / rate) == list(range(1465))


def test_times_rounded_to_milliseconds_pass_one_for_one() -> None:
    rate = Fraction(30000, 1001)
    times = [Fraction(round(1000 * index / rate), 1000) for index in range(2000)]
    assert sampled(times, rate, 1 / rate) == list(range(2000))


def test_half_the_rate_takes_every_second_frame() -> None:
    times = [Fraction(index, 30) for index in range(10)]
    assert sampled(times, Fraction(15), Fraction(1, 30)) == [0, 2, 4, 6, 8]


def test_a_gap_holds_the_nearest_frame() -> None:
    times = [Fraction(0), Fraction(1, 10), Fraction(5, 10)]
    assert sampled(times, Fraction(10), Fraction(1, 10)) == [0, 1, 1, 2, 2, 2]


@settings(deadline=None, max_examples=60)
@given(
    st.lists(st.fractions(Fraction(1, 200), Fraction(1, 5)), min_size=1, max_size=40),
    st.sampled_from([Fraction(12), Fraction(15), Fraction(24000, 1001), Fraction(30)]),
)
def test_every_tick_shows_a_nearest_frame(steps: list[Fraction], rate: Fraction) -> None:
    times = [sum(steps[:n], Fraction(0)) for n in range(len(steps) + 1)]
    for tick, index in enumerate(sampled(times, rate, Fraction(1, 30))):
        off = abs(times[index] - tick / rate)
        assert off == min(abs(time - tick / rate) for time in times)


@pytest.mark.parametrize(
    ("source", "output", "expected"),
    [
        ("30000/1001", "30", "30000/1001"),
        ("30000/1001", "15", "15000/1001"),
        ("60", "30", "30"),
        ("25", "24", "24"),
        ("24000/1001", "24", "24000/1001"),
        ("12", "24", "24"),
    ],
)
def test_near_rates_are_relabelled_and_others_resampled(source: str, output: str, expected: str) -> None:
    assert clock_rate(Fraction(source), Fraction(output)) == Fraction(expected)


def test_loops_are_named_in_the_clips_own_frames(green_clip: Path, tmp_path: Path) -> None:
    """At 60 frames a second, of which the player takes every second one, and not from the clip's start."""
    fast, out = tmp_path / "fast.mp4", tmp_path / "loop.mp4"
    subprocess.run(
        [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-r", "60", "-i", str(green_clip), str(fast)],
        check=True,
    )
    recipe = Recipe(start=Fraction(1, 4), length=(0.3, 0.8), overwrite=True)
    best: Any = inspect(fast, recipe).as_dict()["loops"]
    for again in (recipe, replace(recipe, length=None, pick=best[0]["name"])):
        made: Any = make(fast, out, again).as_dict()["loop"]
        assert [made[key] for key in ("first", "last", "frames")] == [
            best[0][key] for key in ("first", "last", "frames")
        ]
    assert best[0]["last"] - best[0]["first"] == 2 * best[0]["frames"] - 2


def test_a_clip_with_uneven_times_lasts_as_long_as_they_say(green_clip: Path, tmp_path: Path) -> None:
    """Three seconds, every fourth frame of which the camera left out."""
    uneven = tmp_path / "uneven.mp4"
    subprocess.run(
        [
            *(imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-i", str(green_clip)),
            *("-vf", "select=mod(n\\,4)", "-fps_mode", "passthrough", str(uneven)),
        ],
        check=True,
    )
    seen = inspect(uneven).seen
    assert seen.facts.frames == 67
    assert seen.lasts_s == pytest.approx(2.967, abs=0.034)
