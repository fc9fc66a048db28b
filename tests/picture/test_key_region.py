"""The part of a frame that is keyed holds all that was seen, on a grid that the small pictures share."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.picture.key.region import Region, filled_up, shrink_for


@given(st.integers(1, 30), st.integers(1, 30), st.sampled_from([1, 2]), st.integers(0, 99))
@settings(deadline=None, max_examples=60)
def test_all_that_is_seen_lies_within(h: int, w: int, step: int, seed: int) -> None:
    seen = np.random.default_rng(seed).random((h * step, w * step)) > 0.97
    place = Region.around(seen, step)
    if place is None:
        assert not seen.any()
        return
    outside = seen.copy()
    outside[place.cut] = False
    assert not outside.any()
    assert all(x % step == 0 for x in place)
    # four pixels around it as far as there are so many, and less than a step more
    for near, far, (first, last), whole in (
        (place.top, place.bottom, np.flatnonzero(seen.any(1))[[0, -1]], h * step),
        (place.left, place.right, np.flatnonzero(seen.any(0))[[0, -1]], w * step),
    ):
        assert 0 <= near <= max(first - 4, 0) < near + step
        assert far - step < min(last + 5, whole) <= far <= whole
    assert seen[place.cut].shape == place.size[::-1]
    assert np.repeat(np.repeat(seen, 4, 0), 4, 1)[place.scaled(4).cut].sum() == 16 * seen.sum()


@given(st.integers(1, 13), st.integers(1, 13))
@settings(deadline=None, max_examples=40)
def test_a_picture_is_filled_up_at_its_far_sides(h: int, w: int) -> None:
    picture = np.random.default_rng(1).integers(0, 256, (h, w, 3), dtype=np.uint8)
    filled = filled_up(picture)
    assert filled.shape[:2] == (4 * -(-h // 4), 4 * -(-w // 4))
    assert np.array_equal(filled[:h, :w], picture)
    assert (filled[h:, :w] == picture[-1]).all()


@pytest.mark.parametrize(
    ("size", "by"),
    [((199, 120), 1), ((120, 200), 2), ((479, 270), 2), ((480, 270), 4), ((270, 480), 4), ((7680, 4320), 4)],
)
def test_the_figures_inside_is_judged_on_a_picture_of_about_a_hundred_pixels_and_more(
    size: tuple[int, int], by: int
) -> None:
    assert shrink_for(size) == by
