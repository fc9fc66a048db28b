"""The share is smoothed over two samples of the clip's chroma, however small the frames that are keyed."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from ghostprep.picture import learn_key

GREEN, COAT, LINE = (0, 177, 64), (60, 70, 130), (12, 10, 14)
SIZE = (960, 720)


def drawing(x: int) -> np.ndarray:
    """A coat with a dark outline, as a program draws it."""
    frame = np.full((SIZE[1], SIZE[0], 3), GREEN, np.uint8)
    cv2.ellipse(frame, (x, 380), (170, 260), 0, 0, 360, COAT, -1, cv2.LINE_AA)
    cv2.ellipse(frame, (x, 380), (170, 260), 0, 0, 360, LINE, 8, cv2.LINE_AA)
    return frame


@pytest.mark.parametrize("times", [1, 2, 4])
def test_a_coat_within_its_outline_keeps_its_green(times: int) -> None:
    frames = [drawing(x) for x in range(380, 580, 25)]
    key = learn_key([cv2.resize(f, (640, 480), interpolation=cv2.INTER_AREA) for f in frames])
    size = (SIZE[0] // times, SIZE[1] // times)
    figure = key.at(None, SIZE, size)(cv2.resize(frames[3], size, interpolation=cv2.INTER_AREA)).codes
    inside = np.zeros(frames[0].shape[:2], np.uint8)
    cv2.ellipse(inside, (455, 380), (158, 248), 0, 0, 360, 1, -1)
    coat = cv2.resize(inside, size, interpolation=cv2.INTER_AREA) > 0
    wrong = np.abs(figure[coat].astype(int) - COAT).max()
    assert wrong <= 4
