"""What jumps in a part of the picture, beside a figure that moves more than that all the time."""

from fractions import Fraction

import cv2
import numpy as np
import pytest

from ghostprep.loop import ThumbnailStrip, search
from ghostprep.loop.parts import PartMotion
from ghostprep.transfer import codes_to_light, luminance

RATE = Fraction(25)
SIZE = (160, 120)


def dancer_in_smoke(count: int) -> list[np.ndarray]:
    """Return frames (120, 160, 3): a bright bar swings once in two seconds before smoke that drifts on."""
    rng = np.random.default_rng(3)
    cloud = cv2.resize(
        rng.random((200, 12)).astype(np.float32), (SIZE[0], 2400), interpolation=cv2.INTER_CUBIC
    )
    frames = []
    for i in range(count):
        place = SIZE[0] / 2 + 30 * np.sin(2 * np.pi * i / 50)
        frame = np.clip(110 * cloud[2 * i : 2 * i + SIZE[1]] - 30, 0, 255)
        frame = np.dstack([frame] * 3).astype(np.uint8)
        cv2.line(frame, (round(place * 16), 320), (round(place * 16), 1760), (250,) * 3, 22, cv2.LINE_AA, 4)
        frames.append(frame)
    return frames


def strip_of(frames: list[np.ndarray]) -> ThumbnailStrip:
    strip = ThumbnailStrip()
    for frame in frames:
        strip.add(frame)
    return strip


def jump_of(frames: list[np.ndarray], last: int) -> float:
    """Return the jump of the cut from frame `last` to frame 0, each part of the picture by its own motion."""
    greys = [luminance(codes_to_light(frames[i])) for i in (last, 0)]
    return PartMotion(strip_of(frames), 0, last).jump(greys)


def test_smoke_is_not_cut_where_the_dancer_goes_on() -> None:
    """The dancer comes back after 50 frames, and moves more than the smoke jumps; that never does."""
    frames = dancer_in_smoke(200)
    strip = strip_of(frames)
    best = search(strip, RATE, fetch=frames.__getitem__)[0]
    across = np.linalg.norm(strip.vectors(149, 150) - strip.vectors(0, 1)) / np.sqrt(strip.vectors(0, 1).size)
    assert across < np.quantile(strip.steps, 0.95)
    assert best.smooth
    assert best.blend > 0


def test_each_part_is_held_against_its_own_motion() -> None:
    frames = dancer_in_smoke(160)
    without = [np.where(frame > 200, frame, 0).astype(np.uint8) for frame in frames]
    assert jump_of(frames, 149) > 1.5
    assert jump_of(without, 149) < 1.2


@pytest.mark.parametrize("count", [2, 3])
def test_what_stands_still_does_not_jump(count: int) -> None:
    frames = [np.full((SIZE[1], SIZE[0], 3), 90, np.uint8)] * count
    assert jump_of(frames, count - 1) == 0
