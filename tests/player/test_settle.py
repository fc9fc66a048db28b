"""Frames made from a draft: black is black again, the figure is what the draft made of it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.errors import JobError
from ghostprep.player import load_profile
from ghostprep.player.guard import Guard, lit, to_planes
from ghostprep.player.settle import settled

COLOUR = load_profile("h264-baseline-qvga").colour
GUARD = Guard(floor=8, colour_px=2)


def figure(x: int, code: int = 180) -> np.ndarray:
    frame = np.zeros((32, 48, 3), np.uint8)
    frame[9:24, x : x + 13] = (code, 120, 60)
    return frame


@settings(deadline=None, max_examples=40)
@given(seed=st.integers(0, 2**32 - 1), hold=st.sampled_from([0.0, 12.0, 300.0]))
def test_black_is_black_and_the_rest_is_the_drafts(seed: int, hold: float) -> None:
    rng = np.random.default_rng(seed)
    frames = rng.integers(0, 256, (3, 32, 48, 3), dtype=np.uint8) * rng.integers(
        0, 2, (3, 32, 48, 1), dtype=np.uint8
    )
    drafts = rng.integers(0, 256, (3, 48, 48), dtype=np.uint8)
    made = list(settled(frames, drafts, GUARD, black=16, hold=hold))
    for frame, draft, planes in zip(frames, drafts, made, strict=True):
        inside = lit(frame, GUARD) > 0
        assert (planes[:32][~inside] == 16).all()
        for number in range(2):
            chroma = planes[32:].reshape(2, 16, 24)[number]
            for row in range(16):
                for column in range(24):
                    if not inside[2 * row : 2 * row + 2, 2 * column : 2 * column + 2].all():
                        assert chroma[row, column] == 128
        if not hold:
            np.testing.assert_array_equal(planes[:32][inside], draft[:32][inside])


def test_a_rim_that_wavers_is_held_and_one_that_walks_is_followed() -> None:
    frames = [figure(12), figure(12, 184), figure(15)]
    drafts = [to_planes(frame, COLOUR, GUARD, centred=False) for frame in frames]
    one, two, three = settled(frames, drafts, GUARD, black=16, hold=16)
    rim = (slice(8, 24), slice(8, 16))  # a block in which figure and black meet
    np.testing.assert_array_equal(two[rim], one[rim])
    assert (drafts[1][rim] != drafts[0][rim]).any()
    assert (three[:32][lit(frames[2], GUARD) == 0] == 16).all()
    np.testing.assert_array_equal(three[9:24, 16:24], drafts[2][9:24, 16:24])


def test_what_is_not_at_the_rim_is_never_held() -> None:
    frames = [np.full((32, 48, 3), code, np.uint8) for code in (100, 104)]
    drafts = [to_planes(frame, COLOUR, GUARD, centred=False) for frame in frames]
    np.testing.assert_array_equal(list(settled(frames, drafts, GUARD, black=16, hold=16)), drafts)


def test_odd_numbers_of_blocks() -> None:
    frames = [np.full((18, 22, 3), 90, np.uint8)] * 2
    drafts = [to_planes(frame, COLOUR, GUARD, centred=False) for frame in frames]
    np.testing.assert_array_equal(list(settled(frames, drafts, GUARD, black=16, hold=16)), drafts)


@pytest.mark.parametrize("count", [1, 3])
def test_another_number_of_pictures_is_refused(count: int) -> None:
    frames = [figure(12)] * 2
    planes = to_planes(frames[0], COLOUR, GUARD, centred=False)
    with pytest.raises(JobError, match="another number of pictures than went into it"):
        list(settled(frames, [planes] * count, GUARD, black=16))
