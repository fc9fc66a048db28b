"""The chart's parts measured in what was painted: light adds up to areas, its middle lies where it should."""

from __future__ import annotations

import math

import numpy as np
import pytest

from ghostprep.chart.brush import Brush
from ghostprep.chart.layout import STEPS, ChartLayout
from ghostprep.chart.seen import SIGNS

WHITE = (255, 255, 255)


def light(brush: Brush) -> np.ndarray:
    """Return the share (h, w) of each pixel that is painted white."""
    return brush.picture[..., 0] / 255.0


def middle(share: np.ndarray) -> tuple[float, float]:
    """Return the middle of light, from the left and from the top, in pixels."""
    rows, columns = np.indices(share.shape) + 0.5
    return float((columns * share).sum() / share.sum()), float((rows * share).sum() / share.sum())


@pytest.mark.parametrize("scale", [1, 3])
def test_an_outline_lies_where_its_corners_say(scale: int) -> None:
    brush = Brush((20, 12), scale)
    brush.fill([(3, 2), (9, 2), (9, 6), (3, 6)], WHITE)
    # an antialiased edge may spill over half a pixel, alike on both sides
    assert middle(light(brush)) == pytest.approx((6 * scale, (12 - 4) * scale), abs=0.3)


@pytest.mark.parametrize("wide", [1.0, 2.0])
def test_a_ring_is_as_wide_as_told(wide: float) -> None:
    brush = Brush((40, 40), 4)
    brush.ring(20, 20, 12, wide, WHITE)
    # and to either side of a line as much, or a little more
    assert wide * 4 <= light(brush).sum() / (2 * math.pi * 12 * 4) <= wide * 4 + 2


def painted(units: str = "mm") -> tuple[Brush, ChartLayout]:
    """Return a layout of 0.15 mm a pixel, and its brush, eight pixels a unit: nothing blurs."""
    brush = Brush((320, 240), 4)
    return brush, ChartLayout(brush, 0.15, units)


def test_each_number_stands_under_the_middle_of_its_step() -> None:
    brush, layout = painted()
    layout.steps()
    left, room = 0.13 * 320, (0.95 * 320 - 0.13 * 320) / len(STEPS)
    side = math.floor(0.82 * room)
    words = light(brush)[(240 - 60 + 2) * 4 :]  # below the steps, whose lower edge lies at 60
    for number in range(len(STEPS)):
        x = round(left + number * room)
        own = words[:, round((x - 3) * 4) : round((x + side + 3) * 4)]
        assert own.sum() > 20
        # a 1 has more ink on one side of its box
        assert middle(own)[0] / 4 - 3 == pytest.approx(side / 2, abs=1.5)


@pytest.mark.parametrize(("units", "tick_mm"), [("mm", 1.0), ("in", 25.4 / 16)])
def test_a_ruler_has_a_tick_at_both_ends_and_one_even_line(units: str, tick_mm: float) -> None:
    brush, layout = painted(units)
    (start, end, length), _ = layout.rulers()
    assert (end[0] - start[0]) * 0.15 == pytest.approx(length)
    seen = light(brush)
    # above the line, below the tips of the shortest ticks: 0.035 of the small side is 8.4
    row = seen[round((240 - start[1] - 5) * 4)]
    for x in (start[0], end[0], start[0] + tick_mm / 0.15):
        assert row[round((x - 2) * 4) : round((x + 2) * 4)].sum() > 0.3 * 4 * 150 / 255
    assert row[round((end[0] + 2) * 4) :].sum() == 0
    low = round((240 - start[1]) * 4)
    for x in (start[0] + 0.5 * tick_mm / 0.15, end[0] - 0.5 * tick_mm / 0.15):
        thick = seen[low - 8 : low + 8, round(x * 4)].sum() / (150 / 255) / 4
        assert thick == pytest.approx(0.9, abs=0.4)


def test_a_number_at_the_pictures_edge_is_written_whole() -> None:
    """As "1 1/2" under the last tick of a ruler on a narrow raster."""

    def ink(x: float) -> float:
        brush = Brush((272, 48), 4)
        brush.word("1 1/2", x, 20, 12, (100, 100, 100))
        return float(light(brush).sum())

    assert ink(3) == ink(269) == ink(136) > 0


def test_a_sign_is_called_what_it_is() -> None:
    turns = {"upright": 0, "turned-right": 1, "upside-down": 2, "turned-left": 3, "": 0}
    for name, seen in SIGNS.items():
        assert seen.mirrored == name.startswith("mirrored")
        assert seen.quarter_turns == turns[name.removeprefix("mirrored").removeprefix("-")]
    assert len(SIGNS) == 8


@pytest.mark.parametrize(
    ("units", "room_mm", "length"),
    [
        ("mm", 33.0, 30.0), ("mm", 38.0, 35.0), ("mm", 48.0, 40.0), ("mm", 4.0, 5.0),
        ("in", 27.0, 25.4), ("in", 58.0, 50.8), ("in", 45.0, 44.45), ("in", 20.0, 19.05),
    ],
)  # fmt: skip
def test_a_ruler_ends_at_a_named_tick_where_there_is_room_for_four(
    units: str, room_mm: float, length: float
) -> None:
    """Else at a long one: of five millimetres, or of a quarter of an inch; it has one of those at least."""
    _, layout = painted(units)
    assert layout._ruler((10.0, 10.0), (1, 0), room_mm / 0.15)[2] == pytest.approx(length)


@pytest.mark.parametrize("offset", [(0.0, 6.0), (6.0, 0.0), (4.0, -4.0)])
def test_no_line_of_the_pair_crosses_its_name(
    offset: tuple[float, float], monkeypatch: pytest.MonkeyPatch
) -> None:
    names = []
    monkeypatch.setattr(Brush, "word", lambda _, text, x, *rest: names.append((text, x)))
    brush, layout = painted()
    layout.pair(np.array(offset), 0.8)
    lit = np.flatnonzero(light(brush).max(axis=0) > 0.1) / brush.scale
    # half a name is 1 letter wide at most
    for (_, x), ends in zip(names, (lit[lit < 0.61 * brush.wide], lit[lit > 0.61 * brush.wide]), strict=True):
        assert x + layout._text <= ends.min()
