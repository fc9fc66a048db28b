"""Which layouts of a search are offered beside each other, and where it looks for them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ghostprep.errors import InputError
from ghostprep.optics.solve import _differ, _distinct, _Search, solve
from ghostprep.optics.trial import Trial

BASE = Trial("left", "up", 0.0, 45.0, 200.0, 0.0)


@pytest.mark.parametrize(
    ("change", "other"),
    [
        ({}, False), ({"depth_mm": 212.0}, False), ({"depth_mm": 212.5}, True), ({"depth_mm": 187.5}, True),
        ({"angle_deg": 48.0}, False), ({"angle_deg": 48.1}, True), ({"angle_deg": 41.9}, True),
        ({"divider_mm": 12.0}, False), ({"divider_mm": -12.5}, True), ({"out_mm": 6.0}, False),
        ({"top": "front"}, True), ({"wall": "right"}, True), ({"aside_mm": 12.0}, False),
        ({"aside_mm": 12.5}, True),
    ],
)  # fmt: skip
def test_layouts_differ_by_side_by_12_mm_or_by_3_degrees(change: dict[str, object], other: bool) -> None:
    assert _differ(BASE, replace(BASE, **change)) is other
    assert _differ(replace(BASE, **change), BASE) is other
    # what counts is how far they are apart, not how large they are
    far = replace(BASE, depth_mm=300.0, angle_deg=50.0, divider_mm=100.0, aside_mm=40.0)
    moved = {
        name: getattr(far, name) + value - getattr(BASE, name) if isinstance(value, float) else value
        for name, value in change.items()
    }
    assert _differ(far, replace(far, **moved)) is other


def test_each_side_comes_first_and_then_what_differs_else() -> None:
    near, deep = replace(BASE, depth_mm=205.0), replace(BASE, depth_mm=260.0)
    right, floor = replace(BASE, wall="right"), replace(BASE, wall="floor", top="front")
    best = [BASE, near, deep, right, floor]
    assert _distinct(best, 1) == [BASE]
    assert _distinct(best, 2) == [BASE, right]
    assert _distinct(best, 3) == [BASE, right, floor]
    # in the order of their costs
    assert _distinct(best, 4) == [BASE, deep, right, floor]
    assert _distinct(best, 9) == [BASE, deep, right, floor]
    assert _distinct([], 3) == []


def test_an_open_box_is_searched_on_all_sides_from_a_third_of_its_depth_to_its_back(make_scene) -> None:
    trials = list(
        _Search(make_scene(screen={"raster": [320, 240], "active": [40.8, 30.6]}), frozenset())._grid()
    )
    assert {t.wall for t in trials} == {"left"}  # the scene gives the side
    free = frozenset({"screen.wall", "screen.top"})
    trials = list(_Search(make_scene(), free)._grid())
    assert {t.wall for t in trials} == {"left", "right", "floor", "ceiling"}
    # lying and standing, for each side
    assert len({(t.wall, t.top) for t in trials}) == 8
    depths = sorted({t.depth_mm for t in trials})
    assert (depths[0], depths[-1]) == (120, 398)  # of 400 mm
    assert np.diff(depths) == pytest.approx((398 - 120) / 6, abs=0.5)
    assert all(2 * depth == round(2 * depth) for depth in depths)
    assert {t.angle_deg for t in trials} == {40, 45, 50}
    assert {t.out_mm for t in trials} == {0, 6}
    assert {t.divider_mm for t in trials} == {0}
    assert len(trials) == len(set(trials)) == 7 * 3 * 2 * sum(len(set(s)) for s in _asides(trials).values())


def _asides(trials: list[Trial]) -> dict[tuple[str, str], list[float]]:
    """Return how far off the middle the ghost is tried, for each way to hang the screen."""
    found: dict[tuple[str, str], list[float]] = {}
    for trial in trials:
        found.setdefault((trial.wall, trial.top), []).append(trial.aside_mm)
    return {way: sorted(set(asides)) for way, asides in found.items()}


def test_a_ghost_is_tried_towards_the_screen_in_breadths_of_its_picture(make_scene) -> None:
    """Of a box 300 mm wide, with a player 9 mm thick: 141 mm from the screen to the middle."""
    free = frozenset({"screen.wall", "screen.top"})
    asides = _asides(list(_Search(make_scene(screen={"active": (40.8, 30.6)}), free)._grid()))
    throws = np.array([3.0, 2.2, 1.6, 1.2])
    for wall in ("left", "right"):
        assert asides[wall, "up"] == pytest.approx([0, *(141 - 40.8 * throws)], abs=0.25)
        # standing, the picture is 30.6 mm wide, and four of its breadths are less than 141 mm too
        assert asides[wall, "front"] == pytest.approx([0, 141 - 4 * 30.6, *(141 - 30.6 * throws)], abs=0.25)
    assert asides["floor", "front"] == asides["ceiling", "left"] == [0]
    # in a narrow box, or where the scene says where the ghost stands, there is only that
    narrow = make_scene(screen={"active": (40.8, 30.6)}, box={"width": 80})
    placed = make_scene(screen={"active": (40.8, 30.6)}, ghost={"at": (0, 60, 200)})
    for scene in (narrow, placed):
        assert {t.aside_mm for t in _Search(scene, free)._grid()} == {0}
    again = _Search(placed, free | {"ghost.at"})._grid()
    assert len({t.aside_mm for t in again}) > 4
    # a screen on the ceiling comes down to the ghost behind a front that is closed above: of 150 mm here
    box = {"opening": {"width": 100, "height": 150, "sill": 0}}
    trials = _Search(make_scene(screen={"active": (40.8, 30.6)}, box=box), free)._grid()
    outs = {t.out_mm for t in trials if (t.wall, t.top) == ("ceiling", "front")}
    assert sorted(outs) == pytest.approx(
        [0, 6, 300 - 9 - 15.3 - 5.5 * 30.6, 300 - 9 - 15.3 - 4 * 30.6], abs=0.25
    )
    # from a screen that stays where it is
    kept = make_scene(screen={"active": (40.8, 30.6), "centre": (-120, 100, 130)})
    tried = _asides(list(_Search(kept, frozenset())._grid()))
    assert tried["left", "up"] == pytest.approx([0, *(120 - 40.8 * throws[1:])], abs=0.25)


def test_what_is_kept_is_not_searched(make_scene) -> None:
    kept = make_scene(screen={"centre": [-120, 100, 130], "swivel": 6})
    trials = list(_Search(kept, frozenset())._grid())
    assert {(t.depth_mm, t.out_mm) for t in trials} == {(0, 0)}
    # a swivel that is kept turns the pane by half of it
    assert {t.angle_deg for t in trials} == {48}
    lean = make_scene(pane={"angle": 43})
    assert {t.angle_deg for t in _Search(lean, frozenset())._grid()} == {43}


@pytest.mark.parametrize("there", [True, False])
def test_dividers_are_tried_along_the_box(make_scene, there: bool) -> None:
    more = {"divider": [{"from": [-150, 40], "to": [150, 40]}]} if there else {}
    moves = sorted({t.divider_mm for t in _Search(make_scene(**more), frozenset({"divider"}))._grid()})
    # three tenths of 400 mm to both sides; one that is set before the player is only moved to the front
    wanted = [-120, -80, -40, 0, 40, 80, 120] if there else [-80, -40, 0]
    assert moves == pytest.approx(wanted)


def test_what_cannot_be_looked_for_is_said(make_scene) -> None:
    with pytest.raises(InputError, match=r"'screen\.raster' cannot be looked for"):
        solve(make_scene(), free=["screen.raster"])
    with pytest.raises(InputError, match=r"'pane\.angel' cannot be looked for") as raised:
        solve(make_scene(), free=["pane.angel"])
    assert raised.value.remedy == "did you mean pane.angle?"
    given = make_scene(
        screen={"wall": "left", "centre": [-120, 100, 130], "top": "up", "swivel": 0},
        pane={"through": [-60, 100, 190], "angle": 45},
    )
    with pytest.raises(InputError, match="gives all that could be looked for"):
        solve(given)


@pytest.mark.parametrize("sign", [-1, 1])
@pytest.mark.parametrize(
    ("name", "far"),
    [("depth_mm", 40.0), ("depth_mm", 12.0), ("angle_deg", 4.0), ("angle_deg", 1.2), ("out_mm", 3.0),
     ("out_mm", 0.9), ("aside_mm", 12.0), ("aside_mm", 4.0)],
)  # fmt: skip
def test_a_walk_downhill_goes_either_way_with_ever_smaller_steps(
    make_scene, monkeypatch, name: str, far: float, sign: int
) -> None:
    start = replace(BASE, out_mm=4.0, aside_mm=20.0)
    goal = getattr(start, name) + sign * far

    def cost(self: _Search, trial: Trial) -> float:
        return self.costs.setdefault(trial, abs(getattr(trial, name) - goal))

    monkeypatch.setattr(_Search, "_judge", cost)
    search = _Search(make_scene(), frozenset({"screen.top", "screen.wall"}))
    search._judge(start)
    search._refine(start)
    best = min(search.costs, key=search.costs.__getitem__)
    # the first step is half of the grid's, 400 / 7 / 2 mm, or 2.5 degrees, 2 mm or 8 mm; it halves on the way
    assert abs(getattr(best, name) - goal) < 0.45 * abs(getattr(start, name) - goal)
    assert all(trial.out_mm >= 0 for trial in search.costs)
