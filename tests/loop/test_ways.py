"""The plans of the five ways to repeat, on frames whose content is their number."""

import itertools
from collections.abc import Callable
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.errors import InputError
from ghostprep.loop import LoopCandidate, LoopPlan, mixed, plan_loop
from ghostprep.loop.measure import Usual
from ghostprep.loop.method import _for_turns
from ghostprep.loop.ways import _there_and_back
from ghostprep.transfer import light_to_codes

RATES = [Fraction(24000, 1001), Fraction(25), Fraction(30000, 1001), Fraction(60)]


def numbered(i: int) -> np.ndarray:
    return np.full((2, 2, 3), i % 256, np.uint8)


def shown(plan: LoopPlan, fetch: Callable[[int], np.ndarray] = numbered) -> list[int]:
    return [int(f[0, 0, 0]) for f in (mixed(plan, mix, fetch) for mix in plan.steps)]


@settings(deadline=None, max_examples=60)
@given(count=st.integers(2, 200), rate=st.sampled_from(RATES), seconds=st.sampled_from([0.0, 0.1, 0.4, None]))
def test_there_and_back_of_n_frames_has_2n_minus_2(count: int, rate: Fraction, seconds: float | None) -> None:
    plan = plan_loop("there-and-back", count, rate, crossfade_s=seconds)
    assert len(plan) == 2 * count - 2
    assert plan.span[0] >= 0
    assert plan.span[1] <= count
    # the way back is the way there, mirrored, and neither turning frame is shown twice in a row
    assert plan.steps[1:] == plan.steps[:0:-1]
    assert all(a != b for a, b in itertools.pairwise(plan.steps))


def test_there_and_back_without_a_turn_counts_up_and_down() -> None:
    assert shown(plan_loop("there-and-back", 5, Fraction(25), crossfade_s=0)) == [0, 1, 2, 3, 4, 3, 2, 1]


def test_the_turn_slows_down_and_the_way_between_is_untouched() -> None:
    plan = plan_loop("there-and-back", 101, Fraction(25), crossfade_s=0.4)
    position = [mix.a + mix.weight for mix in plan.steps]
    speed = np.diff([*position, position[0]])
    assert np.abs(np.diff([*speed, speed[0]])).max() <= 0.1 + 1e-9  # without easing it would be 2
    assert all(mix.b is None for mix in plan.steps[10:91])


def test_ends_mixes_the_frames_before_the_loop_with_its_last_ones() -> None:
    plan = plan_loop("ends", 20, Fraction(10), crossfade_s=0.3)
    assert (plan.first, plan.last, plan.blend, len(plan)) == (3, 19, 3, 17)
    tail = [(m.a, m.b, round(m.weight, 3)) for m in plan.steps[-3:]]
    assert tail == [(17, 0, 0.25), (18, 1, 0.5), (19, 2, 0.75)]
    assert plan.steps[0].sources == (3,)
    assert plan.join_steps == (13, 14, 15, 16)


@pytest.mark.parametrize(("count", "blend"), [(2, 0), (4, 1), (7, 2), (20, 6), (90, 12)])
def test_ends_blends_over_half_a_second_but_no_more_than_a_third_of_the_clip(count: int, blend: int) -> None:
    plan = plan_loop("ends", count, Fraction(25))
    assert (plan.blend, len(plan)) == (blend, count - blend)


def test_fades_are_black_once_and_full_between() -> None:
    plan = plan_loop("fades", 100, Fraction(25), crossfade_s=0.4)
    gains = [m.gain for m in plan.steps]
    assert gains[0] == 0
    assert min(gains[1:]) > 0
    assert gains[1:] == gains[:0:-1]
    assert set(gains[10:91]) == {1.0}
    assert all(b > a for a, b in itertools.pairwise(gains[:11]))


def test_none_repeats_every_frame_once_bit_for_bit() -> None:
    assert shown(plan_loop("none", 7, Fraction(25))) == list(range(7))
    assert len(plan_loop("none", 700, Fraction(30000, 1001), length_s=(2, 4))) == 120


@settings(deadline=None, max_examples=60)
@given(
    first=st.integers(0, 30), length=st.integers(3, 60), blend=st.integers(0, 20), after=st.integers(0, 30)
)
def test_a_found_loop_has_its_length_and_flows_in_and_out(
    first: int, length: int, blend: int, after: int
) -> None:
    count = first + length + after
    one = LoopCandidate(first, first + length - 1, 0, "cut", 1.0)
    rate = Fraction(100)
    if blend >= length or (blend > first and blend > after):
        with pytest.raises(InputError, match="blend of"):
            plan_loop("search", count, rate, candidate=one, crossfade_s=blend / 100)
        return
    plan = plan_loop("search", count, rate, candidate=one, crossfade_s=blend / 100)
    assert len(plan) == length
    # followed cyclically, the heavier source of neighbours is one frame on, but for one jump
    lead = [m.a if m.weight < 0.5 else m.b for m in plan.steps]
    jumps = [(b - a) for a, b in zip(lead, lead[1:] + lead[:1], strict=True)]  # type: ignore[operator]
    assert sorted(jumps)[1:] == [1] * (length - 1)
    assert min(jumps) == 1 - length


@settings(deadline=None, max_examples=40)
@given(k=st.integers(-50, 50), how=st.sampled_from(["ends", "there-and-back", "fades", "none"]))
def test_rotating_changes_nothing_but_the_seam(k: int, how: str) -> None:
    plan = plan_loop(how, 40, Fraction(25), crossfade_s=0.2)  # type: ignore[arg-type]
    turned = plan.rotated(k)
    count = len(plan)
    assert turned.steps == tuple(plan.steps[(i + k) % count] for i in range(count))
    assert {(i + k) % count for i in turned.join_steps} == set(plan.join_steps)
    assert {(i + k) % count for i in turned.blend_frames} == set(plan.blend_frames)
    assert turned.rotated(-k) == plan


def test_a_blend_is_made_in_light_not_in_codes() -> None:
    one = LoopCandidate(1, 3, 1, "crossfade", 1.0)
    plan = plan_loop("search", 4, Fraction(25), candidate=one)
    last = mixed(plan, plan.steps[-1], lambda i: np.full((1, 1, 3), 255 if i == 3 else 0, np.uint8))
    # half of white's light is code 188 in sRGB (IEC 61966-2-1), half of its code would be 128
    assert int(last[0, 0, 0]) == 188


def test_a_clip_too_short_says_what_to_do() -> None:
    with pytest.raises(InputError, match=r"crossfade of 50 needs 101; ask for a shorter --crossfade"):
        plan_loop("ends", 60, Fraction(25), crossfade_s=2)
    with pytest.raises(InputError, match=r"a loop of 2\.40 s, 5 s are wanted"):
        plan_loop("none", 60, Fraction(25), length_s=(5, 9))


@pytest.mark.parametrize("how", ["none", "ends", "fades", "there-and-back"])
@pytest.mark.parametrize("rate", [Fraction(24000, 1001), Fraction(30000, 1001), Fraction(25)])
@pytest.mark.parametrize("seconds", [8.0, 5.0, 2.5])
def test_a_wanted_length_is_met_to_the_nearest_frame(how: str, rate: Fraction, seconds: float) -> None:
    plan = plan_loop(how, 600, rate, length_s=(seconds, seconds))
    off = abs(len(plan) - float(seconds * rate))
    assert off <= (1 if how == "there-and-back" else 0.5)


@pytest.mark.parametrize("how", ["none", "ends", "fades", "there-and-back"])
def test_a_clip_a_frame_too_short_is_refused(how: str) -> None:
    with pytest.raises(InputError, match="is too short: it gives a loop of"):
        plan_loop(how, 90, Fraction(30000, 1001), length_s=(8, 8))


@pytest.mark.parametrize(("median", "method"), [(0.01, "flow"), (0.5, "crossfade")])
def test_turns_are_moved_unless_that_softens_more_than_it_undoubles(median: float, method: str) -> None:
    """Two discs far apart: moved, they are a little less double and a tenth softer than faded.

    Double counts in steps of the loop's own motion: the slower that is, the more.
    """

    def disc(number: int) -> np.ndarray:
        rows, columns = np.mgrid[:96, :128].astype(np.float64)
        far = np.hypot(columns - (30, 90)[number % 2], rows - 45)
        pattern = 0.5 + 0.2 * np.sin((columns - (30, 90)[number % 2]) / 3) + 0.2 * np.cos((rows - 45) / 4)
        light = (pattern / (1 + np.exp((far - 22) / 1.5)))[..., None] * np.array([1, 0.8, 0.6])
        return light_to_codes(light.astype(np.float32))

    plan = plan_loop("there-and-back", 30, Fraction(25), crossfade_s=0.3)
    assert any(mix.b is not None for mix in plan.steps)
    chosen = _for_turns(plan, Usual(median, median, median, 0.0), disc)
    assert chosen == plan.mixed_by(method)


@pytest.mark.parametrize("used", [2, 3, 20, 61])
@pytest.mark.parametrize("seconds", [None, 0.0, 0.4, 5.0])
def test_there_and_back_is_as_slow_at_both_ends(used: int, seconds: float | None) -> None:
    """Its way back is its way there: what is judged as a join lies around both turns alike."""
    plan = _there_and_back(used, Fraction(25), seconds)
    total, turned = len(plan), 2 * (used - 1) - 1
    assert total == 2 * (used - 1)
    assert {(turned - step) % total for step in plan.join_steps} == set(plan.join_steps)
    assert {(step + used - 1) % total for step in plan.join_steps} == set(plan.join_steps)
    assert total - 1 in plan.join_steps  # from the last frame to the first


@given(first=st.integers(0, 9), count=st.integers(8, 60), half=st.integers(0, 3))
def test_a_slowed_cut_takes_one_step_more_over_its_steps_and_no_other(
    first: int, count: int, half: int
) -> None:
    """Places on the turn rise by a whole step, but by over / (over + 1) of one around the cut."""
    over = 2 * half + 1
    candidate = LoopCandidate(first, first + count - 1, 0, "cut", 0.9, slow=over)
    plan = plan_loop("search", first + count + 5, Fraction(25), candidate=candidate)
    assert len(plan) == count + 1
    places = [mix.a - first + Fraction(mix.weight).limit_denominator(100) for mix in plan.steps]
    steps = [(b - a) % count for a, b in itertools.pairwise([*places, places[0]])]
    around = Fraction(over, over + 1)
    assert sum(steps) == count
    assert [i for i, step in enumerate(steps) if step == around] == sorted(plan.join_steps)
    assert set(steps) <= {1, around}
    assert all((mix.b is None) == (i not in plan.blend_frames) for i, mix in enumerate(plan.steps))
    # it begins beside the cut, as its sound does
    assert min(places[0], count - places[0]) <= 1
