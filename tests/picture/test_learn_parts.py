"""What is learned of a clip before it is keyed: its alpha, where the backing ends, whether it wanders."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from ghostprep.picture.key.outside import Outside
from ghostprep.picture.learn.before_even import _within
from ghostprep.picture.learn.camera import backing_moves, find_shake
from ghostprep.picture.learn.learn import alpha_varies, looks_premultiplied
from ghostprep.picture.learn.outside import find_outside, hull_of


def clip(*parts: tuple[int, int, int]) -> np.ndarray:
    """One picture (1, n, 1, 4) of so many pixels each, of a grey and an alpha."""
    rows = [np.full((count, 1, 4), (grey, grey, grey, alpha), np.uint8) for count, grey, alpha in parts]
    return np.concatenate(rows)[None]


def test_alpha_that_leaves_a_thousandth_out_says_something() -> None:
    assert not alpha_varies(clip((10_000, 90, 255)))
    assert not alpha_varies(clip((9_990, 90, 255), (10, 0, 0)))
    assert alpha_varies(clip((9_989, 90, 255), (11, 0, 0)))
    assert alpha_varies(clip((9_989, 90, 255), (11, 0, 249)))
    assert not alpha_varies(clip((10_000, 90, 250)))


@pytest.mark.parametrize("opaque", [0, 300_000])
def test_colour_above_its_alpha_was_not_multiplied(opaque: int) -> None:
    """Only where the figure is thin does it show; how much of it is solid does not matter."""
    solid = (opaque, 255, 255)
    assert looks_premultiplied(clip(solid, (250, 200, 60))) is False
    assert looks_premultiplied(clip(solid, (250, 60, 60))) is True
    assert looks_premultiplied(clip(solid, (250, 66, 60))) is True  # coding moves a code or two
    assert looks_premultiplied(clip(solid, (250, 67, 60))) is False
    assert looks_premultiplied(clip(solid, (200, 200, 199), (200, 200, 9), (100_000, 9, 9))) is True


def test_too_few_thin_places_show_nothing() -> None:
    assert looks_premultiplied(clip((199, 200, 60), (9_000, 9, 255))) is None
    assert looks_premultiplied(clip((200, 200, 60), (9_000, 9, 255))) is False
    assert looks_premultiplied(clip((300, 12, 12))) is True  # thin, and yet coverage
    assert looks_premultiplied(clip((900, 200, 8), (900, 255, 200))) is None


def seen(top: int, left: int, bottom: int, right: int) -> np.ndarray:
    empty = np.zeros((2, 180, 240), np.bool_)
    empty[0, top:bottom, left : (left + right) // 2] = True
    empty[1, top:bottom, (left + right) // 2 : right] = True
    return empty


def box_of(hull: np.ndarray) -> tuple[int, int, int, int]:
    rows, columns = np.flatnonzero(hull.any(1)), np.flatnonzero(hull.any(0))
    return rows[0], columns[0], rows[-1] + 1, columns[-1] + 1


def test_a_backing_reaches_two_pixels_beyond_what_was_surely_seen_of_it() -> None:
    hull = hull_of(seen(40, 60, 120, 180))
    assert hull is not None
    assert box_of(hull) == (38, 58, 122, 182)
    assert hull[38:122, 58:182].mean() > 0.99
    # what the figure always hides within belongs to it
    empty = seen(40, 60, 120, 180)
    empty[:, 70:100, 100:130] = False
    np.testing.assert_array_equal(hull_of(empty), hull)
    # single pixels elsewhere are noise
    empty[0, 5, 5] = empty[1, 170, 230] = True
    np.testing.assert_array_equal(hull_of(empty), hull)


def test_a_backing_that_all_but_touches_the_frame_reaches_its_edge() -> None:
    """Within a fortieth of the longer side: 6 of 240 pixels."""
    near = hull_of(seen(7, 7, 173, 233))
    assert near is not None
    assert box_of(near) == (0, 0, 180, 240)
    far = hull_of(seen(9, 9, 171, 231))
    assert far is not None
    assert box_of(far) == (7, 7, 173, 233)
    assert hull_of(np.zeros((2, 30, 40), np.bool_)) is None


def test_what_lies_outside_is_found_with_its_noise_and_only_where_there_is_enough() -> None:
    rng = np.random.default_rng(1)
    plate = np.full((180, 240, 3), 100.0)
    plate[:, :60] = 40
    frames = np.rint(plate + rng.normal(0, 1, (6, 180, 240, 3))).astype(np.uint8)
    found = find_outside(frames, seen(2, 62, 178, 238), 2.0)
    assert isinstance(found, Outside)
    assert found.mask[90, 20] == 1
    assert found.mask[90, 120] == 0
    assert 55 < np.interp(0.5, found.mask[90, :70][::-1], np.arange(70)[::-1]) < 67
    assert np.abs(found.plate - plate).mean() < 1
    # away from edges the noise told, and some of the plate's own grain; at a step of 60 codes 24 more
    assert found.noise[90, 20] == pytest.approx(2, abs=1)
    assert found.noise[90, 60] == pytest.approx(2 + 0.4 * 60, abs=2)
    assert find_outside(frames, seen(2, 2, 178, 238), 2.0) is None


def shaded(
    shift: float, count: int = 8, *, exposure: float = 0.0, depth: float = 12.0, over: float = 60
) -> np.ndarray:
    """Cloth whose light goes up and down over so many pixels, moved from picture to picture, with noise."""
    rng = np.random.default_rng(4)
    x = np.arange(240)
    frames = []
    for i in range(count):
        row = 110 + depth * np.sin((x + shift * i) / over * 2 * np.pi)
        picture = np.repeat(row[None], 180, 0)[..., None] * np.array([0.4, 1.0, 0.5])
        picture *= 1 + exposure * (-1) ** i
        frames.append(picture + rng.normal(0, 3, picture.shape))
    return np.clip(np.rint(frames), 0, 255).astype(np.uint8)


def test_a_backing_moves_where_its_light_and_dark_places_do() -> None:
    all_of_it = np.ones((8, 180, 240), np.bool_)
    assert backing_moves(shaded(9), all_of_it)
    assert not backing_moves(shaded(0), all_of_it)
    assert not backing_moves(shaded(0, exposure=0.2), all_of_it)
    assert backing_moves(shaded(9, exposure=0.2), all_of_it)
    assert backing_moves(shaded(9, depth=6), all_of_it)
    assert backing_moves(shaded(9, over=20), all_of_it)
    # even cloth shows no move
    assert not backing_moves(shaded(9, depth=2), all_of_it)


def test_what_little_is_seen_of_a_backing_tells_nothing_of_its_moves() -> None:
    frames, first = shaded(9), np.zeros((8, 180, 240), np.bool_)
    assert not backing_moves(frames, first)
    first[:, :60, :60] = True
    assert backing_moves(frames, first)
    first[1:] = False
    assert not backing_moves(frames, first)
    # a veil of the backing's hue that crosses a tenth of it is not the camera
    still, first = shaded(0), np.ones((8, 180, 240), np.bool_)
    for i, frame in enumerate(still):
        cv2.rectangle(frame, (20 * i, 40), (20 * i + 30, 160), (30, 90, 40), -1)
    assert not backing_moves(still, first)


def test_how_much_is_seen_of_a_backing_is_no_move_of_it() -> None:
    """A figure that comes nearer hides more and more."""
    first = np.ones((8, 180, 240), np.bool_)
    for i, seen in enumerate(first):
        seen[:, : 20 * i] = False
    assert not backing_moves(shaded(0), first)
    assert backing_moves(shaded(9), first)


@pytest.mark.parametrize(("nearer", "shakes"), [(1.0, True), (1.0015, True), (1.02, False)])
def test_a_camera_that_comes_nearer_does_not_shake(nearer: float, shakes: bool) -> None:
    """What it films moves every way then; two places moved alike within half a pixel."""
    rng = np.random.default_rng(3)
    wall = cv2.GaussianBlur(rng.integers(30, 220, (180, 320, 3)).astype(np.uint8), (0, 0), 2)
    wall = np.clip((wall.astype(float) - 125) * 4 + 125, 0, 255).astype(np.uint8)
    frames = []
    for i in range(9):
        way = cv2.getRotationMatrix2D((160, 90), 0, nearer ** (i % 3 - 1))
        way[:, 2] += (3 * (i % 3 - 1), 0)
        frames.append(cv2.warpAffine(wall, way, (320, 180), borderMode=cv2.BORDER_REFLECT))
    assert (find_shake(np.stack(frames)).share > 0) is shakes


def test_what_lies_outside_is_black_to_what_learns_the_figure() -> None:
    frames = np.full((2, 40, 60, 3), 90, np.uint8)
    mask = np.zeros((40, 60), np.float32)
    mask[:, 40:], mask[:, 39], mask[:, 38] = 1, 0.1, 0.02
    inner = _within(frames, Outside(mask, np.zeros((40, 60, 3), np.float32), np.ones((40, 60), np.float32)))
    assert (inner[:, :, :39] == 90).all()
    assert not inner[:, :, 39:].any()
    assert _within(frames, None) is frames


def test_the_end_of_the_backing_is_as_soft_as_three_pixels() -> None:
    """Cloth from column 60 on is cut at three pixels within; noise is more beside a step alone."""
    plate = np.full((90, 240, 3), 100, np.uint8)
    plate[:, :30] = 40
    empty = np.ones((3, 90, 240), np.bool_)
    empty[:, :, :62] = False  # two pixels are its rim
    found = find_outside(np.stack([plate] * 4), empty, 2.0)
    assert found is not None
    assert found.mask[45, 58:66] == pytest.approx([1, 1, 1, 1, 2 / 3, 1 / 3, 0, 0], abs=1e-6)
    assert found.noise[45, 27:33] == pytest.approx([2, 2, 26, 26, 2, 2], abs=0.01)
