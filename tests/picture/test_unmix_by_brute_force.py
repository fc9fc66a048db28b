"""The mean of all answers for a pixel, done once more pixel by pixel, with SciPy's solver and filters."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import binary_dilation, binary_erosion, uniform_filter
from scipy.optimize import lsq_linear

from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.palette import (
    _BRIGHTER,
    _ELSEWHERE,
    _MIXED,
    _OFF,
    _REACHES,
    _SEEN,
    _UNKNOWN,
    DARK,
    AgainstPlate,
    Palette,
    Unmixer,
)

GREEN = np.array([47, 154, 74.0])
SIZE = (40, 56)
COLOURS = np.array([(190, 40, 44), (50, 70, 180), (150, 150, 150.0)])
THROUGH = np.array([0.0, 0.0, 0.45])
WEIGHT = np.array([0.5, 0.2, 0.3])
HUES = COLOURS / np.linalg.norm(COLOURS, axis=1, keepdims=True)
BRIGHTEST = np.linalg.norm(COLOURS, axis=1) * (0.9, 1.0, 0.55)
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


def near(codes: np.ndarray, empty: np.ndarray) -> list[np.ndarray]:
    """How much each hue is expected at each place: where it shows without doubt, and around there."""
    rest = codes[None] - THROUGH[:, None, None, None] * GREEN
    own = np.maximum(np.einsum("khwc,kc->khw", rest, HUES), 0)
    off = (rest**2).sum(-1) - own**2
    shows = (off.min(0) < _SEEN**2) & ((codes**2).sum(-1) > DARK**2) & ~empty
    found = []
    for k in range(len(HUES)):
        seen = binary_erosion(shows & (off.argmin(0) == k), EVERYWHERE, border_value=1).astype(float)
        parts = [much * uniform_filter(seen, reach, mode="mirror") for reach, much in _REACHES]
        found.append(_ELSEWHERE * WEIGHT[k] + sum(parts))
    return found


def answer(pixel: np.ndarray, here: list[float], axis: HueAxis) -> tuple[float, np.ndarray]:
    """The share of the backing, and the direction of the figure's light, in the mean of all answers."""
    by_hue = np.clip(float(axis.narrow(pixel)) / float(axis.narrow(GREEN)), 0, 1)
    answers = [(_UNKNOWN, by_hue, pixel - by_hue * GREEN)]
    for k, hue in enumerate(HUES):
        bell = (pixel @ pixel - (pixel @ hue) ** 2) / _OFF**2
        answers.append((here[k] * np.exp(-min(bell, 60) / 2), 0.0, (pixel @ hue) * hue))
        # the share is cut to its bounds first, then the light
        whole = lsq_linear(np.stack([hue, GREEN], 1), pixel).x
        share = float(np.clip(whole[1], 0, 1))
        lit = max(float((pixel - share * GREEN) @ hue), 0.0)
        off = ((lit * hue + share * GREEN - pixel) ** 2).sum() / _OFF**2
        pure = BRIGHTEST[k] / max(1 - THROUGH[k], 0.2)
        beyond = np.log(max(lit / max(1 - share, 0.03) / pure, 1)) / _BRIGHTER
        weight = here[k] * _MIXED * np.exp(-min(off + beyond**2, 60) / 2)
        answers.append((weight, share, lit * hue))
    total = sum(weight for weight, _, _ in answers)
    light = sum(weight * own for weight, _, own in answers)
    return sum(weight * share for weight, share, _ in answers) / total, light / np.linalg.norm(light)


def test_each_pixel_is_the_mean_of_all_answers_by_their_weight() -> None:
    codes, empty = picture()
    axis = HueAxis.of(GREEN)
    palette = Palette(*(np.asarray(x, np.float32) for x in (HUES, WEIGHT, BRIGHTEST, THROUGH)))
    scene = AgainstPlate(codes.astype(np.float32), np.broadcast_to(GREEN, codes.shape).astype(np.float32))
    share, hue = Unmixer(palette, axis, Curve(linear=False))(scene, scene, empty)
    expected = near(codes, empty)
    around = binary_dilation(~empty, EVERYWHERE)
    for row, column in zip(*np.nonzero(around), strict=True):
        wanted, way = answer(codes[row, column], [one[row, column] for one in expected], axis)
        assert share[row, column] == pytest.approx(wanted, abs=5e-3), (row, column)
        assert hue[row, column] @ way > 0.999, (row, column)
    assert (share[~around] == 1).all()
    assert not hue[~around].any()
