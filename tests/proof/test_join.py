"""The proofs `join` and `dip`, against sums done here and against scikit-image."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from skimage.filters import sobel_h, sobel_v
from skimage.metrics import mean_squared_error

from ghostprep.proof.join import DipMeter, JoinMeter
from ghostprep.transfer import STILL
from tests.measured import dip, join


def clip(count: int, seed: int, size: tuple[int, int] = (6, 8)) -> list[np.ndarray]:
    rng = np.random.default_rng(seed)
    return [rng.integers(0, 256, (*size, 3), np.uint8) for _ in range(count)]


def grey(frame: np.ndarray) -> np.ndarray:
    # sRGB to luminance as WCAG 2.2 prints it, written out again instead of using ours
    v = frame.astype(np.float64) / 255
    light = np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)
    return light @ np.array([0.2126, 0.7152, 0.0722])


@settings(deadline=None, max_examples=40)
@given(count=st.integers(4, 20), seed=st.integers(0, 999), data=st.data())
def test_join_is_what_the_definition_says(count: int, seed: int, data: st.DataObject) -> None:
    frames = clip(count, seed)
    inside = data.draw(st.sets(st.integers(0, count - 1), max_size=count - 2))
    step = [np.sqrt(mean_squared_error(grey(frames[i]), grey(frames[(i + 1) % count]))) for i in range(count)]
    counted = inside | {count - 1}
    elsewhere = [step[i] for i in range(count) if i not in counted]
    proof = join(iter(frames), inside)
    if elsewhere:
        assert proof.value == pytest.approx(
            max(step[i] for i in counted) / np.quantile(elsewhere, 0.95), abs=0.01
        )
    # judged in hundredths, as it is told
    assert proof.passed == (round(float(proof.value), 2) <= 1.0)


@settings(deadline=None, max_examples=40)
@given(count=st.integers(6, 20), seed=st.integers(0, 999), k=st.integers(0, 40), data=st.data())
def test_rotating_a_loop_changes_no_score(count: int, seed: int, k: int, data: st.DataObject) -> None:
    frames = clip(count, seed)
    steps = data.draw(st.sets(st.integers(0, count - 1), max_size=count - 3))
    k %= count
    # the file's end is always counted, so both ends are named in both
    steps |= {count - 1, (k - 1) % count}
    turned = frames[k:] + frames[:k]
    assert join(turned, {(i - k) % count for i in steps}) == join(frames, steps)
    assert dip(turned, {(i - k) % count for i in steps}) == dip(frames, steps)


def test_a_jump_fails_and_an_even_loop_passes() -> None:
    there = [np.full((4, 4, 3), v, np.uint8) for v in [*range(100, 140, 2), *range(140, 100, -2)]]
    assert join(there, []).passed
    jump = there[:20]
    assert not join(jump, []).passed
    assert float(join(jump, []).value) > 10


def test_a_still_loop_is_joined_and_a_flash_in_it_is_not() -> None:
    still = [np.full((4, 4, 3), 90, np.uint8)] * 9
    assert join(still, []) == join(still[:1], [])
    assert join(still, []).value == 0
    flash = [*still[:8], np.full((4, 4, 3), 120, np.uint8)]
    assert not join(flash, [7]).passed
    assert STILL < 0.001


def test_black_at_the_seam_is_seen() -> None:
    frames = [*clip(1, 0) * 8, np.zeros((6, 8, 3), np.uint8)]
    assert not join(frames, [7]).passed


def test_dip_is_the_mean_gradient_of_another_library() -> None:
    rng = np.random.default_rng(3)
    sharp = [rng.integers(0, 256, (40, 50, 3), np.uint8) for _ in range(7)]
    soft = ((sharp[0].astype(int) + sharp[1] + sharp[2]) // 3).astype(np.uint8)
    frames = [*sharp, soft]

    def gradient(frame: np.ndarray) -> float:
        light = grey(frame)
        return float(np.mean(np.hypot(sobel_h(light), sobel_v(light))))

    value = float(dip(frames, [7]).value)
    # scikit-image's operator averages over three rows, ours does not; both must tell
    assert value < 0.8
    assert gradient(soft) / np.median([gradient(f) for f in sharp]) < 0.8
    assert not dip(frames, [7]).passed
    assert dip(frames, []).value == 1


def test_dip_of_a_blend_is_the_ratio_of_plain_differences() -> None:
    frames = [np.zeros((5, 9, 3), np.uint8) for _ in range(5)]
    for frame in frames:
        frame[:, 4:] = 255  # an edge of height 1: two pixels see a difference of 1
    frames[2][:, 4:] = 188  # half the light (IEC 61966-2-1), so half the gradient
    assert float(dip(frames, [2]).value) == pytest.approx(0.5, abs=0.01)


def test_an_edge_counts_alike_in_every_row() -> None:
    """Also where the bands meet whose gradient is worked out one by one."""
    frames = [np.zeros((150, 9, 3), np.uint8) for _ in range(149)]
    for row, frame in enumerate(frames, 1):
        frame[row:] = 255
    for number in (1, 61, 62, 63, 64, 126, 127, 147):
        assert float(dip(frames, [number]).value) == pytest.approx(1)


def test_meters_take_frames_one_by_one() -> None:
    frames = clip(9, 1)
    meters = JoinMeter([2]), DipMeter([2])
    for frame in frames:
        for meter in meters:
            meter.add(frame)
    assert meters[0].proof() == join(frames, [2])
    assert meters[1].proof() == dip(frames, [2])


def test_steps_that_do_not_exist_are_refused() -> None:
    with pytest.raises(ValueError, match="not all among the loop's 3"):
        join(clip(3, 0), [3])
    with pytest.raises(ValueError, match="not all among the loop's 3"):
        dip(clip(3, 0), [-1])
    with pytest.raises(ValueError, match="no frame"):
        join([], [])
    with pytest.raises(ValueError, match="beside one of shape"):
        join([*clip(1, 0), *clip(1, 0, (4, 4))], [])
