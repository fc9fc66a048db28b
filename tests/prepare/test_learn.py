"""A cluttered room is taken away to its finest detail, its picture given or found in the clip."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import cv2
import numpy as np
import pytest

from ghostprep.clip import Footage, probe, read_frames, write_frames
from ghostprep.prepare.learn import learn, read_picture
from ghostprep.prepare.recipe import Recipe

SAMPLES = Path(__file__).parents[2] / "sample_media"
X264 = ("-c:v", "libx264", "-preset", "veryfast", "-crf", "19", "-pix_fmt", "yuv420p", "-g", "12")
SIZE = (1280, 720)


@pytest.fixture(scope="module")
def walker(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, np.ndarray]:
    """The ticket hall, through which a bright shape walks; and where it is in the middle frame."""
    hall = read_picture(SAMPLES / "purser_room_plate.jpg").astype(np.float32)
    noise = np.random.default_rng(3)
    places = np.linspace(-200, 1480, 48).round().astype(int)

    def matte(middle: int) -> np.ndarray:
        drawn = np.zeros((SIZE[1], SIZE[0]), np.uint8)
        cv2.ellipse(drawn, (middle, 420), (90, 250), 0, 0, 360, 255, -1)
        return cv2.GaussianBlur(drawn, (0, 0), 1.0)

    def frames():
        for middle in places:
            share = matte(int(middle))[..., None].astype(np.float32) / 255
            shown = hall * (1 - share) + np.float32([235, 120, 60]) * share
            grain = noise.normal(0, 2, shown.shape).astype(np.float32)
            yield np.clip(shown + grain, 0, 255).astype(np.uint8)

    path = tmp_path_factory.mktemp("hall") / "walker.mp4"
    write_frames(path, frames(), size=SIZE, rate=Fraction(12), arguments=X264)
    return path, matte(int(places[24]))


@pytest.mark.parametrize("given", [True, False])
def test_nothing_of_the_room_is_left_at_the_clips_own_size(
    walker: tuple[Path, np.ndarray], given: bool
) -> None:
    path, truth = walker
    facts = probe(path)
    plate = SAMPLES / "purser_room_plate.jpg" if given else None
    key = learn(Footage(facts), Recipe(plate=plate))
    assert key.backing.kind == "plate"
    assert key.plate is not None
    assert key.plate.shape[:2] == (SIZE[1], SIZE[0])
    with read_frames(facts, start=24, stop=25) as stream:
        (frame,) = list(stream)
    keyed = key.at(None, SIZE, SIZE)(frame)
    away = cv2.dilate(truth, np.ones((17, 17))) == 0
    lit = keyed.codes.max(axis=2) > 8
    # learned at half the size, a fiftieth of the hall showed through
    assert lit[away].mean() < 5e-4
    assert (keyed.matte[truth == 255] > 200).mean() > 0.99


def test_a_fade_in_and_out_does_not_hide_the_backing(
    make_letter_clip: Callable[..., Path], tmp_path: Path
) -> None:
    """A quarter of the pictures is darker, the backing too."""
    faded = ("-vf", "fade=in:0:15,fade=out:105:15", *X264)
    facts = probe(make_letter_clip(tmp_path / "faded.mp4", frames=120, arguments=faded))
    with Footage(facts) as footage:
        assert learn(footage, Recipe()).backing.kind == "green"
