"""A camera that shakes before a room is noticed, and the room is not taken for darkness."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.clip import glance, probe
from ghostprep.picture import Backing, learn_key
from ghostprep.picture.learn.camera import find_shake, steadied
from ghostprep.picture.learn.figure import at_most
from ghostprep.picture.learn.learn import _detected

SAMPLES = Path(__file__).parents[2] / "sample_media"
SIZE = (320, 180)


def room(level: int = 120) -> np.ndarray:
    """A wall with posters, as light as `level`; codes (h, w, 3)."""
    small = np.random.default_rng(8).integers(level // 6, level, (9, 16, 3)).astype(np.uint8)
    return cv2.GaussianBlur(cv2.resize(small, SIZE, interpolation=cv2.INTER_NEAREST), (0, 0), 0.8)


def filmed(plate: np.ndarray, moves: np.ndarray) -> np.ndarray:
    """A disc that walks to and fro before a plate, from a camera that makes these moves, pixels (n, 2)."""
    rng, frames = np.random.default_rng(9), []
    for i, (x, y) in enumerate(moves):
        frame = plate.copy()
        cv2.circle(
            frame, (round(160 + 110 * np.sin(0.4 * i)), 100), 30, (215, 160, 60), cv2.FILLED, cv2.LINE_AA
        )
        way = np.array([[1, 0, x], [0, 1, y]], np.float32)
        frame = cv2.warpAffine(frame, way, SIZE, borderMode=cv2.BORDER_REPLICATE)
        frames.append(np.clip(frame + rng.normal(0, 1.5, frame.shape), 0, 255).astype(np.uint8))
    return np.stack(frames)


def shaken(length: float, count: int = 24, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).normal(0, length / 1.18, (count, 2)).astype(np.float32)


@settings(max_examples=20, deadline=None)
@given(length=st.floats(0.5, 2.5), seed=st.integers(0, 1000))
def test_the_moves_are_found_and_taken_back(length: float, seed: int) -> None:
    moves = shaken(length, seed=seed)
    frames = filmed(room(), moves)
    shake = find_shake(frames)
    # against the usual place, which the median over time has
    off = shake.moves - moves
    assert np.median(np.linalg.norm(off - np.median(off, axis=0), axis=1)) < 0.2
    still = find_shake(steadied(frames, shake))
    assert still.share * max(SIZE) < 0.2


@pytest.mark.parametrize("plate", [room(), np.full((180, 320, 3), 90, np.uint8)], ids=["room", "flat"])
def test_a_camera_on_a_tripod_does_not_shake(plate: np.ndarray) -> None:
    assert find_shake(filmed(plate, np.zeros((24, 2)))).share < 0.0004


def test_much_that_moves_every_way_is_no_shake() -> None:
    rng = np.random.default_rng(2)
    frames = [np.roll(room(), (int(a), int(b)), (0, 1)) for a, b in rng.integers(-60, 60, (24, 2))]
    assert find_shake(np.stack(frames)).share == 0


@pytest.mark.parametrize(("length", "level"), [(0.8, "caution"), (2.0, "fault")])
def test_it_is_said(length: float, level: str) -> None:
    key = learn_key(filmed(room(), shaken(length)), plate=room())
    assert key.backing.moving_camera
    (said,) = (one for one in key.remarks if one.subject == "camera")
    assert said.level == level
    assert "plate fits only where it stands still" in said.text


def test_a_dark_hall_filmed_by_hand_is_no_darkness() -> None:
    glimpses = np.stack([one.frame for one in glance(probe(SAMPLES / "purser_room.mp4"), longest=640)])
    height, width = glimpses.shape[1:3]
    by_hand = [
        cv2.warpAffine(
            frame,
            np.array([[1, 0, x], [0, 1, y]], np.float32),
            (width, height),
            borderMode=cv2.BORDER_REPLICATE,
        )
        for frame, (x, y) in zip(glimpses, shaken(4.0, len(glimpses)), strict=True)
    ]
    steady, key = learn_key(list(glimpses)), learn_key(by_hand)
    # its figure never leaves its place, so there is no plate in it either way
    assert steady.backing.kind == key.backing.kind == "none"
    assert (steady.backing.moving_camera, key.backing.moving_camera) == (False, True)
    assert [one.level for one in key.remarks if one.subject == "camera"] == ["fault"]


@pytest.mark.parametrize(
    ("length", "steady", "taken"), [(4.0, "plate", "plate"), (4.0, "white", "black"), (0.0, "plate", "black")]
)
def test_of_a_shaken_room_the_steadied_glimpses_tell_a_plate(
    length: float, steady: str, taken: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is taken for darkness is looked at again, as it stands still; a plate alone is believed then."""
    frames = filmed(room(), shaken(length) if length else np.zeros((24, 2)))
    small = at_most(frames, 160)

    def told(looked_at: np.ndarray) -> Backing:
        kind = "black" if looked_at is small else steady
        return Backing(kind, None, 0.9, "as this test says")  # type: ignore[arg-type]

    monkeypatch.setattr("ghostprep.picture.learn.learn.detect", told)
    assert _detected(frames, small).kind == taken


def test_a_figure_in_the_dark_stays_one_by_hand() -> None:
    dark = np.full((180, 320, 3), 14, np.uint8)
    assert learn_key(filmed(dark, shaken(4.0))).backing.kind == "black"
