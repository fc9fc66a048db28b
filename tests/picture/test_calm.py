"""The remedy for flashes: what failed WCAG 2.2 SC 2.3.1 passes it afterwards, on the decoded arrays."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.picture.calm import calm, calm_step, less_red
from ghostprep.proof.flash import FlashProof
from ghostprep.transfer import codes_to_light, rounded

RATE = Fraction(30)


def clip(colours: list[tuple[int, int, int]]) -> list[np.ndarray]:
    return [np.full((8, 8, 3), colour, np.uint8) for colour in colours]


def judged(frames: list[np.ndarray], rate: Fraction = RATE) -> FlashProof:
    proof = FlashProof((8, 8), rate)
    for frame in frames:
        proof.add(frame)
    return proof


def calmed(frames: list[np.ndarray], rate: Fraction = RATE, *, red: bool = False) -> list[np.ndarray]:
    return [rounded(figure) for figure in calm(lambda: iter(frames), rate, red=red)]


def strobe(a: tuple[int, int, int], b: tuple[int, int, int], each: int) -> list[np.ndarray]:
    return clip([b if (i // each) % 2 else a for i in range(60)])


@pytest.mark.parametrize("each", [1, 2, 3])
def test_a_strobe_passes_afterwards_and_is_still_seen(each: int) -> None:
    frames = strobe((0, 0, 0), (255, 255, 255), each)
    assert not judged(frames).proofs()[0].passed
    after = calmed(frames)
    assert judged(after).proofs()[0].passed
    assert len(after) == len(frames)
    assert max(frame.max() for frame in after) > 150


def test_lightning_across_the_end_passes_looped() -> None:
    colours = [(0, 0, 0)] * 90
    for first in (4, 76, 81, 86):
        colours[first : first + 2] = [(255, 255, 255)] * 2
    assert not judged(clip(colours)).proofs()[0].passed
    assert judged(calmed(clip(colours))).proofs()[0].passed


def test_a_red_flicker_passes_afterwards() -> None:
    frames = strobe((127, 127, 127), (255, 0, 0), 2)
    assert not judged(frames).proofs()[1].passed
    assert all(proof.passed for proof in judged(calmed(frames, red=True)).proofs())


def test_a_short_unequal_loop_meets_its_own_start() -> None:
    frames = clip([(255, 255, 255), *[(0, 0, 0)] * 4])
    after = calmed(frames)
    steps = [
        np.abs(codes_to_light(a) - codes_to_light(b)).max()
        for a, b in zip(after, [*after[1:], after[0]], strict=True)
    ]
    assert max(steps) <= calm_step(RATE) + 0.005  # the rest is rounding to codes
    assert judged(after).proofs()[0].passed


def test_what_moves_slowly_stays_as_it_is() -> None:
    ramp = [(c, c, c) for c in [*range(20, 60), *range(60, 20, -1)]]
    for before, after in zip(clip(ramp), calmed(clip(ramp)), strict=True):
        assert (before == after).all()


def test_black_beside_the_figure_stays_exactly_black() -> None:
    frames = strobe((0, 0, 0), (255, 255, 255), 2)
    for frame in frames:
        frame[:, :4] = 0
    assert all((frame[:, :4] == 0).all() for frame in calmed(frames))


def test_less_red_keeps_luminance_and_other_colours() -> None:
    light = codes_to_light(
        np.array([(255, 0, 0), (255, 90, 80), (255, 128, 0), (40, 90, 200), (0, 0, 0)], np.uint8)
    )
    mixed = less_red(light)
    weights = np.array([0.2126, 0.7152, 0.0722])
    assert mixed @ weights == pytest.approx(light @ weights, abs=1e-6)
    assert mixed[0, 0] / mixed[0].sum() == pytest.approx(0.76, abs=1e-5)
    assert (mixed[3:] == light[3:]).all()


@settings(deadline=None, max_examples=40)
@given(
    st.lists(st.tuples(*[st.sampled_from([0, 30, 90, 140, 200, 255])] * 3), min_size=3, max_size=40),
    st.sampled_from([Fraction(12), Fraction(24000, 1001), Fraction(30), Fraction(60)]),
)
def test_any_clip_passes_afterwards(colours: list[tuple[int, int, int]], rate: Fraction) -> None:
    after = calmed(clip(colours), rate, red=True)
    assert all(proof.passed for proof in judged(after, rate).proofs())


def test_a_rate_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="rate is 0"):
        calm_step(Fraction(0))
