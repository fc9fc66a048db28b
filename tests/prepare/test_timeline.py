import subprocess
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import imageio_ffmpeg
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from ghostprep import Recipe, inspect, make
from ghostprep.prepare.timeline import clock_rate, shown_at_ticks


def sampled(times: list[Fraction], rate: Fraction, frame_s: Fraction) -> list[int]:
    return list(shown_at_ticks(((time, index) for index, time in enumerate(times)), rate, lambda: frame_s))


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


def test_twice_the_rate_shows_every_frame_twice() -> None:
    times = [Fraction(index, 15) for index in range(4)]
    assert sampled(times, Fraction(30), Fraction(1, 15)) == [0, 0, 1, 1, 2, 2, 3, 3]


def test_a_frame_stays_until_the_next_one_comes() -> None:
    times = [Fraction(0), Fraction(1, 10), Fraction(5, 10)]
    assert sampled(times, Fraction(10), Fraction(1, 10)) == [0, 1, 1, 1, 1, 2]
    assert sampled(times, Fraction(10), Fraction(3, 10)) == [0, 1, 1, 1, 1, 2, 2, 2]


@settings(deadline=None, max_examples=60)
@given(
    st.lists(st.fractions(Fraction(1, 200), Fraction(1, 5)), min_size=1, max_size=40),
    st.sampled_from([Fraction(12), Fraction(15), Fraction(24000, 1001), Fraction(30)]),
)
def test_every_tick_shows_the_frame_that_is_on_or_a_nearer_one(steps: list[Fraction], rate: Fraction) -> None:
    times = [sum(steps[:n], Fraction(0)) for n in range(len(steps) + 1)]
    shown = sampled(times, rate, Fraction(1, 30))
    assert abs(len(shown) / rate - times[-1] - Fraction(1, 30)) <= 1 / rate
    for tick, index in enumerate(shown):
        on = max(n for n, time in enumerate(times) if time <= tick / rate)
        if index != on:
            assert abs(times[index] - tick / rate) <= 1 / (2 * rate)


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


def moving(path: Path, lasts_ms: list[int]) -> None:
    """Write pictures of a dot that moves on before green, each shown for its own time."""
    pictures = []
    for place in range(len(lasts_ms)):
        picture = Image.new("RGB", (160, 120), (0, 200, 0))
        ImageDraw.Draw(picture).ellipse((20 + 8 * place, 30, 50 + 8 * place, 90), fill=(200, 60, 40))
        pictures.append(picture)
    pictures[0].save(path, save_all=True, append_images=pictures[1:], duration=lasts_ms)


@pytest.mark.parametrize("name", ["a.gif", "a.apng", "a.webp", "a.mp4", "a.mkv"])
def test_the_last_frame_is_shown_as_long_as_the_file_says(name: str, tmp_path: Path) -> None:
    """Pillow writes GIF, APNG and WebP with a time for each picture; ffmpeg makes the others of the GIF."""
    clip = tmp_path / name
    first = clip if name in {"a.gif", "a.apng", "a.webp"} else tmp_path / "a.gif"
    moving(first, [300, *[100] * 10, 2000])
    if clip != first:
        subprocess.run(
            [
                *(imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-i", str(first)),
                *("-pix_fmt", "yuv420p", "-fps_mode", "vfr", str(clip)),
            ],
            check=True,
        )
    assert inspect(clip).seen.lasts_s == pytest.approx(3.3)


def test_a_gif_plays_as_long_as_it_says(tmp_path: Path) -> None:
    clip, out = tmp_path / "a.gif", tmp_path / "loop.mp4"
    moving(clip, [300, *[100] * 10, 2000])
    recipe = Recipe(join="none", overwrite=True)
    # with another tint the frames are those that the run before has kept
    for end, tint, seconds in ((None, None, 3.3), (2, None, 2), (2, "#ffffff", 2), (4, None, 3.3)):
        one = replace(recipe, end=None if end is None else Fraction(end), tint=tint)
        made: Any = make(clip, out, one).as_dict()
        assert made["output"]["seconds"] == pytest.approx(seconds, abs=0.05)
