"""Marks on cloth before a moving camera go; what is thrown, or floats beside the figure, stays."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import cv2
import numpy as np
import pytest

from ghostprep.box import Box
from ghostprep.picture import Key, learn_key

GREEN = (47, 154, 74)
TAPE, RED = (225, 222, 214), (190, 40, 36)
SIZE = (240, 180)
PAN = 24
"""Pixels by which the camera moves from frame to frame."""

Dot = tuple[float, float, tuple[int, int, int]]


def dotted(frames: np.ndarray, dots: Callable[[int], Iterable[Dot]]) -> np.ndarray:
    """Draw small round things into each frame."""
    out = frames.copy()
    for i, frame in enumerate(out):
        for x, y, colour in dots(i):
            cv2.circle(frame, (round(x), round(y)), 3, colour, -1, cv2.LINE_AA)
    return out


def tape(i: int) -> list[Dot]:
    """Marks at uneven distances on cloth that the camera passes."""
    return [
        (x - PAN * i, 10 + 5 * (n % 3), TAPE) for n, x in enumerate((10, 78, 170, 225, 310, 384, 450, 506))
    ]


def balls(i: int) -> list[Dot]:
    """Three balls, thrown up each at its own time."""
    return [(40 + 9 * n + 5 * i, 20 + 90 * abs(np.sin(1.1 * i + 2 * n)), RED) for n in range(3)]


def companions(i: int) -> list[Dot]:
    """Two lights that float beside the figure and keep its pace."""
    x = 120 + 90 * (i / 11 - 0.5) * 1.5
    return [(x - 48, 60, TAPE), (x + 50, 84, TAPE)]


@pytest.fixture(scope="module")
def frames(shoot: Callable[..., Any]) -> np.ndarray:
    return np.asarray(shoot(GREEN, uneven=0.3, pan=PAN, count=12).frames)


def lit(key: Key, frame: np.ndarray, dots: Iterable[Dot], colour: tuple[int, int, int]) -> list[bool]:
    """Return which of the dots of a colour are lit, of those well apart from the figure and the border."""
    matte = key.at(None, SIZE, SIZE)(frame).matte
    places = [(round(x), round(y)) for x, y, c in dots if c == colour and 8 < x < 232]
    figure = cv2.dilate((cv2.medianBlur(matte, 15) > 0).astype(np.uint8), np.ones((15, 15))) > 0
    return [bool(matte[y, x] > 127) for x, y in places if not figure[y, x]]


def cautions(key: Key) -> str:
    return "; ".join(finding.text for finding in key.remarks if finding.level == "caution")


def test_marks_go_and_it_is_said(frames: np.ndarray) -> None:
    marked = dotted(frames, tape)
    key, plain = learn_key(list(marked)), learn_key(list(frames))
    assert key.marks is not None
    assert plain.marks is None
    assert "move with the backing" in cautions(key)
    assert "stay lit" not in cautions(key)
    for i, frame in enumerate(marked):
        assert not any(lit(key, frame, tape(i), TAPE))
    # the figure is what it was
    inside = plain.at(None, SIZE, SIZE)(frames[6]).matte == 255
    assert key.at(None, SIZE, SIZE)(marked[6]).matte[inside].min() == 255


def test_they_go_at_any_crop_and_scale(frames: np.ndarray) -> None:
    marked = dotted(frames, tape)
    keyer = learn_key(list(marked)).at(Box(0, 0, 160, 120), SIZE, (320, 240))
    large = cv2.resize(marked[9][:120, :160], (320, 240), interpolation=cv2.INTER_LINEAR)
    # the figure has gone on to the right by then
    assert not keyer(large).matte[:70, :200].any()


def test_what_is_thrown_stays_among_marks(frames: np.ndarray) -> None:
    both = dotted(dotted(frames, tape), balls)
    key = learn_key(list(both))
    assert key.marks is not None
    seen = [one for i, frame in enumerate(both) for one in lit(key, frame, balls(i), RED)]
    assert len(seen) > 12
    assert all(seen)
    for i, frame in enumerate(both[:4]):
        # a mark that a ball flies past is one thing with it
        alone = [a for a in tape(i) if all(np.hypot(a[0] - b[0], a[1] - b[1]) > 12 for b in balls(i))]
        assert not any(lit(key, frame, alone, TAPE))


@pytest.mark.parametrize("dots", [balls, companions])
def test_without_marks_nothing_is_taken_for_one(dots: Callable[[int], list[Dot]], frames: np.ndarray) -> None:
    key = learn_key(list(dotted(frames, dots)))
    assert key.backing.moving_camera
    assert key.marks is None
