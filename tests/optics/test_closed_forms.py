"""Parts alone beside closed forms and beside shapely."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from ghostprep.optics.holder import HolderFit
from ghostprep.optics.layout import lay_out
from ghostprep.optics.room import find_ways_out
from ghostprep.optics.sightlines import keep_above
from ghostprep.optics.solids import Block
from ghostprep.optics.solve import _differ, _distinct
from ghostprep.optics.trial import Trial
from ghostprep.optics.world import OUT, SCREEN, Sheet, World

FAR_SHEET = Sheet(
    "pane", np.array([(0, 0, 1), (1, 0, 1), (1, 1, 1), (0, 1, 1)]) * 1e4, np.array([0.0, 0, -1])
)


@pytest.mark.parametrize("strips", [(True, False, True, False), (False, True, True, True), (False,) * 4])
def test_a_holder_is_as_wide_as_its_inside_and_the_strips_that_stand(make_scene, strips):
    """Inside 50 x 40 mm, of sheets of 3 mm: each strip adds 3 mm on its side (right, left, top, bottom)."""
    fit = HolderFit((50, 40, 9), (30, 20), 3, strips, back=False)
    right, left, top, bottom = (3 * s for s in strips)
    screen = lay_out(make_scene()).screen
    axes = np.array([screen.right, screen.up])
    corners = np.vstack([block.corners() for _, block in fit.blocks(screen)]) - screen.centre
    low, high = (corners @ axes.T).min(axis=0), (corners @ axes.T).max(axis=0)
    assert low == pytest.approx([-25 - left, -20 - bottom])
    assert high == pytest.approx([25 + right, 20 + top])


def test_the_lit_area_is_met_from_its_front_and_inside_its_edges_only(make_scene):
    """A screen of 40.8 x 30.6 mm: 20.3 and 15.2 mm from its middle are lit, 20.5 and 15.4 mm are not."""
    screen = lay_out(make_scene()).screen
    world = World((), FAR_SHEET, (), screen)
    places = [
        (0, 0),
        (20.3, 0),
        (-20.3, 0),
        (0, 15.2),
        (0, -15.2),
        (20.5, 0),
        (-20.5, 0),
        (0, 15.4),
        (0, -15.4),
    ]
    at = np.array([screen.centre + x * screen.right + y * screen.up for x, y in places])
    n = screen.normal
    before = world.trace(at + 50 * n, np.tile(-n, (9, 1)), (False,))
    assert before.end.tolist() == [SCREEN] * 5 + [OUT] * 4
    assert before.length[:5] == pytest.approx([50] * 5)
    for starts, way in ((at + 50 * n, n), (at - 50 * n, n), (at - 50 * n, -n)):
        assert set(world.trace(starts, np.tile(way, (9, 1)), (False,)).end) == {OUT}


@pytest.mark.parametrize(
    ("short", "free"),
    [({}, True), ({"width": 299}, False), ({"sill": 128.5}, False), ({"height": 171}, False)],
)
def test_the_player_leaves_by_an_opening_as_large_as_its_body(make_scene, short, free):
    """Its body of 52 x 44 x 9 mm lies against the left wall, from 128 to 172 mm high."""
    opening = {"width": 300, "height": 172.0, "sill": 0.0} | short
    opening["height"] -= opening["sill"]
    scene = make_scene(
        box={"width": 300, "height": 300, "depth": 400, "opening": opening},
        screen={"centre": (-141, 150, 150), "body": (52, 44, 9), "top": "up"},
    )
    away = Block(np.array([0.0, 0, 999]), np.eye(3), np.ones(3))
    ways = {way.direction: way for way in find_ways_out(scene, lay_out(scene), away, [])}
    assert sorted(ways) == ["back", "down", "front", "up"]
    assert ways["front"].in_the_way == (() if free else ("front",))
    assert ways["front"].clear is free
    # past the front's sheet of 6 mm, with the body's far end at 150 + 26 mm and 0.5 mm to spare
    assert ways["front"].travel_mm == pytest.approx(150 + 26 + 0.5 + 6)
    assert ways["back"].in_the_way == ()


def test_a_polygon_cut_along_a_line_is_what_shapely_keeps():
    dice = np.random.default_rng(4)
    for _ in range(20):
        corners = np.array(Polygon(dice.uniform(-1, 1, (7, 2))).convex_hull.exterior.coords[:-1])
        angle, limit = dice.uniform(0, 2 * np.pi), dice.uniform(-0.6, 0.6)
        along, aside = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
        half = Polygon([o * along + s * 9 * aside for o, s in ((limit, -1), (9, -1), (9, 1), (limit, 1))])
        kept = keep_above(corners, along, limit)
        wanted = Polygon(corners).intersection(half)
        if wanted.is_empty:
            assert len(kept) == 0
        else:
            assert Polygon(kept).symmetric_difference(wanted).area == pytest.approx(0, abs=1e-9)
            assert np.array(box(*wanted.bounds).bounds) == pytest.approx(
                [*kept.min(axis=0), *kept.max(axis=0)]
            )


def test_layouts_differ_by_side_or_turn_or_by_more_than_12_mm_or_3_degrees():
    one = Trial("left", "up", 0.0, 45.0, 200.0, 0.0)
    alike = [Trial("left", "up", 9.0, 45.0, 200.0, 0.0), Trial("left", "up", 0.0, 47.9, 211.0, -11.0)]
    others = [
        Trial("right", "up", 0.0, 45.0, 200.0, 0.0), Trial("left", "front", 0.0, 45.0, 200.0, 0.0),
        Trial("left", "up", 0.0, 41.9, 200.0, 0.0), Trial("left", "up", 0.0, 45.0, 187.0, 0.0),
        Trial("left", "up", 0.0, 45.0, 200.0, 13.0),
    ]  # fmt: skip
    assert not any(_differ(one, other) for other in alike)
    assert all(_differ(one, other) and _differ(other, one) for other in others)
    # other sides and turns come first, but what is returned stays in the order of cost
    ranked = [one, *alike, *others[2:], *others[:2]]
    assert _distinct(ranked, 3) == [one, *others[:2]]
    assert _distinct(ranked, 4) == [one, others[2], *others[:2]]
    assert _distinct(ranked, 1) == [one]
