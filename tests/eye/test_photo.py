"""A photograph as scenery: its opening is found, and what stands at the ghost's depth keeps its place."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from scipy.ndimage import map_coordinates

from ghostprep.errors import InputError
from ghostprep.eye.photo import PhotoScenery, _ordered, _remapped, find_opening, photo_scenery
from ghostprep.transfer import codes_to_light
from tests.eye.plain_box import plain_box

PLAN = plain_box()
SIZE = (480, 360)
QUAD = np.float32([[150, 60], [335, 72], [330, 300], [146, 308]])


def shot(inside: int, around: int, quad: np.ndarray = QUAD, *, rim: int | None = None) -> np.ndarray:
    """A photograph (h, w, 3) of a four-sided opening, with grain."""
    picture = np.full((SIZE[1], SIZE[0], 3), around, np.uint8)
    cv2.fillConvexPoly(picture, np.round(quad).astype(np.int32), (inside,) * 3)
    if rim is not None:
        cv2.polylines(
            picture, [np.round(quad).astype(np.int32)], isClosed=True, color=(rim,) * 3, thickness=6
        )
    grain = np.random.default_rng(1).normal(0, 4, picture.shape)
    return np.clip(np.rint(picture + grain), 0, 255).astype(np.uint8)


ASPECT = 185 / 238


@pytest.mark.parametrize(
    ("inside", "around", "rim"), [(170, 40, None), (40, 170, None), (100, 112, 20), (110, 100, 230)]
)
def test_an_opening_is_found_lighter_darker_or_framed(inside: int, around: int, rim: int | None) -> None:
    found = find_opening(shot(inside, around, rim=rim), ASPECT)
    assert found is not None
    assert np.abs(found - QUAD).max() < 7


def test_what_is_too_small_too_large_or_of_another_shape_is_no_opening() -> None:
    assert find_opening(shot(170, 40), ASPECT * 1.55) is not None
    assert find_opening(shot(170, 40), ASPECT * 1.7) is None
    assert find_opening(shot(170, 40), ASPECT / 1.55) is not None
    assert find_opening(shot(170, 40), ASPECT / 1.7) is None
    square = np.float32([[0, 0], [1, 0], [1, 1], [0, 1]])
    # of 480 x 360 px, .06 is a square of 102 and .97 all but 3 px of each side
    assert find_opening(shot(170, 40, 120 + 112 * square), 1) is not None
    assert find_opening(shot(170, 40, 120 + 92 * square), 1) is None
    assert find_opening(shot(170, 40, square * (479, 359)), 480 / 360) is None
    bent = shot(40, 40)
    line = np.int32([[150, 60], [330, 60], [330, 300]])
    cv2.polylines(bent, [line], isClosed=False, color=(220,) * 3, thickness=8)
    assert find_opening(bent, ASPECT) is None
    triangle = shot(40, 40)
    cv2.fillConvexPoly(triangle, np.int32([[240, 40], [400, 320], [80, 320]]), (200,) * 3)
    assert find_opening(triangle, 1) is None


def test_of_two_alike_the_larger_one_is_the_opening() -> None:
    picture = shot(170, 40, np.float32([[20, 30], [220, 30], [220, 330], [20, 330]]))
    picture[120:240, 320:400] = 170
    found = find_opening(picture, 2 / 3)
    assert found is not None
    assert found[:, 0].max() < 230
    # but shape counts for more than size
    found = find_opening(picture, 0.68 * 1.5)
    assert found is None or found[:, 0].max() < 230


@pytest.mark.parametrize(
    ("size", "corners", "says"),
    [
        ((3, 3), None, "it has 3x3 px"),
        ((3, 3), ((0, 0), (2, 0), (2, 2), (0, 2)), "it has 3x3 px"),
        ((63, 500), None, "it has 63x500 px"),
        ((3000, 2000), ((10, 10), (110, 10), (110, 50), (10, 50)), "the opening in it has 100x40 px"),
    ],
)
def test_a_photograph_in_which_no_box_can_be_seen_is_refused(
    tmp_path: Path, size: tuple[int, int], corners: tuple[tuple[float, float], ...] | None, says: str
) -> None:
    Image.new("RGB", size, (90, 90, 90)).save(tmp_path / "box.png")
    with pytest.raises(InputError, match=f"{says}, too few to see the box in; it takes 64"):
        photo_scenery(PLAN, tmp_path / "box.png", corners)


@given(st.permutations(range(4)), st.floats(-20, 20), st.floats(-20, 20))
def test_corners_go_round_from_the_top_left(order: list[int], lean: float, drop: float) -> None:
    corners = np.float32([[100, 50 + drop], [300 + lean, 50], [310, 260], [90 + lean, 250 + drop]])
    assert (_ordered(corners[order]) == corners).all()


def corners_of_opening() -> np.ndarray:
    box = PLAN.scene.box
    return np.array(
        [(-box.width / 2, box.height), (box.width / 2, box.height), (box.width / 2, 0), (-box.width / 2, 0)]
    )


@pytest.fixture(scope="module")
def scenery(tmp_path_factory: pytest.TempPathFactory) -> PhotoScenery:
    """A photograph whose red grows to the right and whose green grows downwards."""
    path = tmp_path_factory.mktemp("photo") / "box.png"
    yy, xx = np.mgrid[0 : SIZE[1], 0 : SIZE[0]]
    Image.fromarray(np.dstack([60 + xx // 4, 40 + yy // 3, np.full_like(xx, 90)]).astype(np.uint8)).save(path)
    return photo_scenery(PLAN, path, [tuple(map(float, corner)) for corner in QUAD])


def light_at(scenery: PhotoScenery, eye: np.ndarray, target: np.ndarray) -> np.ndarray:
    return scenery.light(eye, np.asarray(target, float) - eye)


def test_from_the_middle_eye_the_opening_shows_the_photograph(scenery: PhotoScenery) -> None:
    eye = PLAN.layout.eye
    inward = corners_of_opening() * (0.999, 1) + [(0, -0.1), (0, -0.1), (0, 0.1), (0, 0.1)]
    places = np.column_stack([inward, np.zeros(4)])
    seen = light_at(scenery, eye, places)
    for light, (x, y) in zip(seen, QUAD, strict=True):
        codes = np.array([60 + x / 4, 40 + y / 3, 90])
        expected = ((codes / 255 + 0.055) / 1.055) ** 2.4 * scenery.gain  # IEC 61966-2-1
        assert light == pytest.approx(expected, rel=0.03)


@settings(deadline=None, max_examples=25)
@given(st.floats(-60, 60), st.floats(-50, 50), st.floats(-30, 30), st.floats(20, 110))
def test_what_stands_at_the_ghosts_depth_keeps_its_place(dx: float, dy: float, x: float, y: float) -> None:
    scenery = PhotoScenery(PLAN, _GRADED, np.array([[2.0, 0, 240], [0, -2, 400], [0, 0, 1]]), 1.0)
    there, eye = np.array([[x, y, PLAN.layout.ghost[2]]]), PLAN.layout.eye
    assert light_at(scenery, eye + np.array([dx, dy, 0]), there) == pytest.approx(
        light_at(scenery, eye, there), rel=2e-3
    )


_YY, _XX = np.mgrid[0:480, 0:480]
_GRADED = np.dstack([_XX // 2, _YY // 2, np.full_like(_XX, 90)]).astype(np.uint8)


def test_beside_the_opening_nothing_moves() -> None:
    scenery = PhotoScenery(PLAN, _GRADED, np.array([[2.0, 0, 240], [0, -2, 400], [0, 0, 1]]), 1.0)
    beside = np.array([[-80.0, 60, 0], [80, 60, 0], [0, 191, 0], [0, -1, 0]])
    expected = codes_to_light(_GRADED[[279, 279, 17, 401], [79, 399, 239, 239]])
    for dx in (0, 40):
        assert light_at(scenery, PLAN.layout.eye + np.array([dx, 0, 0]), beside) == pytest.approx(
            expected, rel=0.05, abs=3e-4
        )


@pytest.mark.parametrize("inner", [(-0.27, 0, 0.27, 1), (-0.27, 0.5, 0.27, 1), (-0.14, 0, 0.14, 1)])
def test_the_photographs_mean_behind_the_figure_has_the_sceneries_luminance(
    inner: tuple[float, float, float, float], tmp_path: Path
) -> None:
    """White in all of the figure, its upper half or its inner half: half as wide as tall; a grey around."""
    path, grey = tmp_path / "box.png", 137  # a quarter of white, IEC 61966-2-1: 0.2502
    picture = np.full((SIZE[1] * 3, SIZE[0] * 3, 3), grey, np.uint8)
    to_photo = cv2.getPerspectiveTransform(corners_of_opening().astype(np.float32), 3 * QUAD)
    eye, (x, _, z) = PLAN.layout.eye, PLAN.layout.ghost
    feet, tall = PLAN.figure.feet_mm, PLAN.figure.height_mm
    left, low, right, high = inner
    ends = ((left, low), (right, low), (right, high), (left, high))
    part = np.array([(x + a * tall, feet + b * tall) for a, b in ends])
    front = eye[:2] + (part - eye[:2]) * (-eye[2] / (z - eye[2]))
    behind = cv2.perspectiveTransform(front[None].astype(np.float32), to_photo)[0]
    cv2.fillConvexPoly(picture, np.round(behind).astype(np.int32), (255,) * 3)
    Image.fromarray(picture).save(path)
    scenery = photo_scenery(PLAN, path, [tuple(map(float, corner)) for corner in 3 * QUAD])
    share = 1 if high - low == 1 and right > 0.2 else 0.5
    # the grid has no finer steps than an eighth across, and a fourteenth down
    assert PLAN.light.scenery / scenery.gain == pytest.approx(share + (1 - share) * 0.2502, abs=0.05)


def test_a_black_photograph_is_not_made_endlessly_bright(tmp_path: Path) -> None:
    path = tmp_path / "box.png"
    Image.new("RGB", SIZE).save(path)
    scenery = photo_scenery(PLAN, path, [tuple(map(float, corner)) for corner in QUAD])
    assert scenery.gain == pytest.approx(PLAN.light.scenery / 0.002)


def test_an_opening_that_is_found_is_the_one_that_is_told(tmp_path: Path) -> None:
    """In a file of three times the size that is worked on: its own pixels count."""
    path = tmp_path / "large.png"
    quad = np.float32([[900, 300], [1900, 300], [1900, 1660], [900, 1660]])
    picture = np.full((1900, 2600, 3), 50, np.uint8)
    cv2.fillConvexPoly(picture, quad.astype(np.int32), (180,) * 3)
    Image.fromarray(picture).save(path, compress_level=1)
    found = photo_scenery(PLAN, path)
    told = photo_scenery(PLAN, path, [tuple(map(float, corner)) for corner in quad])
    assert max(found.photo.shape) == 1200
    shown = [s.to_photo @ (10.0, 90.0, 1.0) for s in (found, told)]
    assert shown[0][:2] / shown[0][2] == pytest.approx(shown[1][:2] / shown[1][2], abs=3)
    assert shown[1][:2] / shown[1][2] == pytest.approx(
        (np.array([900 + 1000 * 80 / 140, 300 + 1360 * 100 / 190])) * 1200 / 2600, abs=0.5
    )


@pytest.mark.parametrize(
    "wrong",
    [
        [(0, 0), (90, 0), (90, 0), (0, 0)],
        [(0, 0), (90, 90), (90, 0), (0, 90)],
        [(90, 0), (0, 0), (0, 90), (90, 90)],  # from the top right, anticlockwise: a box in a mirror
    ],
)
def test_corners_that_enclose_nothing_and_an_opening_that_is_not_there(
    wrong: list[tuple[float, float]], tmp_path: Path
) -> None:
    path = tmp_path / "box.png"
    Image.new("RGB", SIZE, (90, 90, 90)).save(path)
    with pytest.raises(InputError, match="the four corners enclose no four-sided area"):
        photo_scenery(PLAN, path, wrong)
    assert photo_scenery(PLAN, path, [(0, 0), (64, 0), (64, 65), (0, 65)]).gain > 0
    # a little outside is a photograph taken too near
    wide, high = SIZE
    edge = 0.09 * max(SIZE)
    assert photo_scenery(PLAN, path, [(-edge, 0), (wide, 0), (wide, high), (-edge, high)]).gain > 0
    with pytest.raises(InputError, match=rf"lies 900 px outside the photograph, which has {wide}x{high} px"):
        photo_scenery(PLAN, path, [(0, 0), (wide + 900, 0), (wide, high), (0, high)])
    with pytest.raises(InputError, match="opening was not found in the photograph; name its corners"):
        photo_scenery(PLAN, path)


def test_places_are_read_between_pixels_in_runs_of_any_length() -> None:
    """More than the 32767 columns that OpenCV takes; as scipy interpolates."""
    rng = np.random.default_rng(3)
    picture = rng.uniform(0, 1, (20, 30, 3)).astype(np.float32)
    x, y = rng.uniform(-1, 31, (1, 70_000)), rng.uniform(-1, 21, (1, 70_000))
    ours = _remapped(picture, x.astype(np.float32), y.astype(np.float32))
    for channel in range(3):
        theirs = map_coordinates(picture[..., channel], [y[0], x[0]], order=1, mode="nearest")
        # OpenCV counts places in 32nds of a pixel
        assert np.abs(ours[:, channel] - theirs).max() < 0.06
