"""Size and place to the pixel, by a second route: where the figure's own corners fall."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.box import Box
from ghostprep.picture.place import Orientation, Placement, Warp
from ghostprep.prepare.figure import FigureExtent, Measures
from ghostprep.prepare.fit import GhostPlace, fit_to_raster, fit_to_scene

SOURCE = (1280, 720)
BODY = FigureExtent(Box(500, 100, 240, 520), 500.0, (620.0, 610.0))
ALL = [Orientation(m, q) for m in (False, True) for q in range(4)]


def drawn(source: tuple[int, int], body: FigureExtent, crop: Box, size: tuple[int, int]) -> np.ndarray:
    """The delivered frame of a clip whose figure is a white box from its feet up, `body.height` tall."""
    x = np.arange(size[0]) * crop.width / size[0] + crop.x + crop.width / size[0] / 2
    y = np.arange(size[1]) * crop.height / size[1] + crop.y + crop.height / size[1] / 2
    inside_x = abs(x - body.feet[0]) < 40
    inside_y = (y < body.feet[1]) & (y > body.feet[1] - body.height)
    return np.repeat((inside_y[:, None] & inside_x[None, :])[..., None], 3, axis=2).astype(np.uint8) * 255


def mount_for(
    orientation: Orientation, raster: tuple[int, int], pitch: float, tilt: float = 0.0
) -> GhostPlace:
    """A ghost plane whose lit area stands from 10 mm above the floor, its middle at x = 0."""
    width, height = orientation.picture_size(raster)
    to_picture = np.array(
        [[1 / pitch, 0, width / 2], [0, -1 / pitch, height + 10 / pitch], [tilt / 1000, tilt / 2000, 1.0]]
    )
    exact = orientation.matrix(raster) @ to_picture
    return GhostPlace(exact, orientation, tilt != 0, 25.0, (3.0, 12.0))


@pytest.mark.parametrize("orientation", ALL)
def test_the_figure_has_the_scenes_height_and_stands_on_its_ground(orientation: Orientation) -> None:
    raster = (320, 240)
    mount = mount_for(orientation, raster, 0.1275)
    fit = fit_to_scene(SOURCE, BODY, "auto", raster, mount)
    picture = orientation.undo(fit.place(drawn(SOURCE, BODY, fit.crop, fit.size)))
    rows = np.flatnonzero(picture[..., 0].max(axis=1) > 127)
    columns = np.flatnonzero(picture[..., 0].max(axis=0) > 127)
    height_px = 25.0 / 0.1275
    feet_row = picture.shape[0] + 10 / 0.1275 - 12 / 0.1275
    assert rows[-1] + 1 - rows[0] == pytest.approx(height_px, abs=1)
    assert rows[-1] + 1 == pytest.approx(feet_row, abs=1)
    assert (columns[0] + columns[-1] + 1) / 2 == pytest.approx(picture.shape[1] / 2 + 3 / 0.1275, abs=1)
    assert fit.figure_px == pytest.approx(height_px, abs=1)


def test_hair_and_glow_have_room_of_a_twenty_fifth_of_the_height_around_the_figure() -> None:
    """That is 21 of 520 pixels, one more for what is rounded away, and what the grid and a whole size add."""
    place = mount_for(Orientation(True, 0), (320, 240), 0.1275)
    crop = fit_to_scene(SOURCE, BODY, "auto", (320, 240), place).crop
    reach = BODY.reach
    for room in (reach.x - crop.x, reach.y - crop.y, crop.right - reach.right, crop.bottom - reach.bottom):
        assert 21 <= room <= 26


@pytest.mark.parametrize("orientation", [Orientation(True, 0), Orientation(True, 1)])
def test_a_part_that_was_asked_for_is_shown_at_the_scenes_scale(orientation: Orientation) -> None:
    """The legs alone: exactly that part, as large and on the same ground as within the whole figure."""
    raster, part = (320, 240), Box(551, 360, 139, 251)
    mount = mount_for(orientation, raster, 0.1275)
    fit = fit_to_scene(SOURCE, BODY, part, raster, mount)
    assert fit.crop == part
    picture = orientation.undo(fit.place(drawn(SOURCE, BODY, fit.crop, fit.size)))
    rows = np.flatnonzero(picture[..., 0].max(axis=1) > 127)
    feet_row = picture.shape[0] + 10 / 0.1275 - 12 / 0.1275
    assert rows[-1] + 1 == pytest.approx(feet_row, abs=1)
    assert rows[-1] + 1 - rows[0] == pytest.approx(25.0 / 0.1275 * 250 / 500, abs=1)
    assert fit_to_scene(SOURCE, BODY, "none", raster, mount).crop.width > BODY.reach.width


def test_a_keystone_is_undone_by_the_exact_map() -> None:
    raster, orientation = (320, 240), Orientation(True, 0)
    mount = mount_for(orientation, raster, 0.1275, tilt=2.0)
    fit = fit_to_scene(SOURCE, BODY, "auto", raster, mount)
    frame = fit.place(drawn(SOURCE, BODY, fit.crop, fit.size))
    # a second route: each raster pixel's place on the ghost plane, and whether the figure covers it
    mm = mount.height_mm / BODY.height
    back = np.linalg.inv(mount.to_raster)
    x, y = np.meshgrid(np.arange(320) + 0.5, np.arange(240) + 0.5)
    ghost = np.einsum("ij,jhw->ihw", back, np.stack([x, y, np.ones_like(x)]))
    gx, gy = ghost[0] / ghost[2], ghost[1] / ghost[2]
    expected = (abs(gx - 3.0) < 40 * mm) & (gy > 12.0) & (gy < 12.0 + 25.0)
    differs = np.count_nonzero((frame[..., 0] > 127) != expected)
    outline = 2 * (expected.any(axis=1).sum() + expected.any(axis=0).sum())
    assert differs <= outline  # nowhere more than a pixel off


@settings(deadline=None, max_examples=80)
@given(
    st.sampled_from(ALL),
    st.tuples(st.integers(16, 800), st.integers(16, 800)),
    st.tuples(st.integers(0, 1200), st.integers(0, 640), st.integers(20, 700), st.integers(20, 700)),
)
def test_without_a_scene_the_figure_fits_whole_and_in_proportion(
    orientation: Orientation, raster: tuple[int, int], box: tuple[int, int, int, int]
) -> None:
    reach = Box(*box).within(SOURCE)
    body = FigureExtent(reach, float(reach.height), (reach.x + reach.width / 2, float(reach.bottom)))
    fit = fit_to_raster(SOURCE, body, "auto", raster, orientation)
    wide, high = orientation.picture_size(raster)
    assert 1 <= fit.size[0] <= wide
    assert 1 <= fit.size[1] <= high
    assert fit.crop.within(SOURCE) == fit.crop
    assert fit.crop.common(reach) == reach
    # at most a pixel of rounding in either direction
    assert abs(fit.size[0] - fit.crop.width * fit.scale) <= 1
    assert abs(fit.size[1] - fit.crop.height * fit.scale) <= 1
    assert fit.place(np.zeros((fit.size[1], fit.size[0], 3), np.uint8)).shape == (raster[1], raster[0], 3)


def test_the_whole_frame_is_fitted_with_black_bars() -> None:
    fit = fit_to_raster(SOURCE, BODY, "none", (320, 240), Orientation(False, 0))
    assert fit.size == (320, 180)
    raster = fit.place(np.full((180, 320, 3), 9, np.uint8))
    assert (raster[:30] == 0).all()
    assert (raster[210:] == 0).all()
    assert (raster[30:210] == 9).all()


@settings(deadline=None, max_examples=200)
@given(
    orientation=st.sampled_from(ALL),
    pitch=st.floats(0.05, 0.4),
    box=st.tuples(st.integers(0, 1200), st.integers(0, 640), st.integers(40, 700), st.integers(40, 700)),
    grid=st.sampled_from([2, 4, 8]),
)
def test_the_feet_fall_on_their_ground_wherever_the_figure_is(
    orientation: Orientation, pitch: float, box: tuple[int, int, int, int], grid: int
) -> None:
    """By the crop's own numbers: within half a pixel, which is what placing on whole pixels costs."""
    reach = Box(*box).within(SOURCE)
    body = FigureExtent(reach, float(reach.height), (reach.x + reach.width / 2, float(reach.bottom)))
    raster = (320, 240)
    mount = mount_for(orientation, raster, pitch)
    fit = fit_to_scene(SOURCE, body, "auto", raster, mount, grid=grid)
    assert fit.crop.within(SOURCE) == fit.crop
    assert not fit.crop.empty
    assert isinstance(fit.place, Placement)
    scale = fit.size[1] / fit.crop.height
    feet = fit.place.at[1] + (body.feet[1] - fit.crop.y) * scale
    ground = orientation.picture_size(raster)[1] + (10 - 12) / pitch
    assert feet == pytest.approx(ground, abs=0.501)


@pytest.mark.parametrize("box", [(0, 0, 200, 300), (1080, 420, 200, 300), (400, 420, 880, 300)])
def test_a_figure_at_the_border_is_cropped_inside_the_source_whole(box: tuple[int, int, int, int]) -> None:
    body = FigureExtent(Box(*box), float(box[3]), (box[0] + box[2] / 2, float(box[1] + box[3])))
    for pitch in np.linspace(0.1, 0.3, 41):
        mount = mount_for(Orientation(True, 0), (2000, 1600), float(pitch))
        fit = fit_to_scene(SOURCE, body, "auto", (2000, 1600), mount)
        assert fit.crop.within(SOURCE) == fit.crop
        assert fit.crop.common(Box(*box)) == Box(*box)  # nothing of the figure is cut off


@pytest.mark.parametrize(("bent", "kind"), [(False, Placement), (True, Warp)])
def test_the_exact_map_is_used_where_flips_and_turns_are_seen_to_be_off(bent: bool, kind: type) -> None:
    mount = mount_for(Orientation(False, 0), (320, 240), 0.1275)
    fit = fit_to_scene(SOURCE, BODY, "auto", (320, 240), replace(mount, bent=bent))
    assert type(fit.place) is kind


def test_a_walking_figure_stands_on_its_lowest_feet() -> None:
    """Of 20 frames, 12 with a lifted foot and 8 on the ground."""
    bottoms = np.where(np.arange(20) < 12, 590.0, 600.0)
    solid = np.stack([np.full(20, 100.0), np.full(20, 100.0), np.full(20, 200.0), bottoms], axis=1)
    rows = [np.array([*row, *row, 0.5, *row], np.float32) for row in solid]
    body = Measures.of(rows).body(SOURCE)
    assert body is not None
    assert body.feet[1] == pytest.approx(600, abs=0.01)
    assert body.height == pytest.approx(490, abs=0.01)
