"""Figures of a clip and its loops that can be worked out by hand."""

from __future__ import annotations

from fractions import Fraction

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.loop import LoopCandidate, Schedule, plan_appearances, plan_loop
from ghostprep.loop.candidate import GOOD, UNSEEN
from ghostprep.loop.measure import DOUBLE_LIMIT, JERK_LIMIT, RIPPLE_LIMIT, SOFTENING_LIMIT, loop_finding
from ghostprep.loop.plan import Blend, LoopPlan, weights
from ghostprep.loop.points import Shot, points_of
from ghostprep.loop.search import lag_range
from ghostprep.loop.strip import rms, sharpness
from ghostprep.loop.thumbnail import WORKING, shrink, thumbnail
from ghostprep.transfer import codes_to_light
from tests.loop.test_search import strip_of


def test_steps_and_jerks_of_an_even_grey_are_differences_of_its_light() -> None:
    codes = [0, 40, 90, 120, 60, 60, 200]
    strip = strip_of([np.full((18, 32, 3), code, np.uint8) for code in codes])
    light = codes_to_light(np.array(codes, np.uint8)[:, None, None].repeat(3, 2))[:, 0, 0]
    assert strip.brightness == pytest.approx(light, abs=1e-6)
    assert strip.steps == pytest.approx(np.abs(np.diff(light)), abs=1e-6)
    assert strip.jerks == pytest.approx(np.abs(np.diff(light, 2)), abs=1e-6)
    assert strip.sharpness == pytest.approx(np.zeros(7), abs=1e-6)


@pytest.mark.parametrize("turned", [False, True])
def test_sharpness_is_the_mean_slope(turned: bool) -> None:
    """A wedge that rises by a hundredth a pixel has that slope everywhere; at the two edges it is halved.

    Central differences see half of the slope at a mirrored edge, so its mean over 50 columns is 49/50 of it
    at least.
    """
    wedge = np.tile(np.arange(50, dtype=np.float32) / 100, (20, 1))
    found = sharpness(wedge.T.copy() if turned else wedge)
    assert 0.0096 <= found <= 0.01
    # along a diagonal both slopes add as vectors
    both = wedge[:, :20] + wedge[:, :20].T
    assert sharpness(both) == pytest.approx(0.01 * np.sqrt(2), rel=0.11)


def test_a_root_mean_square() -> None:
    assert rms(np.float32([[3, 4], [0, 0]])) == pytest.approx(2.5)
    assert rms(np.full((5, 7, 3), -2, np.float32)) == pytest.approx(2)


@pytest.mark.parametrize(
    ("size", "shrunk"), [((160, 90), (160, 90)), ((161, 90), None), ((320, 240), (160, 120))]
)
def test_frames_are_compared_at_160_pixels(size: tuple[int, int], shrunk: tuple[int, int] | None) -> None:
    frame = np.zeros((size[1], size[0], 3), np.uint8)
    made = shrink(frame)
    assert max(made.shape[:2]) == WORKING == 160
    assert shrunk is None or made.shape == (shrunk[1], shrunk[0], 3)
    tall = shrink(np.zeros((size[0], size[1], 3), np.uint8))
    assert tall.shape[:2] == made.shape[1::-1]


def test_a_thumbnail_is_luminance_then_red_then_blue_beside_it() -> None:
    """Of BT.709 light, red counts .2126 and blue .0722."""
    light = np.zeros((36, 64, 3), np.float32)
    light[:18, :, 0], light[18:, :, 2] = 1.0, 0.5
    small = thumbnail(light)
    assert small.shape == (18 * 32 + 2 * 8 * 4,)
    assert small[: 9 * 32] == pytest.approx(0.2126, abs=1e-4)
    assert small[9 * 32 : 18 * 32] == pytest.approx(0.0722 / 2, abs=1e-4)
    red, blue = small[576:608].reshape(4, 8), small[608:].reshape(4, 8)
    # 18 rows into 4: the middle ones are whole
    assert red[[0, 3]] == pytest.approx(np.repeat([[1 - 0.2126], [-0.0361]], 8, axis=1), abs=1e-3)
    assert blue[[0, 3]] == pytest.approx(np.repeat([[-0.2126], [0.5 - 0.0361]], 8, axis=1), abs=1e-3)


@settings(deadline=None, max_examples=4)
@given(seed=st.integers(0, 99), count=st.integers(3, 30))
def test_points_are_as_far_apart_as_their_thumbnails(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    frames = [cv2.resize(rng.integers(0, 255, (3, 4, 3), np.uint8), (64, 36)) for _ in range(count)]
    strip = strip_of(frames)
    points, light = points_of(strip)
    rows = strip.vectors(0, count)
    assert light == pytest.approx(np.sqrt(np.mean(np.square(rows), axis=1)), rel=1e-3)
    # fewer frames than directions: nothing is lost
    a, b = rng.integers(0, count, (2, 8))
    assert np.linalg.norm(points[a] - points[b], axis=1) == pytest.approx(
        np.sqrt(np.mean(np.square(rows[a] - rows[b]), axis=1)), rel=2e-3, abs=1e-4
    )


def test_an_unbroken_part_goes_on_evenly_beyond_its_ends() -> None:
    shot = Shot(7, np.float32([[0, 0], [1, 2], [4, 6]]))
    assert shot.padded.tolist() == [[-1, -2], [0, 0], [1, 2], [4, 6], [7, 10]]
    assert shot.steps == pytest.approx([np.sqrt(5), 5])
    assert shot.jerks == pytest.approx([np.hypot(2, 2)])


@pytest.mark.parametrize(
    ("count", "length_s", "lags"),
    [
        (1000, None, (50, 1000)),  # 2 s to 120 s, no longer than the clip
        (5000, None, (50, 3000)),
        (199, None, (49, 199)),  # a short clip: a quarter of it will do
        (7, None, (2, 7)),
        (1000, (3.0, 7.0), (75, 175)),
        (1000, (0.01, 0.05), (2, 1)),  # two frames are the shortest loop
        (100, (3.0, 7.0), (75, 100)),
        (1000, (2.02, 2.02), (50, 50)),
    ],
)
def test_loops_of_a_length(count: int, length_s: tuple[float, float] | None, lags: tuple[int, int]) -> None:
    assert lag_range(count, Fraction(25), length_s) == lags


@pytest.mark.parametrize("length_s", [(0.0, 1.0), (2.0, 1.9), (-1.0, 2.0)])
def test_a_length_that_is_none(length_s: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="both must be above 0 and in order"):
        lag_range(100, Fraction(25), length_s)


def one(score: float, **measures: float) -> LoopCandidate:
    return LoopCandidate(10, 59, 10, "crossfade", score, **measures)


@pytest.mark.parametrize(
    ("score", "looks"),
    [
        (0.0, "smooth"),
        (1.004, "smooth"),
        (1.006, "a small jump"),
        (1.06, "a small jump"),
        (1.5, "a small jump"),
        (1.51, "jumps"),
    ],
)
def test_how_a_join_looks(score: float, looks: str) -> None:
    assert one(score).looks == looks
    assert (loop_finding(one(score)) is None) == (looks == "smooth")
    assert UNSEEN < GOOD


@pytest.mark.parametrize(
    ("measures", "said"),
    [
        ({"step": 1.6, "jerk": 1.5 * JERK_LIMIT}, "jumps 1.60 times as far"),
        ({"step": 1.6, "jerk": 1.7 * JERK_LIMIT}, "changes 3.4 times as suddenly"),
        ({"step": 1.6, "double": 1.7 * DOUBLE_LIMIT}, "two figures show at once"),
        ({"step": 1.6, "dip": 1 - 1.7 * SOFTENING_LIMIT}, "gets 34 % softer"),
        ({"step": 1.6, "ripple": 1.7 * RIPPLE_LIMIT}, "brightness wavers"),
    ],
)
def test_the_worst_of_a_join_is_told(measures: dict[str, float], said: str) -> None:
    finding = loop_finding(one(2.0, **measures))
    assert finding is not None
    assert said in finding.text
    assert finding.level == "caution"


@pytest.mark.parametrize(
    ("first", "last", "blend", "method", "says"),
    [
        (-1, 5, 0, "cut", "starts before 0"), (5, 4, 0, "cut", "is empty"), (0, 5, 6, "flow", "does not fit"),
        (0, 5, -1, "flow", "does not fit"), (0, 5, 2, "cut", "cannot have 2 frames"),
        (0, 5, 0, "flow", "cannot have 0 frames"), (0, 5, 2, "wipe", "method is 'wipe'"),
    ],
)  # fmt: skip
def test_a_candidate_that_is_none(first: int, last: int, blend: int, method: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        LoopCandidate(first, last, blend, method, 1.0)  # type: ignore[arg-type]
    assert LoopCandidate(0, 5, 5, "flow", 1.0).frames == 6
    assert LoopCandidate(0, 0, 0, "cut", 1.0).frames == 1


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ({"a": -1}, "before 0"), ({"a": 0, "b": -1}, "before 0"), ({"a": 0, "gain": 1.1}, "must lie in 0..1"),
        ({"a": 0, "b": 1, "weight": -0.1}, "must lie in 0..1"), ({"a": 0, "weight": 0.5}, "does not have"),
    ],
)  # fmt: skip
def test_a_mix_that_is_none(words: dict[str, float], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        Blend(**words)  # type: ignore[arg-type]
    assert Blend(0, 0, 1.0, 0.0).sources == (0, 0)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ({"steps": ()}, "without frames"), ({"method": "wipe"}, "method is 'wipe'"),
        ({"join": "glue"}, "join is 'glue'"),
        ({"join_steps": (2,)}, "outside the loop's 2"), ({"blend_frames": (-1,)}, "outside the loop's 2"),
    ],
)  # fmt: skip
def test_a_plan_that_is_none(words: dict[str, object], says: str) -> None:
    right: dict[str, object] = {
        "steps": (Blend(3), Blend(5)),
        "first": 3,
        "last": 5,
        "blend": 0,
        "method": "cut",
        "join": "none",
    }
    with pytest.raises(ValueError, match=says):
        LoopPlan(**right | words)  # type: ignore[arg-type]
    made = LoopPlan(**right, join_steps=(1,), blend_frames=(0,))  # type: ignore[arg-type]
    assert made.span == (3, 6)
    assert made.drift == 0


def test_how_far_a_figure_drifts_at_most() -> None:
    steps = (Blend(0, shift=(0.01, -0.03)), Blend(0, shift=(-0.02, 0.01)))
    assert LoopPlan(steps, 0, 0, 0, "cut", "none").drift == 0.03


def test_a_moved_blend_sets_off_at_half_speed() -> None:
    # half of the even rise and half of the smoothstep 3 t^2 - 2 t^3, whose slope at both ends is 0
    for blend in (1, 4, 9):
        t = np.arange(1, blend + 1) / (blend + 1)
        assert weights(blend, "crossfade") == pytest.approx(t)
        assert weights(blend, "flow") == pytest.approx((t + 3 * t**2 - 2 * t**3) / 2)


def test_mixing_another_way_keeps_the_order_of_the_blend() -> None:
    plan = plan_loop("ends", 40, Fraction(25), crossfade_s=0.2).rotated(-2)
    moved = plan.mixed_by("flow")
    assert [plan.steps[i].a for i in plan.blend_frames] == [moved.steps[i].a for i in plan.blend_frames]
    rising = sorted(plan.blend_frames, key=lambda i: plan.steps[i].weight)
    assert [moved.steps[i].weight for i in rising] == pytest.approx(weights(len(rising), "flow"))
    assert moved.mixed_by("crossfade") == plan
    bare = plan_loop("none", 40, Fraction(25))
    assert bare.mixed_by("flow") is bare
    # there and back, the weights are places between two frames
    back = plan_loop("there-and-back", 40, Fraction(25))
    assert back.mixed_by("flow").steps == back.steps


def test_a_schedule_tells_frames_and_seconds() -> None:
    plan = plan_appearances([50, 75], Fraction(25), every_s=(6, 6), total_s=24, seed=1)
    assert plan.intervals == (150, 150)
    told = plan.as_dict()
    assert (told["frames"], told["seconds"], told["seed"]) == (600, 24.0, 1)
    for a, b in zip(told["appearances"], plan.appearances, strict=True):  # type: ignore[call-overload]
        assert (a["start_s"], a["stop_s"]) == (b.start / 25, b.stop / 25)
    assert list(Schedule((), 3, Fraction(25), 0)) == [None] * 3


def test_lengths_that_are_none() -> None:
    for lengths in ([], [0], [5, 0]):
        with pytest.raises(ValueError, match="needs a frame at least"):
            plan_appearances(lengths, Fraction(25), every_s=(1, 2), total_s=9)


@pytest.mark.parametrize(("every", "fits"), [(2.5, True), (2.46, False)])
def test_a_ghost_and_its_dark_fill_an_interval(every: float, fits: bool) -> None:
    """50 frames at 25/s are 2 s, with half a second (12 frames) of dark nearly 2.5 s; 2.4 s are 60 frames."""
    if fits:
        plan = plan_appearances([50], Fraction(25), every_s=(every, every), total_s=10)
        starts = [a.start for a in plan.appearances]
        following = [*starts[1:], starts[0] + plan.frames]
        assert {b - a.stop for a, b in zip(plan.appearances, following, strict=True)} <= {12, 13}
    else:
        with pytest.raises(ValueError, match=r"ask for at least 2\.5 s"):
            plan_appearances([50], Fraction(25), every_s=(1.0, every - 0.06), total_s=10)


def test_the_first_ghost_comes_after_half_of_the_last_dark() -> None:
    plan = plan_appearances([50], Fraction(25), every_s=(10, 10), total_s=30)
    # 250 - 50 frames of dark, a half of them before the first
    assert [a.start for a in plan.appearances] == [100, 350, 600]
    assert plan.frames - plan.appearances[-1].stop == 100
