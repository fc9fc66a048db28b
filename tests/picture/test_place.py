"""Letters on tiny frames, so that the truth can be read."""

import numpy as np
import pytest
import scipy.ndimage
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.picture.place import Drift, Orientation, Placement, Warp

ALL = [Orientation(m, q) for m in (False, True) for q in range(4)]


def letters(*rows: str) -> np.ndarray:
    codes = np.array([[ord(c) for c in row] for row in rows], np.uint8)
    return np.repeat(codes[..., None], 3, axis=2)


def text(frame: np.ndarray) -> list[str]:
    return ["".join(chr(c) if c else "." for c in row) for row in frame[..., 0]]


@pytest.mark.parametrize(
    ("mirrored", "turns", "expected"),
    [
        (False, 0, ["AB", "CD", "EF"]),
        (False, 1, ["ECA", "FDB"]),
        (False, 2, ["FE", "DC", "BA"]),
        (False, 3, ["BDF", "ACE"]),
        (True, 0, ["BA", "DC", "FE"]),
        (True, 1, ["FDB", "ECA"]),
        (True, 2, ["EF", "CD", "AB"]),
        (True, 3, ["ACE", "BDF"]),
    ],
)
def test_all_eight_orientations(mirrored: bool, turns: int, expected: list[str]) -> None:
    orientation = Orientation(mirrored, turns)
    raster = orientation.apply(letters("AB", "CD", "EF"))
    assert text(raster) == expected
    assert text(orientation.undo(raster)) == ["AB", "CD", "EF"]


def test_a_player_turned_clockwise_gets_its_picture_turned_back() -> None:
    # seen by someone who faces a screen turned clockwise by 90 degrees, the raster appears
    # turned clockwise; with no mirror in between the picture must read upright again
    raster = Orientation.of(0, 90).apply(letters("AB", "CD", "EF"))
    assert text(np.rot90(raster, -1)) == ["AB", "CD", "EF"]


@pytest.mark.parametrize("orientation", ALL)
def test_the_matrix_moves_pixels_like_the_flips_do(orientation: Orientation) -> None:
    picture = letters("ABC", "DEF")
    raster_shape = orientation.apply(picture).shape
    raster = (raster_shape[1], raster_shape[0])
    warped = Warp(raster, orientation.matrix(raster))(picture)
    assert text(warped) == text(orientation.apply(picture))


def test_placement_cuts_what_falls_outside() -> None:
    upright = Orientation(False, 0)
    assert text(Placement((3, 2), upright, (1, 1))(letters("AB", "CD"))) == ["...", ".AB"]
    assert text(Placement((3, 2), upright, (-1, -1))(letters("AB", "CD"))) == ["D..", "..."]
    assert text(Placement((3, 2), upright, (5, 0))(letters("AB", "CD"))) == ["...", "..."]


@settings(deadline=None, max_examples=60)
@given(
    st.sampled_from(ALL),
    st.tuples(st.integers(1, 9), st.integers(1, 9)),
    st.tuples(st.integers(-6, 9), st.integers(-6, 9)),
)
def test_placement_neither_adds_nor_changes_pixels(
    orientation: Orientation, size: tuple[int, int], at: tuple[int, int]
) -> None:
    figure = np.full((size[1], size[0], 3), 200, np.uint8)
    raster = Placement((8, 6), orientation, at)(figure)
    width, height = orientation.picture_size((8, 6))
    seen = max(0, min(at[0] + size[0], width) - max(at[0], 0)) * max(
        0, min(at[1] + size[1], height) - max(at[1], 0)
    )
    assert raster.shape == (6, 8, 3)
    assert np.count_nonzero(raster == 200) == 3 * seen
    assert set(np.unique(raster)) <= {0, 200}


def test_settings_out_of_range_are_refused() -> None:
    with pytest.raises(ValueError, match=r"quarter_turns is 4, it must be 0\.\.3"):
        Orientation(False, 4)
    with pytest.raises(ValueError, match="turn is 45, it must be 0, 90, 180 or 270"):
        Orientation.of(1, 45)


@pytest.mark.parametrize("shift", [(0.0, 0.0), (1.25, -0.75), (-2.5, 0.5), (0.3, 3.9)])
@pytest.mark.parametrize("size", [(24, 16), (23, 17)])
def test_a_drifting_figure_is_that_moved_before_it_is_made_small(
    shift: tuple[float, float], size: tuple[int, int]
) -> None:
    """As scipy moves it on the fine grid, then the mean of each pixel: so nothing of its light is lost."""
    finer = 4
    figure = np.random.default_rng(2).integers(0, 256, (size[1], size[0], 3), dtype=np.uint8)
    wide = np.zeros((14 * finer, 16 * finer, 3))
    wide[4 * finer :, 4 * finer :][: size[1], : size[0]] = figure
    moved = scipy.ndimage.shift(wide, (shift[1] * finer, shift[0] * finer, 0), order=1)
    theirs = moved.reshape(14, finer, 16, finer, 3).mean((1, 3))
    for place in (
        Placement((16, 14), Orientation(False, 0), (4, 4)),
        Warp((16, 14), np.array([[1.0, 0, 4], [0, 1, 4], [0, 0, 1]])),
    ):
        assert np.abs(Drift(place, finer)(figure, shift) - theirs).max() <= 1.5
