"""The mean of all answers for a pixel, done once more pixel by pixel, with SciPy's solver and filters."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import binary_dilation
from scipy.optimize import lsq_linear

from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.palette import AgainstPlate, Palette
from ghostprep.picture.key.unmix import _BRIGHTER, _OFF, _UNKNOWN, Unmixer

GREEN = np.array([47, 154, 74.0])
SIZE = (40, 56)
COLOURS = np.array([(190, 40, 44), (50, 70, 180), (150, 150, 150.0)])
THROUGH = np.array([0.0, 0.0, 0.45])
PART = np.array([0.3, 0.5, 0.2])
EVERYWHERE = np.ones((3, 3), bool)


def picture() -> tuple[np.ndarray, np.ndarray]:
    """A frame (h, w, 3) of codes, and where it shows nothing but the backing."""
    rng = np.random.default_rng(5)
    codes = np.broadcast_to(GREEN, (*SIZE, 3)).copy()
    codes[6:20, 6:26] = COLOURS[0] * rng.uniform(0.4, 1, (14, 20, 1))
    codes[20:34, 6:26] = COLOURS[1]
    codes[6:34, 32:46] = 0.55 * COLOURS[2] * rng.uniform(0.7, 1, (28, 14, 1)) + 0.45 * GREEN
    codes[6:34, 26:29] = 0.5 * codes[6:34, 23:26] + 0.5 * GREEN
    codes += rng.normal(0, 2, codes.shape)
    empty = np.ones(SIZE, bool)
    empty[4:36, 4:48] = False
    return codes, empty


class Space:
    """Codes or light: what adds up, and the colours in it."""

    def __init__(self, linear: bool) -> None:
        self.curve = Curve("light" if linear else "codes")
        self.green, *rest = self.amounts(np.stack([GREEN, *COLOURS]))
        lights = np.stack(rest)
        lengths = np.linalg.norm(lights, axis=1)
        self.hues, self.brightest = lights / lengths[:, None], lengths * (0.9, 1.0, 0.55)
        self.axis = HueAxis.of(self.green)

    def amounts(self, codes: np.ndarray) -> np.ndarray:
        return np.asarray(self.curve.amounts(np.clip(np.rint(codes), 0, 255).astype(np.uint8)), float)

    def code(self, light: np.ndarray) -> np.ndarray:
        """What a code is worth in light (..., 3), by its largest channel."""
        return self.curve.a_code(light.max(-1))

    def answer(self, pixel: np.ndarray) -> tuple[float, np.ndarray]:
        """The share of the backing in the mean of all answers, and the sum of the figure's light in them."""
        sigma = _OFF * float(self.code(pixel))
        by_hue = float(self.axis.narrow(pixel)) / max(float(self.axis.narrow(self.green)), 1)
        by_hue = float(np.clip(by_hue, 0, 1))
        answers = [(_UNKNOWN, by_hue, pixel - by_hue * self.green)]
        for hue, expected, brightest, through in zip(self.hues, PART, self.brightest, THROUGH, strict=True):
            bell = (pixel @ pixel - (pixel @ hue) ** 2) / sigma**2
            answers.append((expected * np.exp(-min(bell, 60) / 2), 0.0, (pixel @ hue) * hue))
            # the share is cut to its bounds first, then the light
            share = float(np.clip(lsq_linear(np.stack([hue, self.green], 1), pixel).x[1], 0, 1))
            lit = max(float((pixel - share * self.green) @ hue), 0.0)
            off = ((lit * hue + share * self.green - pixel) ** 2).sum() / sigma**2
            pure = brightest / max(1 - through, 0.2)
            beyond = np.log(max(lit / max(1 - share, 0.03) / pure, 1)) / _BRIGHTER
            weight = expected * np.exp(-min(off + beyond**2, 60) / 2)
            answers.append((weight, share, lit * hue))
        total = sum(weight for weight, _, _ in answers)
        light = sum(weight * own for weight, _, own in answers)
        return sum(weight * share for weight, share, _ in answers) / total, light


@pytest.mark.parametrize(("linear", "at_once"), [(False, 60_000), (True, 700)])
def test_each_pixel_is_the_mean_of_all_answers_by_their_weight(
    monkeypatch: pytest.MonkeyPatch, linear: bool, at_once: int
) -> None:
    monkeypatch.setattr("ghostprep.picture.key.unmix._AT_ONCE", at_once)
    space = Space(linear)
    codes, empty = picture()
    light = space.amounts(codes)
    palette = Palette(
        *(np.asarray(x, np.float32) for x in (space.hues, space.brightest, THROUGH, PART, PART))
    )
    scene = AgainstPlate(
        light.astype(np.float32), np.broadcast_to(space.green, light.shape).astype(np.float32)
    )
    share, hue = Unmixer(palette, space.axis, space.curve)(scene, scene, empty)
    around = binary_dilation(~empty, EVERYWHERE)
    for row, column in zip(*np.nonzero(around), strict=True):
        wanted, own = space.answer(light[row, column])
        assert share[row, column] == pytest.approx(wanted, abs=5e-3), (row, column)
        length = np.linalg.norm(own)
        if length > 1e-4:  # else there is nothing but backing
            assert hue[row, column] @ own / length > 0.999, (row, column)
    assert (share[~around] == 1).all()
    assert not hue[~around].any()
