"""What lies beside the figure and cannot be keyed is said: marks on the cloth, and where the cloth ends."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from ghostprep.picture import Key, learn_key
from ghostprep.picture.learn.remarks_outside import on_cut, on_marks

GREEN = (47, 154, 74)


def cautions(key: Key) -> list[str]:
    return [finding.text for finding in key.remarks if finding.level == "caution"]


def figure(*boxes: tuple[int, int, int, int]) -> np.ndarray:
    matte = np.zeros((180, 240), np.uint8)
    for left, top, right, bottom in boxes:
        matte[top:bottom, left:right] = 255
    return matte


def test_marks_that_stay_lit_are_named(shoot: Callable[..., Any]) -> None:
    shot = shoot(GREEN, uneven=0.3, count=12)
    frames = shot.frames.copy()
    for x in range(16, 236, 70):
        frames[:, 8:14, x : x + 4] = (225, 222, 214)
    key = learn_key(list(frames))
    assert [text for text in cautions(key) if "small things stay lit" in text]
    assert not [text for text in cautions(learn_key(list(shot.frames))) if "lit" in text]


def test_a_figure_that_ends_with_the_cloth_is_named(shoot: Callable[..., Any]) -> None:
    shot = shoot(GREEN, reach=50)
    floor = np.random.default_rng(3).integers(84, 96, (40, 240, 3), dtype=np.uint8)
    frames = shot.frames.copy()
    # shoes that never leave their place look like floor to any key
    frames[:, 140:] = floor
    said = [text for text in cautions(learn_key(list(frames))) if "ends" in text]
    assert said == ["the figure is cut off where the backing ends, at its lower edge"]
    whole = [text for text in cautions(learn_key(list(shot.frames))) if "cut away" in text]
    assert whole == []


@pytest.mark.parametrize(
    ("boxes", "count"),
    [
        ([(80, 20, 140, 160)], 0),
        ([(80, 20, 140, 160), (200, 40, 204, 44)], 1),
        # a hat thrown far is as large as a part of the figure, a hand beside it is a part
        ([(80, 20, 140, 160), (190, 40, 230, 80)], 0),
        ([(80, 20, 140, 160), (143, 40, 147, 44)], 0),
    ],
)
def test_what_counts_as_a_mark(boxes: list[tuple[int, int, int, int]], count: int) -> None:
    assert len(on_marks([figure(*boxes)] * 4)) == count


def test_once_is_chance() -> None:
    plain, marked = figure((80, 20, 140, 160)), figure((80, 20, 140, 160), (200, 40, 204, 44))
    assert on_marks([plain, plain, plain, marked]) == []


def test_a_figure_that_goes_on_beyond_the_cloth_is_not_cut() -> None:
    outside = np.zeros((180, 240), np.float32)
    outside[150:] = 1
    assert len(on_cut([figure((80, 20, 140, 150))] * 4, outside)) == 1
    assert on_cut([figure((80, 20, 140, 175))] * 4, outside) == []
    assert on_cut([figure((80, 20, 140, 140))] * 4, outside) == []


def test_a_hem_beside_it_is_not_the_figure() -> None:
    """Half of what meets the cloth's end must go on past it, and right there."""
    outside = np.zeros((180, 240), np.float32)
    outside[150:] = 1
    assert len(on_cut([figure((80, 20, 140, 150), (126, 150, 160, 175))] * 4, outside)) == 1
    assert on_cut([figure((80, 20, 140, 150), (90, 150, 130, 175))] * 4, outside) == []


def test_what_meets_the_cloths_end_over_three_hundredths_of_the_width_is_cut_there() -> None:
    """7.2 of 240 pixels; in three of four pictures, so that it is no chance."""
    outside = np.zeros((180, 240), np.float32)
    outside[150:] = 1
    narrow, wide = figure((80, 20, 87, 150)), figure((80, 20, 88, 150))
    assert on_cut([narrow] * 4, outside) == []
    assert len(on_cut([wide] * 4, outside)) == 1
    assert len(on_cut([wide] * 3 + [narrow], outside)) == 1
    assert on_cut([wide] * 2 + [narrow] * 2, outside) == []


@pytest.mark.parametrize("side", ["left", "right", "upper", "lower"])
def test_the_side_at_which_a_figure_is_cut_is_named(side: str) -> None:
    outside = np.ones((180, 240), np.float32)
    outside[30:150, 40:200] = 0
    box = {
        "left": (40, 60, 90, 100), "right": (150, 60, 200, 100), "upper": (100, 30, 140, 80),
        "lower": (100, 90, 140, 150),
    }[side]  # fmt: skip
    (found,) = on_cut([figure(box)] * 4, outside)
    assert f"at its {side} edge" in found.text
