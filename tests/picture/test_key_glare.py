"""The figure's blacks tell what of the backing's light the lens scatters over it, and that is taken out."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from ghostprep.picture import learn_key
from ghostprep.transfer import codes_to_light, light_to_codes

SIZE = (320, 240)
GREEN, BLUE = (47, 154, 74), (39, 70, 168)
SKIN, COAT = (205, 160, 130), (90, 60, 40)


def filmed(
    backing: tuple[int, int, int], glare: float, blacks: float, high: int = 65, wide: int = 70
) -> np.ndarray:
    """Frames of a brown coat with skin above and trousers of so much light below, glare over all."""
    rng = np.random.default_rng(11)
    behind = codes_to_light(np.array(backing, np.uint8))
    frames = []
    for i in range(12):
        light = np.tile(behind, (240, 320, 1)).astype(np.float32)
        x = 120 + 6 * i
        for top, bottom, own in ((40, 90, SKIN), (90, 160, COAT)):
            light[top:bottom, x : x + wide] = codes_to_light(np.array(own, np.uint8))
        light[160 : 160 + high, x : x + wide] = blacks
        light = cv2.GaussianBlur(light, (0, 0), 0.8) + np.float32(glare) * behind
        noise = rng.normal(0, 1.5, light.shape)
        frames.append(np.clip(np.rint(light_to_codes(light) + noise), 0, 255).astype(np.uint8))
    return np.stack(frames)


@pytest.mark.parametrize("backing", [GREEN, BLUE])
@pytest.mark.parametrize("glare", [0.03, 0.06])
def test_blacks_tell_the_glare_and_skin_is_rid_of_it(backing: tuple[int, int, int], glare: float) -> None:
    frames = filmed(backing, glare, 0)
    key = learn_key(list(frames))
    # the plate, too, is that much brighter than the backing
    assert key.glare == pytest.approx(glare / (1 + glare), rel=0.12)
    assert [finding.level for finding in key.remarks if finding.subject == "glare"] == ["note"]
    figure = key.at(None, SIZE, SIZE)(frames[6]).codes
    skin, coat = figure[55:80, 170:212].mean((0, 1)), figure[105:145, 170:212].mean((0, 1))
    np.testing.assert_allclose(skin, SKIN, atol=1.5)
    np.testing.assert_allclose(coat, COAT, atol=2.5)


@pytest.mark.parametrize("blacks", [0.02, 0.1])
def test_cloth_that_is_not_black_tells_nothing(blacks: float) -> None:
    key = learn_key(list(filmed(GREEN, 0.03, blacks)))
    assert key.glare == 0


def test_few_blacks_tell_it_among_much_that_is_not_black() -> None:
    """They are a tenth of the figure, and a hundredth of the picture."""
    key = learn_key(list(filmed(GREEN, 0.05, 0, high=20)))
    assert key.glare == pytest.approx(0.05 / 1.05, rel=0.15)


def test_too_small_a_figure_tells_nothing() -> None:
    """Its blacks must be 200 of the pixels that are looked at: 191 are not enough, 509 are."""
    assert learn_key(list(filmed(GREEN, 0.05, 0, wide=14))).glare == 0
    assert learn_key(list(filmed(GREEN, 0.05, 0, wide=24))).glare == pytest.approx(0.05 / 1.05, rel=0.15)


def test_no_glare_is_found_where_none_is() -> None:
    assert learn_key(list(filmed(GREEN, 0, 0))).glare == 0


def test_the_backing_stays_black() -> None:
    frames = filmed(GREEN, 0.05, 0)
    keyed = learn_key(list(frames)).at(None, SIZE, SIZE)(frames[3])
    assert not keyed.codes[:, :100].any()
    assert not keyed.matte[:, 260:].any()
