"""On black, light only adds: the figure is what the frame has above the black, and nothing more."""

import cv2
import numpy as np
import pytest

from ghostprep.picture import learn_key

SIZE = (240, 180)
COUNT = 10


def orb(i: int) -> np.ndarray:
    """Return an orb's codes (h, w, 3) at frame i: it drifts, and fades out over 60 px."""
    yy, xx = np.mgrid[: SIZE[1], : SIZE[0]].astype(np.float32)
    far = (xx - 90 - 6 * i) ** 2 + (yy - 90) ** 2
    return (180 * np.exp(-far / (2 * 18**2)))[..., None] * np.float32([1, 0.8, 0.5])


def steady_mist(i: int) -> np.ndarray:
    """Return a bank of mist that never leaves its place and hardly changes."""
    down = np.linspace(0, 1, SIZE[1], dtype=np.float32)[:, None]
    across = 1 + 0.1 * np.sin(np.arange(SIZE[0], dtype=np.float32) / 30 + 0.2 * i)[None]
    return (70 * np.clip(down - 0.3, 0, 1) * across)[..., None] * np.float32([0.8, 1, 0.9])


def filmed(
    light, black: float, noise: float, slope: float = 0.0
) -> tuple[list[np.ndarray], list[np.ndarray]]:
    """Return frames and the true light in them."""
    rng = np.random.default_rng(4)
    level = black * (1 + slope * np.linspace(-1, 1, SIZE[0], dtype=np.float32))[None, :, None]
    true = [light(i) for i in range(COUNT)]
    seen = [level + t + noise * rng.standard_normal(t.shape) for t in true]
    return [np.clip(np.rint(s), 0, 255).astype(np.uint8) for s in seen], true


@pytest.mark.parametrize("light", [orb, steady_mist])
@pytest.mark.parametrize("black", [0, 3, 12])
@pytest.mark.parametrize("noise", [0.0, 1.0, 2.5])
def test_soft_light_is_kept_whole_and_nothing_else(light, black, noise) -> None:
    frames, true = filmed(light, black, noise)
    key = learn_key(frames, kind="black")
    keyer = key.at(None, SIZE, SIZE)
    figure, wanted = keyer(frames[5]).figure.astype(np.float32), true[5]
    high = wanted.max(-1)
    faint = (high > 8) & (high < 60)
    assert figure[faint].sum() == pytest.approx(wanted[faint].sum(), rel=0.1)
    # the profile: no bias anywhere, neither a flattened top nor a bitten rim
    for low, up in ((8, 20), (20, 60), (60, 200)):
        there = (high > low) & (high <= up)
        if there.sum() > 200:
            assert abs(float((figure - wanted)[there].mean())) < 1.2
    bare = cv2.dilate((high > 0.5).astype(np.uint8), np.ones((15, 15))) == 0
    assert np.percentile(figure[bare], 99.9) <= 2


def test_a_slow_slope_of_the_black_goes() -> None:
    frames, true = filmed(orb, 12, 1.0, slope=0.2)
    keyer = learn_key(frames, kind="black").at(None, SIZE, SIZE)
    bare = true[5].max(-1) < 0.3
    assert np.percentile(keyer(frames[5]).figure[bare], 99.9) <= 2


def test_mist_of_one_colour_that_fills_the_picture_is_light_and_no_cloth() -> None:
    def deep(i: int) -> np.ndarray:
        return np.clip(2.5 * steady_mist(i) + 4, 0, 200) * np.float32([0.2, 1, 0.4])

    frames, _ = filmed(deep, 0, 1.0)
    assert learn_key(frames).backing.kind == "black"


def test_a_body_hides_the_black_and_light_is_added_to_it(shoot) -> None:
    shot = shoot((14, 14, 14), reach=50)
    key = learn_key(list(shot.frames))
    assert key.body
    assert not learn_key(filmed(orb, 12, 1.0)[0], kind="black").body
    inside = cv2.erode((shot.mattes[3] > 0.99).astype(np.uint8), np.ones((9, 9))) > 0
    keyed = key.at(None, SIZE, SIZE)(shot.frames[3])
    assert float((keyed.figure[inside].astype(float) - shot.truth[3][inside]).mean()) == pytest.approx(
        0, abs=1
    )
    assert (keyed.matte[inside] > 200).mean() > 0.99


def test_pure_black_is_left_as_it_is() -> None:
    frames, _ = filmed(orb, 0, 0.0)
    keyed = learn_key(frames, kind="black").at(None, SIZE, SIZE)(frames[2])
    assert np.abs(keyed.figure.astype(int) - frames[2]).max() <= 1
