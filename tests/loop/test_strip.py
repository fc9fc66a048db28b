"""What is remembered of the frames, and where the flow of a clip breaks."""

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.loop import ThumbnailStrip, plan_loop, quietest, seam
from ghostprep.loop import strip as strip_module
from ghostprep.loop.breaks import find_breaks
from ghostprep.loop.points import points_of
from ghostprep.loop.thumbnail import thumbnail
from ghostprep.transfer import codes_to_light

Maker = Callable[..., list[np.ndarray]]


def noise(count: int, seed: int = 0) -> list[np.ndarray]:
    rng = np.random.default_rng(seed)
    return [rng.integers(0, 256, (18, 32, 3), np.uint8) for _ in range(count)]


@settings(deadline=None, max_examples=25)
@given(count=st.integers(1, 23), a=st.integers(0, 23), b=st.integers(0, 23))
def test_thumbnails_come_back_from_the_file_as_from_memory(count: int, a: int, b: int) -> None:
    a, b = sorted((min(a, count), min(b, count)))
    frames = noise(count, count)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(strip_module, "_CHUNK", 5)
        strip = ThumbnailStrip()
        for frame in frames:
            strip.add(frame)
    assert len(strip) == count
    truth = np.array([thumbnail(codes_to_light(f)) for f in frames[a:b]]).reshape(-1, strip_module.VECTOR)
    assert strip.vectors(a, b) == pytest.approx(truth, abs=1e-3)
    with pytest.raises(IndexError, match="not all among"):
        strip.vectors(0, count + 1)


def test_a_thumbnail_of_a_crossfade_is_the_crossfade_of_thumbnails() -> None:
    a, b = (codes_to_light(f) for f in noise(2))
    assert np.allclose(thumbnail((a + b) / 2), (thumbnail(a) + thumbnail(b)) / 2, atol=1e-6)


def test_a_red_lamp_differs_from_a_green_one_of_the_same_light() -> None:
    red, green = np.zeros((36, 64, 3), np.float32), np.zeros((36, 64, 3), np.float32)
    red[..., 0], green[..., 1] = 0.7152, 0.2126
    apart = np.abs(thumbnail(red) - thumbnail(green))
    assert apart[:576].max() < 1e-6
    assert apart.max() > 0.1


def test_memory_a_frame_is_bounded() -> None:
    assert strip_module.VECTOR * 2 < 1300
    open_files = Path("/proc/self/fd")  # only where the system lists them
    before = len(list(open_files.iterdir())) if open_files.is_dir() else 0
    strip = ThumbnailStrip()
    for frame in noise(3) * 2000:
        strip.add(frame)
    assert len(strip._recent) < strip_module._CHUNK
    del strip
    if before:
        assert len(list(open_files.iterdir())) == before


def test_frames_of_two_sizes_are_refused() -> None:
    strip = ThumbnailStrip()
    strip.add(np.zeros((18, 32, 3), np.uint8))
    with pytest.raises(ValueError, match=r"shape \(20, 32\) follows"):
        strip.add(np.zeros((20, 32, 3), np.uint8))


def breaks_of(frames: list[np.ndarray]) -> tuple[tuple[int, ...], tuple[int, ...]]:
    strip = ThumbnailStrip()
    for frame in frames:
        strip.add(frame)
    found = find_breaks(*points_of(strip))
    return found.cuts, found.flashes


def test_cuts_and_flashes_are_told_from_motion(sway: Maker) -> None:
    a, b = sway(90, period_s=1.2, noise=2), [f[:, ::-1] // 2 for f in sway(70, period_s=3)]
    assert breaks_of(a) == ((), ())
    assert breaks_of([*a, *b]) == ((90,), ())
    lit = list(a)
    lit[40] = np.full_like(lit[40], 230)
    assert breaks_of([*lit, *b]) == ((90,), (40,))
    assert breaks_of([a[0]] * 30) == ((), ())


def test_a_ghost_that_comes_out_of_the_dark_slowly_is_no_cut(sway: Maker) -> None:
    frames = sway(100, period_s=4)
    plan = plan_loop("fades", 100, 25, crossfade_s=0.6)  # type: ignore[arg-type]
    dark = [(f * plan.steps[i].gain ** (1 / 2.2)).astype(np.uint8) for i, f in enumerate(frames)]
    assert breaks_of(dark) == ((), ())


def test_the_files_seam_lies_where_the_ghost_is_darkest_and_stillest(sway: Maker) -> None:
    frames = sway(120, period_s=4.8)
    for i in range(60, 80):
        frames[i] = (frames[70] * 0.3).astype(np.uint8)  # it stands still in the shade
    strip = ThumbnailStrip()
    for frame in frames:
        strip.add(frame)
    plan = plan_loop("none", 120, 25)  # type: ignore[arg-type]
    place = quietest(plan, strip)
    assert 61 <= place <= 79
    assert plan.rotated(place).steps[0].a == place
    ends = plan_loop("ends", 120, 25, crossfade_s=0.4)  # type: ignore[arg-type]
    assert ends.rotated(quietest(ends, strip)).steps[0].a in range(61, 80)


def test_a_fade_keeps_its_seam_in_the_black(sway: Maker) -> None:
    strip = ThumbnailStrip()
    for frame in sway(120, period_s=4.3):
        strip.add(frame)
    plan = plan_loop("fades", 120, 25).rotated(31)  # type: ignore[arg-type]
    assert plan.steps[quietest(plan, strip)].gain < 0.005


def test_a_still_loop_begins_where_it_began(sway: Maker) -> None:
    strip = ThumbnailStrip()
    for frame in sway(30, still=True):
        strip.add(frame)
    assert quietest(plan_loop("none", 30, 25), strip) == 0  # type: ignore[arg-type]


def test_a_loop_begins_neither_on_a_bright_frame_nor_after_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """A player that holds its last frame shows what goes before the seam, too."""
    light = np.full(20, 0.5, np.float32)
    light[7], light[8] = 1.0, 0.0  # the darkest frame follows on the brightest
    light[13], light[14] = 0.1, 0.1
    monkeypatch.setattr(seam, "_brightness", lambda plan, strip: light)
    monkeypatch.setattr(seam, "_steps", lambda plan, strip: np.full(20, 0.01, np.float32))
    assert quietest(plan_loop("none", 20, Fraction(25)), ThumbnailStrip()) == 14


@pytest.mark.parametrize(("darker", "begins"), [(0.0004, 0), (0.01, 13)])
def test_a_loop_is_not_turned_for_next_to_nothing(
    monkeypatch: pytest.MonkeyPatch, darker: float, begins: int
) -> None:
    """A gain of a thousandth of the mean is none."""
    light = np.full(20, 0.5, np.float32)
    light[12:14] -= darker
    monkeypatch.setattr(seam, "_brightness", lambda plan, strip: light)
    monkeypatch.setattr(seam, "_steps", lambda plan, strip: np.full(20, 0.01, np.float32))
    assert quietest(plan_loop("none", 20, Fraction(25)), ThumbnailStrip()) == begins


def test_steps_across_the_seam_are_known_where_frames_follow_each_other_and_else_the_largest(
    sway: Maker,
) -> None:
    strip = ThumbnailStrip()
    for frame in sway(60, period_s=2.4):
        strip.add(frame)
    known = strip.steps
    plan = plan_loop("ends", 60, Fraction(25), crossfade_s=0.4)
    blended = set(plan.blend_frames)
    steps = seam._steps(plan, strip)
    for i, mix in enumerate(plan.steps):
        after = plan.steps[(i + 1) % len(plan)]
        if i in blended or (i + 1) % len(plan) in blended:
            assert steps[i] == pytest.approx(known.max())
        else:
            assert after.a == mix.a + 1
            assert steps[i] == pytest.approx(known[mix.a])
    # backwards a step is the same one, and a fade dims it
    back = plan_loop("there-and-back", 60, Fraction(25))
    found = seam._steps(back, strip)
    pairs = zip(back.steps, [*back.steps[1:], back.steps[0]], strict=True)
    plain = [i for i, (m, after) in enumerate(pairs) if m.b is after.b is None and after.a == m.a - 1]
    assert len(plain) > 30
    for i in plain:
        assert found[i] == pytest.approx(known[back.steps[i].a - 1])


def test_a_mixed_frame_is_as_bright_as_its_shares(sway: Maker) -> None:
    light = np.linspace(0.1, 0.9, 60).astype(np.float32)
    known = SimpleNamespace(brightness=light)
    for how in ("ends", "fades", "there-and-back"):
        plan = plan_loop(how, 60, Fraction(25), crossfade_s=0.4)
        wanted = [
            mix.gain
            * (light[mix.a] if mix.b is None else (1 - mix.weight) * light[mix.a] + mix.weight * light[mix.b])
            for mix in plan.steps
        ]
        assert seam._brightness(plan, known) == pytest.approx(wanted, rel=1e-5)
