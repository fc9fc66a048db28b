"""Which frames are shown, where the join is looked for, how bright: by hand and in closed form."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from ghostprep.eye.display import exposure, shoulder
from ghostprep.eye.report import FileRun, Join, find_join, parts_of


@pytest.mark.parametrize(
    ("loop", "whole", "parts"),
    [
        (50, 200, [FileRun(0, 50)]),
        (50, 50, [FileRun(0, 50)]),
        (1, 1, [FileRun(0, 1)]),
        (50, 201, []),
        (0, 200, []),
        (-50, 200, []),
        (None, 200, []),
        (50, None, []),
    ],
)
def test_one_repeat_is_shown_where_repeats_fill_the_file(loop: Any, whole: Any, parts: list[FileRun]) -> None:
    assert parts_of({"loop": {"frames": loop}, "output": {"frames": whole}}) == parts


def test_each_ghost_is_shown_once_with_six_dark_frames() -> None:
    shown = [
        {"ghost": 1, "start": 100, "stop": 140},
        {"ghost": 0, "start": 4, "stop": 50},
        {"ghost": 1, "start": 200, "stop": 240},
    ]
    report = {"schedule": {"appearances": shown}, "ghosts": [{"source": {"name": "purser"}}]}
    assert parts_of(report) == [FileRun(0, 56, "purser"), FileRun(94, 146, "ghost 2")]
    assert parts_of({"schedule": {"appearances": [{"ghost": 0}]}}) == []


@pytest.mark.parametrize(
    ("told", "steps", "join"),
    [
        ([2, 3, 4, 7], [0, 0, 5, 9, 5, 0, 0, 1, 0, 0], Join((2, 3, 4, 7, 9), 2, 4)),
        ([8, 9, 0, 1, 5], [3, 3, 0, 0, 0, 2, 0, 0, 3, 9], Join((0, 1, 5, 8, 9), 8, 1)),
        ([0, 10, -1, "x"], [9, 0, 0, 0, 0, 0, 0, 0, 0, 0], Join((0, 9), 0, 0)),
        ([], [9, 0, 0], Join((2,), 2, 2)),
        (None, [9, 0, 0], Join((2,), 2, 2)),
        ([0, 1, 2], [1, 5, 1], Join((0, 1, 2), 2, 1)),
    ],
)
def test_the_run_of_steps_round_the_largest(told: Any, steps: list[float], join: Join) -> None:
    assert find_join({"loop": {"join_steps": told}}, steps) == join


def test_a_file_of_several_ghosts_has_only_its_end() -> None:
    assert find_join({"schedule": {}, "loop": {"join_steps": [0]}}, [9, 0, 0]) == Join((2,), 2, 2)


def test_the_brighter_of_ghost_and_paper_is_put_at_85_percent() -> None:
    assert exposure(90, 10, 0.4) == pytest.approx(0.85 / 100)
    assert exposure(5, 10, 0.4) == pytest.approx(0.85 / 20)
    assert exposure(0, 0, 0.4) == pytest.approx(0.85e6)


def test_highlights_bend_smoothly_and_stay_below_white() -> None:
    shares = np.array([0.3, 0.7, 0.7001, 1.0, 2.0], np.float32)
    bent = [1 - 0.3 * math.exp((0.7 - share) / 0.3) for share in (0.7001, 1.0, 2.0)]
    np.testing.assert_allclose(shoulder(shares), [0.3, 0.7, *bent], rtol=1e-6)
