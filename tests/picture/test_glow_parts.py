"""A glow's steps in closed form: where it may lie, whose colour it has, how its last traces go."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import uniform_filter

from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.glow import GlowPlate, _carried, _foreign, _kept, _near, _smoothly, find_glow

GREEN = np.float32([54, 156, 71])
SIZE = (240, 320)


def test_it_begins_and_ends_without_a_kink() -> None:
    steps = np.float32([-1, 0, 0.01, 0.25, 0.5, 0.75, 0.99, 1, 2])
    wanted = [0, 0, 3e-4, 0.15625, 0.5, 0.84375, 1 - 3e-4, 1, 1]
    assert _smoothly(steps) == pytest.approx(wanted, abs=3e-6)


@pytest.mark.parametrize("height", [80, 160])
def test_it_lies_within_a_quarter_of_the_height_of_the_figure(height: int) -> None:
    cover = np.zeros((height, 300), np.uint8)
    cover[:, :20] = 255
    row = _near(cover)[height // 2]
    reach = height / 4
    away = np.arange(300) - 19.0
    assert row == pytest.approx(np.clip(2 - 2 * away / reach, 0, 1), abs=0.11)
    assert not row[24 + height // 4 :].any()


@pytest.mark.parametrize(
    ("cosine", "foreign"), [(1.0, 0.0), (0.98, 0.0), (0.95, 0.4), (0.9, 1.0), (0.2, 1.0)]
)
def test_light_of_the_backings_own_colour_is_no_glow(cosine: float, foreign: float) -> None:
    own = GREEN / np.linalg.norm(GREEN)
    aside = np.cross(GREEN, (1, 0, 0))
    aside /= np.linalg.norm(aside)
    light = 40 * (cosine * own + np.sqrt(1 - cosine**2) * aside)
    plate = np.broadcast_to(GREEN, (4, 5, 3)).astype(np.float32)
    found = _foreign(
        np.broadcast_to(light, (4, 5, 3)).astype(np.float32), plate, np.linalg.norm(plate, axis=-1)
    )
    assert found == pytest.approx(foreign, abs=1e-4)


def test_the_figures_own_light_does_not_leak_into_it() -> None:
    """A mean over nine bare pixels; where none of them is bare, over forty-nine."""
    rng = np.random.default_rng(1)
    bare = (rng.random((40, 50)) < 0.5).astype(np.float32)
    bare[10:22, 10:22] = 0
    more = rng.uniform(0, 50, (40, 50, 3)).astype(np.float32) * bare[..., None]

    def wide(x: np.ndarray, reach: int) -> np.ndarray:
        window = (reach, reach) + (1,) * (x.ndim - 2)
        return np.asarray(uniform_filter(x.astype(float), window, mode="mirror"))

    mass, weight = (wide(x, 3) + 0.01 * wide(x, 7) for x in (more, bare))
    known = weight > 1e-3
    assert _carried(more, bare)[known] == pytest.approx(
        (mass / np.maximum(weight, 1e-9)[..., None])[known], rel=1e-3
    )
    # a rim of a few pixels is bridged, the body within it is not
    assert _carried(more, bare)[12, 12].all()
    assert not _carried(more, bare)[16, 16].any()


@pytest.mark.parametrize(("codes", "part"), [(2.0, 0.0), (7.5, 0.5), (12.0, 1.0), (60.0, 1.0)])
def test_its_last_traces_are_left_out(codes: float, part: float) -> None:
    """Up to three codes; from twelve on it is whole."""
    light = np.full((3, 4, 3), 2 * codes, np.float32)
    share = np.full((3, 4), 0.5, np.float32)
    assert _kept(light, share, Curve("codes")) == pytest.approx(257 * codes * part, abs=2)


def glowing(codes: float, *, at: int = 12, within: bool = True) -> np.ndarray | None:
    """Red light of so many codes over the green beside a figure, mixed in light; what is found (h, w, 3)."""
    curve = Curve("light")
    plate = np.broadcast_to(GREEN, (*SIZE, 3)).astype(np.uint8).copy()
    frame = plate.copy()
    frame[80:160, 200 + at : 232 + at, 0] += np.uint8(codes)
    matte = np.zeros(SIZE, np.uint8)
    matte[60:180, 160:200] = 255
    known = GlowPlate.of(curve.amounts(plate), curve)
    there = None if within else np.zeros(known.light.shape[:2], np.uint8)
    found = find_glow(
        curve.amounts(frame), known, matte, np.ones(matte.shape, np.float32), curve, within=there
    )
    if found is None:
        return None
    figure = np.zeros((*SIZE, 3), np.uint16)
    found.onto(figure)
    return figure


@pytest.mark.parametrize(("codes", "part"), [(1, 0.0), (4, 0.5), (8, 1.0)])
def test_light_must_stand_out_and_is_whole_from_three_times_that_on(codes: int, part: float) -> None:
    """Two codes, which noise does not reach."""
    found = glowing(codes)
    if not part:
        assert found is None
        return
    assert found is not None
    curve = Curve("light")
    red = curve.amounts(np.uint8([[54 + codes, 54]]))
    wanted = curve.figure(np.float32(part * (red[0, 0] - red[0, 1])))
    assert found[120, 228, 0] == pytest.approx(int(wanted), rel=0.08)
    assert found[120, 228, 1] == 0


def test_far_from_the_figure_and_outside_the_backing_there_is_none() -> None:
    assert glowing(30, at=80) is None
    assert glowing(30, within=False) is None
    near = glowing(30)
    assert near is not None
    assert not near[60:180, 160:200].any()
