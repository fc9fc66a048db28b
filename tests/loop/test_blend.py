"""The moved blend, on figures whose motion is known."""

import itertools

import numpy as np
import pytest
from scipy.ndimage import shift
from skimage.registration import phase_cross_correlation

from ghostprep.loop import Blend, LoopPlan, blend, mixed
from ghostprep.loop.blend import Pair, flow_blend, motion, move
from ghostprep.loop.plan import weights
from ghostprep.transfer import codes_to_light, light_to_codes, luminance


def blob(x: float, y: float, size: tuple[int, int] = (96, 128)) -> np.ndarray:
    """Return a soft patterned disc at a place that need not be whole pixels."""
    rows, columns = np.mgrid[: size[0], : size[1]].astype(np.float64)
    far = np.hypot(columns - x, rows - y)
    pattern = 0.5 + 0.2 * np.sin((columns - x) / 3) + 0.2 * np.cos((rows - y) / 4)
    light = (pattern / (1 + np.exp((far - 22) / 1.5)))[..., None] * np.array([1, 0.8, 0.6])
    return light_to_codes(light.astype(np.float32))


def test_motion_is_what_was_moved() -> None:
    field = motion(blob(50, 45), blob(56, 42))
    inside = luminance(codes_to_light(blob(50, 45))) > 0.2
    assert np.abs(np.median(field[inside], axis=0) - [6, -3]).max() < 0.2


@pytest.mark.parametrize("weight", [0.1, 0.5, 0.8])
def test_half_way_the_figure_is_half_way_and_not_twice(weight: float) -> None:
    a, b = blob(50, 45), blob(58, 41)
    truth = luminance(codes_to_light(blob(50 + 8 * weight, 45 - 4 * weight)))
    moved = luminance(flow_blend(a, b, weight))
    faded = (1 - weight) * luminance(codes_to_light(a)) + weight * luminance(codes_to_light(b))
    assert np.sqrt(np.mean((moved - truth) ** 2)) < 0.25 * np.sqrt(np.mean((faded - truth) ** 2))
    # another library finds the moved figure where it should be
    offset, _, _ = phase_cross_correlation(truth, moved, upsample_factor=20)
    assert np.abs(offset).max() <= 0.5
    assert moved.mean() == pytest.approx(truth.mean(), rel=0.01)


def test_an_even_field_moves_like_scipys_shift() -> None:
    light = luminance(codes_to_light(blob(60, 45)))
    field = np.broadcast_to(np.array([5.0, -3.0], np.float32), (*light.shape, 2)).copy()
    ours = move(light, field, 0.5)
    assert np.abs(ours - shift(light, (-1.5, 2.5), order=3)).max() < 0.02


def test_at_the_ends_of_the_way_each_frame_is_itself() -> None:
    a, b = blob(50, 45), blob(55, 45)
    assert np.abs(light_to_codes(flow_blend(a, b, 0.0)).astype(int) - a).max() <= 1
    assert np.abs(light_to_codes(flow_blend(a, b, 1.0)).astype(int) - b).max() <= 1


def test_a_figure_that_the_edge_cuts_off_keeps_its_light_there() -> None:
    a, b = blob(50, 92), blob(54, 88)
    edge = luminance(flow_blend(a, b, 0.5))[-1]
    truth = luminance(codes_to_light(blob(52, 90)))[-1]
    assert np.abs(edge - truth).max() < 0.15
    assert edge.sum() == pytest.approx(truth.sum(), rel=0.12)


def test_only_what_is_needed_is_computed(monkeypatch: pytest.MonkeyPatch) -> None:
    pair = Pair(blob(50, 45), blob(55, 45))
    light = codes_to_light(pair.a)
    pair.meet(light, light, 0.1)
    assert "ahead" in vars(pair)
    assert "back" not in vars(pair)


def test_a_blend_of_black_is_black() -> None:
    black = np.zeros((40, 50, 3), np.uint8)
    for method in ("crossfade", "flow"):
        plan = LoopPlan((Blend(0, 1, 0.5),), 0, 0, 1, method, "search")  # type: ignore[arg-type]
        assert not mixed(plan, plan.steps[0], lambda _: black).any()


def test_weights_rise_and_a_moved_blend_sets_off_gently() -> None:
    even, gentle = weights(9, "crossfade"), weights(9, "flow")
    assert even == pytest.approx(np.arange(1, 10) / 10)
    assert gentle[0] < even[0]
    assert all(a < b for a, b in itertools.pairwise(gentle))
    assert gentle[4] == pytest.approx(0.5)
    assert gentle[0] == pytest.approx(1 - gentle[-1])
    assert weights(0, "flow") == ()


@pytest.mark.parametrize(("size", "small"), [((1920, 1080), True), ((160, 90), False)])
def test_motion_is_looked_for_in_small_and_told_in_the_frames_own_pixels(
    monkeypatch: pytest.MonkeyPatch, size: tuple[int, int], small: bool
) -> None:
    seen = []

    class Engine:
        def calc(self, a: np.ndarray, b: np.ndarray, _: None) -> np.ndarray:
            seen.append(a.shape[::-1])
            return np.full((*a.shape, 2), 1.5, np.float32)

    monkeypatch.setattr(blend, "_engine", Engine)
    frame = np.zeros((size[1], size[0], 3), np.uint8)
    field = blend.motion(frame, frame)
    ((wide, high),) = seen
    assert max(wide, high) == (blend._FLOW_SIDE if small else 160)
    assert wide / high == pytest.approx(16 / 9, rel=0.01)
    assert field.shape == (size[1], size[0], 2)
    # a pixel and a half of the small picture is that much more of the frame
    assert field[..., 0] == pytest.approx(1.5 * size[0] / wide, rel=1e-5)
    assert field[..., 1] == pytest.approx(1.5 * size[1] / high, rel=1e-5)
