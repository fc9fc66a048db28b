"""Rectangles of pixels, as sets of pixels."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ghostprep.box import Box, small_size
from ghostprep.channels import channel_spread, largest_channel

sides, lengths = st.integers(-9, 9), st.integers(0, 9)
boxes = st.builds(Box, sides, sides, lengths, lengths)


def pixels(box: Box) -> set[tuple[int, int]]:
    """Return the pixels of a box."""
    return set(product(range(box.x, box.x + box.width), range(box.y, box.y + box.height)))


@given(box=boxes)
def test_an_empty_box_has_no_pixels(box: Box) -> None:
    assert box.empty == (not pixels(box))
    if not box.empty:
        assert max(x for x, _ in pixels(box)) == box.right - 1
        assert max(y for _, y in pixels(box)) == box.bottom - 1


@given(a=boxes, b=boxes)
def test_what_two_boxes_share(a: Box, b: Box) -> None:
    made = a.common(b)
    assert pixels(made) == pixels(a) & pixels(b)
    assert made.width >= 0
    assert made.height >= 0


@given(box=boxes, margin=st.integers(0, 5))
def test_a_grown_box_reaches_as_far_on_each_side(box: Box, margin: int) -> None:
    near = set(product(range(-margin, margin + 1), repeat=2))
    if not box.empty:
        assert pixels(box.grown(margin)) == {(x + dx, y + dy) for x, y in pixels(box) for dx, dy in near}
    assert box.grown(margin).grown(-margin) == box


@given(box=boxes, size=st.tuples(st.integers(1, 8), st.integers(1, 8)))
def test_what_lies_within_a_picture(box: Box, size: tuple[int, int]) -> None:
    made = box.within(size)
    assert pixels(made) == pixels(box) & set(product(range(size[0]), range(size[1])))
    assert made.width >= 0
    assert made.height >= 0


@given(size=st.tuples(st.integers(1, 5000), st.integers(1, 5000)), longest=st.integers(1, 2000))
def test_a_small_size_keeps_the_proportions_and_is_never_larger(size: tuple[int, int], longest: int) -> None:
    made = small_size(size, longest)
    assert max(made) == min(max(size), longest)
    assert min(made) >= 1
    if max(size) <= longest:
        assert made == size
    for here, there in zip(made, size, strict=True):
        assert here == pytest.approx(there * max(made) / max(size), abs=0.5) or here == 1


@given(seed=st.integers(0, 999), shape=st.sampled_from([(4, 5, 3), (2, 3, 4, 3)]))
def test_channels_are_those_of_numpy(seed: int, shape: tuple[int, ...]) -> None:
    frame = np.random.default_rng(seed).integers(0, 256, shape, np.uint8)
    assert (largest_channel(frame) == frame.max(axis=-1)).all()
    assert (channel_spread(frame) == frame.max(axis=-1) - frame.min(axis=-1)).all()
    light = frame.astype(np.float32) / 255
    assert (largest_channel(light) == light.max(axis=-1)).all()
    assert largest_channel(light).dtype == np.float32
