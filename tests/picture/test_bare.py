"""Where a frame shows the bare backing, told by a picture of its key; each limit with what lies beside it."""

from __future__ import annotations

import numpy as np
import pytest

from ghostprep.picture.key.bare import Open, Small, find_open

SIZE = (40, 60)


def plate() -> Small:
    """A backing whose key, narrow key and luma are 60, 50 and 100 everywhere."""
    return Small(*(np.full(SIZE, value, np.float32) for value in (60, 50, 100)))


def opened(share: float, *, luma: float = 1.0, rows: int = 20, rest: float = 0.0) -> Open:
    """What is found where so many rows show a share of the backing, and the others another."""
    seen = Small(*(value * np.float32(rest) for value in plate()))
    for part, value, factor in zip(seen, plate(), (share, share, luma), strict=True):
        part[:rows] = value[:rows] * np.float32(factor)
    return find_open(seen, plate())


@pytest.mark.parametrize(("share", "bare"), [(1.0, True), (0.85, True), (0.79, False), (0.3, False)])
def test_the_backing_is_seen_through_what_hides_less_than_a_fifth_of_it(share: float, bare: bool) -> None:
    found = opened(share)
    assert bool(found.bare[:20].all()) is bare
    assert bool(found.bare.any()) is bare
    assert not found.bare[20:].any()


@pytest.mark.parametrize(("share", "gain"), [(0.95, 0.95), (1.1, 1.1), (1.5, 1.25)])
def test_its_brightness_is_that_of_what_is_bare_within_bounds(share: float, gain: float) -> None:
    assert opened(share, luma=1.1).gain == pytest.approx(gain, rel=1e-4)


def test_a_thirtieth_of_the_picture_tells_the_brightness() -> None:
    enough, too_little = opened(1.1, rows=2), opened(1.1, rows=1)
    assert enough.gain == pytest.approx(1.1, rel=1e-4)  # 2 of 40 rows: 5 %
    assert too_little.gain == 1  # 2.5 %


@pytest.mark.parametrize(("share", "empty"), [(0.93, True), (0.87, False)])
def test_nothing_stands_before_it_where_a_tenth_is_missing_at_most(share: float, empty: bool) -> None:
    """Measured by this frame's own brightness: most of the picture is bare."""
    for gain in (1.0, 1.1):
        found = opened(share * gain, rows=4, rest=gain)
        assert found.gain == pytest.approx(gain, rel=0.02)
        assert found.bare[:4].all()
        assert bool(found.empty[:4].all()) is empty
        assert found.empty[4:].all()
