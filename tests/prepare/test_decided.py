"""What is decided about a clip's loop, part and edge, at the boundary of each decision."""

from __future__ import annotations

from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ghostprep.box import Box
from ghostprep.errors import InputError
from ghostprep.joins import How
from ghostprep.loop import LoopCandidate
from ghostprep.picture.place import Orientation, Placement
from ghostprep.prepare.choose import choose, different
from ghostprep.prepare.figure import FigureExtent
from ghostprep.prepare.fit import Fit, fit_to_raster, on_grid, tone_for
from ghostprep.prepare.recipe import Recipe

UPRIGHT = Orientation(False, 0)


def loop(first: int, frames: int, score: float = 0.5) -> LoopCandidate:
    return LoopCandidate(first, first + frames - 1, 0, "cut", score=score)


def test_loops_half_a_second_apart_are_different() -> None:
    """At 20 frames a second: 10 frames, in the start or in the length."""
    rate, one = Fraction(20), loop(100, 60)
    for other, kept in (
        (loop(109, 60), 1),
        (loop(91, 69), 1),
        (loop(100, 51), 1),
        (loop(110, 60), 2),
        (loop(90, 60), 2),
        (loop(100, 70), 2),
        (loop(100, 50), 2),
    ):
        assert len(different([one, other], rate)) == kept


def test_five_loops_are_offered_the_smooth_ones_first() -> None:
    scores = (1.2, 1.0, 3.0, 0.4, 1.01, 0.1)
    ranked = [loop(100 * number, 60, score) for number, score in enumerate(scores)]
    assert [one.score for one in different(ranked, Fraction(20))] == [1.0, 0.4, 1.2, 3.0, 1.01]


@pytest.mark.parametrize(
    ("length", "join", "said"),
    [
        ((0.01, 0.04), "search", "--length: is less than two frames at 30 frames a second; ask for a longer"),
        ((0.01, 0.04), "none", "--length: is less than two frames"),
        (
            (4.1, 9.0),
            "search",
            "is too short: it lasts 4.00 s, a loop of 4.1 s is wanted; .* or use --join",
        ),
        ((7.9, 9.0), "search", "a loop of 7.9 s is wanted; .* --join there-and-back"),
        ((8.0, 9.0), "search", "a loop of 8 s is wanted; ask for a shorter --length$"),
        ((4.1, 9.0), "none", "is too short: it gives a loop of 4.00 s"),
    ],
)
def test_a_length_that_cannot_be_is_told(length: tuple[float, float], join: How, said: str) -> None:
    seen: Any = SimpleNamespace(source=range(120), rate=Fraction(30))
    with pytest.raises(InputError, match=said):
        choose(seen, Recipe(length=length, join=join))


def test_a_clip_in_which_nothing_loops_plays_there_and_back() -> None:
    steady = SimpleNamespace(brightness=np.ones(50, np.float32), steps=np.ones(49, np.float32))
    seen: Any = SimpleNamespace(
        source=range(50), rate=Fraction(25), strip=steady, fetch=None, loops=lambda _: ()
    )
    chosen = choose(seen, Recipe())
    assert (chosen.plan.join, chosen.plan.first, chosen.plan.last) == ("there-and-back", 0, 49)
    assert "it plays there and back" in chosen.findings[0].text


def test_of_three_frames_no_loop_is_picked() -> None:
    seen: Any = SimpleNamespace(source=range(3), rate=Fraction(30))
    with pytest.raises(InputError, match="--pick: chooses among loops, and the clip has 3 frames"):
        choose(seen, Recipe(pick="B"))


@given(st.data())
def test_a_box_on_the_grid_is_the_smallest_that_holds_it(data: st.DataObject) -> None:
    size = data.draw(st.tuples(st.integers(1, 90), st.integers(1, 90)))
    grid = data.draw(st.sampled_from([1, 2, 4]))
    x, y = (data.draw(st.integers(0, side - 1)) for side in size)
    box = Box(x, y, data.draw(st.integers(1, size[0] - x)), data.draw(st.integers(1, size[1] - y)))
    grown = on_grid(box, size, grid)
    for low, high, inner_low, inner_high, side in (
        (grown.x, grown.right, box.x, box.right, size[0]),
        (grown.y, grown.bottom, box.y, box.bottom, size[1]),
    ):
        assert low == max(at for at in range(0, inner_low + 1) if at % grid == 0)
        assert high == min(at for at in range(inner_high, side + 1) if at % grid == 0 or at == side)


@pytest.mark.parametrize(
    ("crop", "edge"),
    [
        (Box(9, 9, 82, 82), 0),
        (Box(10, 9, 81, 82), 4),
        (Box(9, 10, 82, 81), 4),
        (Box(9, 9, 81, 82), 4),
        (Box(9, 9, 82, 81), 4),
    ],
)
def test_only_an_edge_that_cuts_the_figure_is_softened(crop: Box, edge: int) -> None:
    body = FigureExtent(Box(10, 10, 80, 80), 80, (50, 90))
    fit = Fit(crop, (100, 120), Placement((200, 200), UPRIGHT, (0, 0)), 1, 80)
    assert tone_for(fit, body, 0.5, gain=1.0, edge="auto", tint=None).edge == edge
    assert tone_for(fit, body, 0.5, gain=1.0, edge=7, tint=None).edge == 7


def test_a_very_small_picture_has_an_edge_of_one_pixel() -> None:
    fit = Fit(Box(10, 10, 9, 9), (9, 9), Placement((9, 9), UPRIGHT, (0, 0)), 1, 9)
    body = FigureExtent(Box(10, 10, 9, 9), 9, (14, 19))
    assert tone_for(fit, body, 0.5, gain=1.0, edge="auto", tint=None).edge == 1


def test_room_on_each_side_and_the_middle_of_the_raster() -> None:
    """A figure 100 tall in all of 200x100, a fifth of its height free all round: 240x140 into 480x280."""
    body = FigureExtent(Box(80, 0, 40, 100), 100, (100, 100))
    fit = fit_to_raster((200, 100), body, "none", (480, 280), UPRIGHT, room=0.2)
    assert (fit.crop, fit.size, fit.scale, fit.figure_px) == (Box(0, 0, 200, 100), (400, 200), 2, 200)
    assert fit.place == Placement((480, 280), UPRIGHT, (40, 40))
    finer = fit.drifting()
    assert finer.size == (1200, 600)
    assert finer.drifting() is finer


def test_a_wider_raster_shows_more_of_the_clip_about_the_figure() -> None:
    """A figure 46 tall, with 4 % and a pixel round it, is 52 on the grid; 104 rows show it twice as large."""
    body = FigureExtent(Box(103, 27, 34, 46), 46, (120, 73))
    fit = fit_to_raster((400, 100), body, "auto", (240, 104), UPRIGHT)
    assert (fit.crop, fit.size) == (Box(60, 24, 120, 52), (240, 104))
    near_border = FigureExtent(Box(3, 27, 34, 46), 46, (20, 73))
    assert fit_to_raster((400, 100), near_border, "auto", (240, 104), UPRIGHT).crop == Box(0, 24, 120, 52)
    far = FigureExtent(Box(363, 27, 34, 46), 46, (380, 73))
    assert fit_to_raster((400, 100), far, "auto", (240, 104), UPRIGHT).crop == Box(280, 24, 120, 52)
