"""A plate that was given is brought onto the clip where the camera was touched or the light changed."""

from __future__ import annotations

import math
import re

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from skimage.transform import AffineTransform, warp

from ghostprep.errors import InputError
from ghostprep.picture import learn_key
from ghostprep.picture.learn.plate_match import _moved, matched
from ghostprep.transfer import codes_to_light, light_to_codes

SIZE = (320, 240)
MIDDLE = (slice(24, -24), slice(32, -32))
"""What every move of these tests leaves in the picture."""


def hall(grain: int = 10) -> np.ndarray:
    """A wall of patches, light and dark, with soft edges; codes (h, w, 3)."""
    rng = np.random.default_rng(5)
    small = rng.integers(40, 200, (SIZE[1] // grain, SIZE[0] // grain, 3)).astype(np.uint8)
    return cv2.GaussianBlur(cv2.resize(small, SIZE, interpolation=cv2.INTER_NEAREST), (0, 0), 1.2)


def clip_before(plate: np.ndarray, count: int = 16) -> np.ndarray:
    """A disc of a colour of its own that crosses the picture before a plate, with noise."""
    rng, frames = np.random.default_rng(6), []
    for i in range(count):
        frame = plate.copy()
        cv2.circle(frame, (30 + 17 * i, 130), 34, (225, 60, 130), cv2.FILLED, cv2.LINE_AA)
        frames.append(np.clip(frame + rng.normal(0, 1.5, frame.shape), 0, 255).astype(np.uint8))
    return np.stack(frames)


def taken(plate: np.ndarray, move: AffineTransform, gain: float = 1.0) -> np.ndarray:
    """The plate from a camera that was moved, in other light. scikit-image moves it."""
    moved = warp(plate, move, order=3, mode="edge", preserve_range=True)
    light = codes_to_light(np.clip(np.rint(moved), 0, 255).astype(np.uint8)) * np.float32(gain)
    return light_to_codes(light)


def apart(a: np.ndarray, b: np.ndarray) -> float:
    """Root of the mean square difference in the middle, codes."""
    difference = a[MIDDLE].astype(np.float32) - b[MIDDLE].astype(np.float32)
    return float(np.sqrt(np.mean(difference**2)))


@settings(max_examples=25, deadline=None)
@given(
    x=st.floats(-9, 9),
    y=st.floats(-7, 7),
    turned=st.floats(-1.5, 1.5),
    larger=st.floats(0.98, 1.03),
    gain=st.floats(0.75, 1.25),
)
def test_a_touched_camera_and_another_light_are_made_good(
    x: float, y: float, turned: float, larger: float, gain: float
) -> None:
    plate = hall()
    move = AffineTransform(scale=larger, rotation=math.radians(turned), translation=(x, y))
    picture = taken(plate, move, gain)
    match = matched(picture.astype(np.float32), clip_before(plate))
    assert apart(match.picture, plate) < max(3.5, 0.25 * apart(picture, plate))
    corners = np.array([(a, b) for a in (0, SIZE[0]) for b in (0, SIZE[1])], float)
    far = np.linalg.norm(move(corners) - corners, axis=1).max() / SIZE[0]
    assert match.moved == pytest.approx(far, abs=0.004)
    if abs(gain - 1) > 0.06:
        assert match.gain == pytest.approx(1 / gain, rel=0.04)


@pytest.mark.parametrize("move", [0.35, 0.45, 0.6])
def test_half_a_pixel_is_made_good(move: float) -> None:
    """Left alone, it would leave four codes at a room's edges."""
    plate = hall()
    picture = taken(plate, AffineTransform(translation=(0, move))).astype(np.float32)
    match = matched(picture, clip_before(plate))
    assert match.moved == pytest.approx(move / SIZE[0], abs=2e-4)
    assert apart(match.picture, plate) < 0.2 * apart(picture, plate)


def test_a_plate_that_fits_is_left_as_it_is() -> None:
    plate = hall().astype(np.float32)
    match = matched(plate, clip_before(hall()))
    assert match.picture is plate
    assert (match.moved, match.gain) == (0.0, 1.0)


def test_a_plate_finer_than_the_glimpses_moves_at_its_own_size() -> None:
    plate = hall()
    fine = cv2.resize(plate, (960, 720), interpolation=cv2.INTER_CUBIC)
    picture = taken(fine, AffineTransform(translation=(18, -9)))
    match = matched(picture.astype(np.float32), clip_before(plate))
    assert match.picture.shape == fine.shape
    inner = (slice(60, -60), slice(60, -60))
    assert np.abs(match.picture[inner] - fine[inner]).mean() < 1.0
    assert match.moved == pytest.approx(math.hypot(18, 9) / 960, abs=0.002)


@pytest.mark.parametrize("finer", [1, 2, 3])
def test_a_move_is_about_the_same_places_at_any_size(finer: int) -> None:
    """The middle of pixel 0 lies at 0.5 of its width; a picture that rises evenly shows where it was read."""
    way = np.float32([[0.9, -0.35, 20.0], [0.35, 0.9, -25.0]])
    rows, columns = np.mgrid[: SIZE[1] * finer, : SIZE[0] * finer].astype(np.float32)
    ramp = np.dstack([columns, rows, columns + rows]) * np.float32(200 / (560 * finer))
    moved = _moved(ramp, way, SIZE)
    row, column = 90 * finer, 130 * finer
    small = np.array([(column + 0.5) / finer - 0.5, (row + 0.5) / finer - 0.5])
    x, y = ((way[:, :2] @ small + way[:, 2]) + 0.5) * finer - 0.5
    expected = np.array([x, y, x + y]) * 200 / (560 * finer)
    assert moved[row, column] == pytest.approx(expected, abs=0.3 * 200 / (560 * finer))


def test_what_has_changed_since_a_fine_plate_was_taken_is_the_clips() -> None:
    """A shadow of eight codes on a part of the wall; the wall's detail stays the plate's."""
    plate = hall().astype(np.float32)
    fine = cv2.resize(plate, (960, 720), interpolation=cv2.INTER_CUBIC)
    fine += 4 * (np.indices((720, 960)).sum(0) % 2 * 2 - 1)[..., None]
    shaded = plate.copy()
    shaded[60:180, 20:120] -= 8
    key = learn_key(
        clip_before(np.clip(shaded, 0, 255).astype(np.uint8)), plate=np.clip(fine, 0, 255).astype(np.uint8)
    )
    assert key.plate is not None
    assert key.plate.shape == fine.shape
    change = key.plate - np.clip(fine, 0, 255)
    assert change[240:480, 120:300].mean() == pytest.approx(-8, abs=1)
    assert change[240:480, 500:900].mean() == pytest.approx(0, abs=1)
    # neighbours differ as in the fine picture
    assert np.abs(np.diff(key.plate[240:480, 500:900], axis=1)).mean() > 6


@pytest.mark.parametrize("what", ["mirrored", "flat", "flat clip", "restless"])
def test_what_has_nothing_in_common_is_not_moved(what: str) -> None:
    plate = hall()
    frames = clip_before(np.full_like(plate, 90) if what == "flat clip" else plate)
    if what == "restless":
        frames = np.random.default_rng(1).integers(0, 255, frames.shape).astype(np.uint8)
    picture = {"mirrored": plate[:, ::-1], "flat": np.full_like(plate, 90)}.get(what, plate)
    match = matched(np.ascontiguousarray(picture).astype(np.float32), frames)
    assert match.moved == 0
    assert np.isfinite(match.picture).all()


def test_the_key_is_as_good_as_with_a_plate_that_fits() -> None:
    plate = hall()
    frames = clip_before(plate)
    touched = taken(plate, AffineTransform(translation=(5, -3)), 0.85)
    right, good, bad = (
        learn_key(frames, plate=picture).at(None, SIZE, SIZE)(frames[8]).matte
        for picture in (plate, touched, hall(12))
    )
    assert np.abs(good.astype(int) - right)[MIDDLE].mean() < 1.0
    assert np.abs(bad.astype(int) - right)[MIDDLE].mean() > 50


def test_what_was_made_good_and_what_was_not_is_said() -> None:
    plate = hall()
    frames = clip_before(plate)
    touched = taken(plate, AffineTransform(translation=(8, 0)), 0.8)
    (said,) = (one for one in learn_key(frames, plate=touched).remarks if one.subject == "plate")
    assert said.level == "note"
    assert re.search(r"by 2\.5% of the picture's width and with 0\.8[01] times the clip's light", said.text)
    (said,) = (one for one in learn_key(frames, plate=hall(12)).remarks if one.subject == "plate")
    assert said.level == "fault"
    assert "never looks like the plate" in said.text
    assert not [one for one in learn_key(frames, plate=plate).remarks if one.subject == "plate"]


def test_a_plate_of_another_shape_is_refused() -> None:
    with pytest.raises(InputError, match=r"is 1\.00 times as wide as high, and the clip 1\.33 times"):
        learn_key(clip_before(hall()), plate=hall()[:, :240])
