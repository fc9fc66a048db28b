"""The chart beside pictures that a person has looked at, and its parts against each other.

Where the chart's parts stand and how grey they are has no outside truth but that all can be told apart on a
dark screen. After a change on purpose, draw the pictures anew, look at each, and keep them:

    python tests/chart/test_reference.py
"""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from ghostprep.chart.brush import Brush
from ghostprep.chart.draw import draw_chart
from ghostprep.chart.layout import STEPS, ChartLayout
from ghostprep.optics import Plan, make_plan
from ghostprep.scene import parse_scene

FOLDER = Path(__file__).parent / "reference"
SCENE = """
units = "{units}"
[box]
width = "150 mm"
height = "130 mm"
depth = "200 mm"
[screen]
top = "{top}"
raster = [{raster}]
active = [{active}]
"""
CHARTS = {
    "qvga": {"units": "mm", "top": "front", "raster": "320, 240", "active": '"48.96 mm", "36.72 mm"'},
    "tall-inches": {"units": "in", "top": "up", "raster": "240, 320", "active": '"36.72 mm", "48.96 mm"'},
    "fine": {"units": "mm", "top": "back", "raster": "480, 272", "active": '"95 mm", "53.9 mm"'},
}
WHITE = (255, 255, 255)


def plan_of(name: str) -> Plan:
    return make_plan(parse_scene(SCENE.format(**CHARTS[name])))


def picture_of(name: str) -> np.ndarray:
    """Return the frame in which the dot is a fifth of its way round."""
    return draw_chart(plan_of(name)).frame(20, 100)[..., 1]


@pytest.mark.parametrize("name", CHARTS)
def test_the_chart_agrees_with_its_reference(name: str) -> None:
    with Image.open(FOLDER / f"{name}.png") as kept:
        off = np.abs(np.asarray(kept.convert("L")).astype(int) - picture_of(name))
    # another release of OpenCV may round an edge's share by a code or two
    assert off.max() <= 3


def test_the_dot_is_a_disc_in_the_middle_of_its_place() -> None:
    chart = draw_chart(plan_of("qvga"))
    for number in (0, 13, 40, 77):
        added = chart.frame(number, 100).astype(float)[..., 0] - chart.still[..., 0]
        rows, columns = np.indices(added.shape) + 0.5
        x, y = chart.orbit[number * len(chart.orbit) // 100]
        near = (np.hypot(columns - x, rows - y) <= chart.dot_px + 2) & (added > 0)
        assert added[~near].max(initial=0) == 0
        assert (columns[near].mean(), rows[near].mean()) == pytest.approx((x, y), abs=0.35)
        assert near.sum() >= math.pi * chart.dot_px**2
        assert chart.frame(number, 100)[round(y - 0.5), round(x - 0.5), 0] == 170


def test_the_dot_keeps_to_its_ring_at_even_speed() -> None:
    plan = plan_of("qvga")
    chart = draw_chart(plan)
    places = plan.mount.to_ghost(chart.orbit)
    middle = places.mean(axis=0)
    radii = np.hypot(*(places - middle).T)
    assert np.ptp(radii) < 1e-6
    steps = np.hypot(*np.diff(places, axis=0).T)
    assert np.ptp(steps) < 1e-6
    assert len(places) * steps[0] == pytest.approx(2 * math.pi * radii[0], rel=1e-3)
    # a good deal smaller than its way, or it would not be seen to travel
    assert 2 <= chart.dot_px < radii[0] / min(plan.mount.pitch_mm) / 4


@pytest.mark.parametrize("scale", [1, 2, 3])
def test_a_box_on_whole_pixels_is_exact_and_one_between_is_not(scale: int) -> None:
    brush = Brush((20, 10), scale)
    brush.box(3, 2, 9, 6, WHITE)
    wanted = np.zeros((10 * scale, 20 * scale), bool)
    wanted[4 * scale : 8 * scale, 3 * scale : 9 * scale] = True
    assert (brush.picture[..., 0] == np.where(wanted, 255, 0)).all()
    between = Brush((20, 10), scale)
    between.box(3.2 / scale + 3, 2, 9, 6, WHITE)
    assert set(np.unique(between.picture)) > {0, 255}


def test_a_box_may_reach_over_the_picture_s_edge() -> None:
    brush = Brush((20, 10), 1)
    brush.box(-5, -5, 4, 3, WHITE)
    assert (brush.picture[7:, :4] == 255).all()
    assert brush.picture.sum() == 3 * 4 * 3 * 255


def test_a_picture_has_two_pixels_at_least_and_as_many_as_its_size() -> None:
    assert Brush((0.1, 0.1), 1).picture.shape == (2, 2, 3)
    assert Brush((33.4, 20.6), 3).picture.shape == (62, 100, 3)


@settings(deadline=None, max_examples=20)
@given(x=st.floats(12, 28), y=st.floats(8, 15), tall=st.floats(4, 8))
def test_a_word_stands_around_its_place_on_its_line(x: float, y: float, tall: float) -> None:
    brush = Brush((40, 24), 8)
    brush.word("0", x, y, tall, WHITE)
    rows, columns = np.nonzero(brush.picture[..., 0] > 100)
    assert (columns.min() + columns.max() + 1) / 16 == pytest.approx(x, abs=0.35)
    assert 24 - (rows.max() + 1) / 8 == pytest.approx(y, abs=0.35)
    assert np.ptp(rows) / 8 == pytest.approx(tall, rel=0.15)


def test_a_word_that_would_be_no_word_is_left_out() -> None:
    small, large = Brush((40, 24), 1), Brush((40, 24), 1)
    small.word("0", 20, 10, 4.9, WHITE)
    large.word("0", 20, 10, 5.1, WHITE)
    assert small.picture.max() == 0
    assert large.picture.max() > 0


@pytest.mark.parametrize("inches", [False, True])
@pytest.mark.parametrize(
    ("wide", "high", "pitch"), [(320, 240, 0.15), (240, 320, 0.15), (240, 240, 0.1), (1280, 720, 0.08)]
)
def test_the_parts_of_a_chart_keep_apart(wide: int, high: int, pitch: float, inches: bool) -> None:
    """Each part painted alone: nothing is painted twice, nothing by the bright rim, all in its own area."""
    parts = []
    for name in ("sign", "rulers", "steps", "range_window", "pair"):
        brush = Brush((wide, high), 2)
        layout = ChartLayout(brush, pitch, "in" if inches else "mm")
        arguments = (np.array([3.0, 0.0]), 0.8) if name == "pair" else ()
        getattr(layout, name)(*arguments)
        parts.append(brush.picture[..., 0] > 0)
    count = np.sum(parts, axis=0)
    rim = np.ones_like(count, bool)
    rim[2:-2, 2:-2] = False
    assert not (rim & (count > 0)).any()
    assert [int(part.sum()) > 0 for part in parts] == [True] * 5
    for k, part in enumerate(parts):
        for other in parts[k + 1 :]:
            assert (part & other).sum() <= 0.02 * min(part.sum(), other.sum())


def test_steps_lie_side_by_side_in_their_greys() -> None:
    brush = Brush((320, 240), 1)
    ChartLayout(brush, 0.15).steps()
    # without the numbers below them
    grey = brush.picture[:180, :, 0]
    columns = [np.flatnonzero((grey == code).any(axis=0)) for code in STEPS]
    for here, after in pairwise(columns):
        assert 2 <= after.min() - here.max() < 0.35 * len(here)
        assert len(here) == pytest.approx(len(after), abs=1)
    for code, across in zip(STEPS, columns, strict=True):
        rows = np.flatnonzero((grey == code).any(axis=1))
        assert len(rows) == len(across)  # squares
    assert columns[-1].max() < 0.96 * 320


def test_the_range_window_is_a_dark_square_between_two_lines() -> None:
    chart = draw_chart(plan_of("tall-inches"))
    assert chart.range_window.dtype == bool
    rows, columns = np.nonzero(chart.range_window)
    # one filled square, dark all over
    assert chart.range_window.sum() == (np.ptp(rows) + 1) * (np.ptp(columns) + 1)
    assert chart.still[chart.range_window].max() <= 3
    # with a line above and one below it
    for near in (rows.max() + 2, rows.min() - 4):
        band = chart.still[near : near + 3, columns.min() : columns.max(), 0].max(axis=0)
        assert (abs(band.astype(int) - 60) < 12).all()


if __name__ == "__main__":
    for chart in CHARTS:
        Image.fromarray(picture_of(chart)).save(FOLDER / f"{chart}.png", optimize=True)
