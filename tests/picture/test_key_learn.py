"""The key as a whole: what is detected, and that the backing goes to exactly 0."""

import cv2
import numpy as np
import pytest

from ghostprep.box import Box
from ghostprep.errors import InputError
from ghostprep.picture import learn_key


def clip(colour: tuple[int, int, int], count: int = 8, sigma: float = 2.0) -> tuple[np.ndarray, np.ndarray]:
    """Return noisy frames of a skin-coloured disc that walks over an even backing, and the disc's mattes."""
    rng = np.random.default_rng(5)
    frames, mattes = [], []
    for i in range(count):
        mask = np.zeros((120, 160), np.float32)
        cv2.circle(mask, ((30 + i * 12) * 16, 60 * 16), 22 * 16, 1, -1, cv2.LINE_AA, 4)
        mask = cv2.GaussianBlur(mask, (0, 0), 0.8)
        picture = mask[..., None] * np.float32([205, 150, 120]) + (1 - mask[..., None]) * np.float32(colour)
        frames.append(np.clip(picture + rng.normal(0, sigma, picture.shape), 0, 255).astype(np.uint8))
        mattes.append(mask)
    return np.stack(frames), np.stack(mattes)


@pytest.mark.parametrize(
    ("kind", "colour"),
    [("green", (40, 170, 70)), ("blue", (30, 60, 190)), ("colour", (150, 30, 120)), ("black", (14, 13, 16))],
)
def test_an_even_backing_is_found_and_goes_to_zero(kind: str, colour: tuple[int, int, int]) -> None:
    frames, mattes = clip(colour)
    key = learn_key(list(frames))
    assert key.backing.kind == kind
    keyed = key.at(None, (160, 120), (160, 120))(frames[3])
    outside = cv2.dilate((mattes[3] > 0).astype(np.uint8), np.ones((21, 21))) == 0
    assert keyed.figure[outside].max() == 0
    assert keyed.matte[outside].max() == 0
    inside = mattes[3] > 0.99
    assert np.abs(keyed.figure[inside].astype(int) - frames[3][inside]).mean() < 2
    assert np.abs(keyed.matte / 255 - mattes[3]).mean() < 0.01


def test_crop_and_scale_take_the_right_part_of_the_plate() -> None:
    frames, _ = clip((40, 170, 70))
    ramp = np.linspace(0.7, 1.2, 160, dtype=np.float32)[None, :, None]
    frames = np.clip(frames * ramp, 0, 255).astype(np.uint8)
    key = learn_key(list(frames))
    crop = Box(40, 20, 80, 60)
    large = cv2.resize(frames[0][20:80, 40:120], (320, 240), interpolation=cv2.INTER_LINEAR)
    keyed = key.at(crop, (160, 120), (320, 240))(large)
    assert keyed.matte[:, 120:].max() == 0


@pytest.mark.parametrize("kind", ["gren", "#12345", "#gggggg", ""])
def test_an_unknown_backing_is_refused(kind: str) -> None:
    with pytest.raises(InputError, match="unknown backing"):
        learn_key([np.zeros((8, 8, 3), np.uint8)], kind=kind)


def test_alpha_that_is_not_there_is_refused() -> None:
    with pytest.raises(InputError, match="no alpha"):
        learn_key([np.zeros((8, 8, 3), np.uint8)], kind="alpha")
