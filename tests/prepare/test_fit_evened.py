"""A stretch is grown so that scaled it comes out close to whole pixels, as far as the source goes."""

from __future__ import annotations

import math

from hypothesis import given
from hypothesis import strategies as st

from ghostprep.prepare.fit import _evened


@given(
    limit=st.integers(1, 400),
    scale=st.floats(0.05, 4),
    grid=st.sampled_from([1, 2, 4]),
    data=st.data(),
)
def test_no_growth_that_fits_comes_nearer_to_whole_pixels(
    limit: int, scale: float, grid: int, data: st.DataObject
) -> None:
    length = data.draw(st.integers(1, limit))
    start = data.draw(st.integers(0, limit - length))
    begin, grown = _evened(start, length, limit, scale, grid)
    assert 0 <= begin <= start
    assert start + length <= begin + grown <= limit
    assert (grown - length) % grid == 0

    def off(pixels: int) -> float:
        return abs(pixels * scale - round(pixels * scale)) / max(pixels * scale, 1)

    # two raster pixels more, and eight of the source, leave choice enough
    most = min(limit - length, math.ceil(2 / scale) + 8)
    assert grown - length <= most
    assert off(grown) <= min(off(length + more) for more in range(0, most + 1, grid)) + 1e-6
