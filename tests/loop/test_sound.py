"""The sound is cut where the picture is, to the sample."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.errors import InputError
from ghostprep.loop import LoopCandidate, loop_sound, plan_loop

RATES = [Fraction(24000, 1001), Fraction(25), Fraction(30000, 1001), Fraction(60)]


@settings(deadline=None, max_examples=60)
@given(
    first=st.integers(0, 50),
    length=st.integers(10, 100),
    blend=st.integers(0, 4),
    rate=st.sampled_from(RATES),
    sound_rate=st.sampled_from([44100, 48000, 22050]),
    turned=st.integers(0, 200),
    heard=st.floats(0, 1.2),
)
def test_length_is_exact_whatever_the_rates(
    first: int, length: int, blend: int, rate: Fraction, sound_rate: int, turned: int, heard: float
) -> None:
    one = LoopCandidate(
        first + blend, first + blend + length - 1, blend, "crossfade" if blend else "cut", 1.0
    )
    count = first + blend + length
    plan = plan_loop("search", count, rate, candidate=one).rotated(turned)
    samples = np.zeros((int(heard * count * sound_rate / rate), 2), np.float32)
    assert len(loop_sound(samples, sound_rate, plan, rate)) == round(length * sound_rate / rate)


def test_outside_the_blend_the_samples_are_the_clips_own() -> None:
    rng = np.random.default_rng(0)
    samples = rng.standard_normal((48000 * 4, 1)).astype(np.float32)
    plan = plan_loop("search", 100, Fraction(25), candidate=LoopCandidate(10, 59, 5, "crossfade", 1.0))
    sound = loop_sound(samples, 48000, plan, Fraction(25))
    start, blend = 10 * 1920, 5 * 1920
    assert np.array_equal(sound[:-blend], samples[start : start + 50 * 1920 - blend])
    turned = loop_sound(samples, 48000, plan.rotated(7), Fraction(25))
    assert np.array_equal(turned, np.roll(sound, -7 * 1920, axis=0))


def test_equal_power_keeps_the_loudness_of_noise_and_does_not_click() -> None:
    rng = np.random.default_rng(1)
    noise = rng.standard_normal((48000 * 20, 1)).astype(np.float32)
    plan = plan_loop("search", 500, Fraction(25), candidate=LoopCandidate(100, 399, 75, "crossfade", 1.0))
    sound = loop_sound(noise, 48000, plan, Fraction(25))
    blend = sound[-75 * 1920 :]
    # power of independent sounds adds: cos^2 + sin^2 = 1 (Parseval); 3 s of noise leave 0.5 % of chance
    assert np.mean(np.square(blend)) == pytest.approx(1.0, abs=0.02)
    hum = np.sin(2 * np.pi * 50.3 * np.arange(48000 * 20) / 48000)[:, None].astype(np.float32)
    for plan_ in (plan, plan_loop("none", 500, Fraction(25)), plan_loop("search", 500, Fraction(25),
                  candidate=LoopCandidate(0, 399, 0, "cut", 1.0))):  # fmt: skip
        once = loop_sound(hum, 48000, plan_, Fraction(25))
        steps = np.abs(np.diff(once, axis=0, append=once[:1]))
        assert steps.max() < 1.5 * 2 * np.pi * 50.3 / 48000


def test_fades_are_silent_where_the_picture_is_black() -> None:
    plan = plan_loop("fades", 100, Fraction(25), crossfade_s=1)
    sound = loop_sound(np.ones((192000, 1), np.float32), 48000, plan, Fraction(25))
    assert sound[0, 0] == 0
    assert abs(float(sound[-1, 0])) < 1e-3
    assert np.all(sound[48000:-48000] == 1)


def test_a_sound_does_not_run_backwards() -> None:
    plan = plan_loop("there-and-back", 100, Fraction(25))
    with pytest.raises(InputError, match="cannot run backwards"):
        loop_sound(np.zeros((10, 1), np.float32), 48000, plan, Fraction(25))


@pytest.mark.parametrize(
    ("first", "blend", "heard", "where"),
    [
        (5, 3, 60, "before"),
        (3, 3, 30, "before"),
        (0, 0, 60, "after"),
        (0, 0, 40.5, "after"),
        (0, 0, 40.45, "nowhere"),
        (0, 0, 30, "nowhere"),
    ],
)
def test_what_a_join_is_blended_with(first: int, blend: int, heard: float, where: str) -> None:
    """At 25/s and 1,000 samples a second, 40 a frame: a loop of 40 frames, a blend of 3, or 20 ms at a cut.

    Its end goes over into what comes before its start; where that is too little, its start comes out of what
    follows on its end; where neither is there, it goes down to silence and comes up.
    """
    samples = np.random.default_rng(3).standard_normal((round(40 * heard), 1)).astype(np.float32)
    one = LoopCandidate(first, first + 39, blend, "crossfade" if blend else "cut", 1.0)
    plan = plan_loop("search", 90, Fraction(25), candidate=one)
    sound = loop_sound(samples, 1000, plan, Fraction(25))
    start, end, count = 40 * plan.first, 40 * plan.first + 1600, 40 * blend or 20
    begun = np.roll(sound, 40 * plan.begun, axis=0)
    angle = np.pi / 2 * (np.arange(count) + 0.5)[:, None] / count
    own = np.zeros((1600, 1))
    known = samples[start:end]
    own[: len(known)] = known
    wanted = own.copy()
    if start >= count:
        wanted[-count:] = own[-count:] * np.cos(angle) + samples[start - count : start] * np.sin(angle)
    elif end + count <= len(samples):
        wanted[:count] = samples[end : end + count] * np.cos(angle) + own[:count] * np.sin(angle)
    else:
        wanted[:count] *= np.sin(angle)
        wanted[-count:] *= np.cos(angle)
    assert begun == pytest.approx(wanted, abs=1e-5)
    told = "before" if start >= count else "after" if end + count <= len(samples) else "nowhere"
    assert told == where
