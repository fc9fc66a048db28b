"""The rough key finds a figure's box within a pixel, whatever the backing, and nothing where nothing is."""

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.picture import Backing, Key
from ghostprep.prepare.figure import measured

FULL, SMALL = (640, 360), (160, 90)
BACKINGS = {"green": (50, 160, 70), "blue": (40, 70, 190), "white": (235, 235, 235), "plate": (90, 80, 70)}


def key_of(kind: str) -> tuple[Key, np.ndarray]:
    plate = np.full((FULL[1], FULL[0], 3), BACKINGS[kind], np.float32)
    if kind == "plate":
        plate[:, ::40] += 60  # a room's own edges
    noise = np.full(plate.shape[:2], 2.0, np.float32)
    return Key(Backing(kind, None, 1.0, "as told"), plate.copy(), noise), plate  # type: ignore[arg-type]


def seen(kind: str, box: tuple[int, int, int, int] | None, seed: int = 0) -> np.ndarray:
    key, frame = key_of(kind)
    if box is not None:
        left, top, right, bottom = box
        frame[top:bottom, left:right] = (200, 40, 60)
    frame = frame + np.random.default_rng(seed).normal(0, 2, frame.shape)
    codes = np.clip(np.rint(frame), 0, 255).astype(np.uint8)
    small = np.asarray(cv2.resize(codes, SMALL, interpolation=cv2.INTER_AREA), np.uint8)
    return measured(key.rough(FULL, SMALL)(small), FULL)


@settings(deadline=None, max_examples=25)
@given(st.sampled_from(sorted(BACKINGS)), st.integers(40, 200), st.integers(40, 120), st.integers(0, 99))
def test_the_box_is_found_within_a_small_pixel(kind: str, left: int, top: int, seed: int) -> None:
    box = (left, top, left + 150, top + 201)
    row = seen(kind, box, seed)
    # a small pixel is four of the source's; chroma across the backing's hue shifts an edge a little
    assert np.abs(row[4:8] - box).max() < 3
    assert (row[:2] <= np.array(box[:2]) + 1).all()
    assert (row[2:4] >= np.array(box[2:]) - 1).all()


@pytest.mark.parametrize("kind", sorted(BACKINGS))
def test_bare_backing_shows_no_figure(kind: str) -> None:
    row = seen(kind, None)
    assert np.isnan(row[:8]).all()
    assert row[8] == 0


@pytest.mark.parametrize("kind", ["green", "blue"])
def test_a_shadow_on_the_cloth_is_no_figure_and_a_change_of_a_plate_is(kind: str) -> None:
    for darkened, shows in ((kind, False), ("plate", True)):
        key, frame = key_of(darkened)
        frame[100:200, 200:300] *= 0.88  # of the backing's chroma, more than .85 is left
        small = cv2.resize(np.rint(frame).astype(np.uint8), SMALL, interpolation=cv2.INTER_AREA)
        assert key.rough(FULL, SMALL)(small).matte.any() == shows
