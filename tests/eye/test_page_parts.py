"""The page's parts in small: its view's height, the plot of steps, the lit part, the light, the passenger."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from ghostprep.eye import watch as watched_loop
from ghostprep.eye.backdrop import find_backdrop
from ghostprep.eye.light import light_maps
from ghostprep.eye.page.page import _MOST_BARS, _MOST_PX, _TALLEST_PX, page_rows, steps_plot
from ghostprep.eye.photo import photo_scenery
from ghostprep.eye.stage import _paper_figure, stage_of
from ghostprep.eye.window import whole_window
from ghostprep.optics import make_plan
from ghostprep.optics.solids import gap
from ghostprep.progress import silent
from ghostprep.proof.flash_area import SeenScreen
from tests.eye.plain_box import plain_box


@pytest.mark.parametrize("wide", [30, 60, 130])
def test_the_view_is_as_high_as_a_browser_can_follow(wide: int) -> None:
    plan = plain_box(box=f"opening = {{ width = {wide}, height = 100, sill = 10 }}")
    rows = page_rows(plan)
    columns = whole_window(plan, rows).size[0]
    assert rows <= _TALLEST_PX
    assert columns * rows <= _MOST_PX * 1.01
    # no lower than it must be
    assert rows == _TALLEST_PX or columns * rows >= _MOST_PX * 0.98


@given(st.lists(st.floats(0, 2), min_size=1, max_size=1500), st.data())
def test_each_step_has_its_bar_and_many_share_one_as_high_as_their_highest(
    steps: list[float], data: st.DataObject
) -> None:
    inside = data.draw(st.sets(st.integers(0, len(steps) - 1), min_size=1, max_size=5))
    usual = data.draw(st.floats(0, 2))
    svg = str(steps_plot(steps, inside, usual))
    plain, join, marks = (
        [
            tuple(map(float, bar))
            for bar in re.findall(r"M(-?[\d.]+) [\d.]+[VH]([\d.]+)[hL]([\d.]+)[V ]", path)
        ]
        for path in re.findall(r'<path d="([^"]*)" fill="var', svg)
    )
    joined = math.ceil(len(steps) / _MOST_BARS)
    groups = [range(k, min(k + joined, len(steps))) for k in range(0, len(steps), joined)]
    assert len(plain) + len(join) == len(groups) <= _MOST_BARS
    # the join is told by marks too, each over the middle of its bar
    assert [(left + right) / 2 for left, right, _ in marks] == pytest.approx(
        [x + wide / 2 for x, _, wide in join], abs=0.2
    )
    assert len(join) == sum(bool(inside & set(group)) for group in groups)
    bars = sorted(plain + join)
    top = max(*steps, usual, 1e-9)
    floor = float(re.findall(r"M[\d.]+ ([\d.]+)V", svg)[0])
    highest = min(y for _, y, _ in bars)
    line = float(re.findall(r'd="M0 ([\d.]+)H', svg)[0])
    # heights are in proportion, the line with them, and the whole fills the plot but for its words
    unit = (floor - line) / usual if usual > 0.05 else None
    for (x, y, wide), group in zip(bars, groups, strict=True):
        assert 4 <= x <= x + wide <= 896.1
        if unit:
            assert floor - y == pytest.approx(max(steps[i] for i in group) * unit, abs=0.2 + 2 * unit / 50)
    assert top == 1e-9 or 22 <= min(highest, line) <= 34
    # bars that are wide enough keep a hair apart
    if len(groups) > 1 and joined * 892 / len(steps) > 3:
        assert 0.4 <= bars[1][0] - bars[0][0] - bars[0][2] <= 0.7


def test_the_lit_part_is_told_in_shares_of_the_raster() -> None:
    lit = np.zeros((40, 80), bool)
    assert watched_loop._bounds(lit) == (0, 0, 1, 1)
    lit[10:20, 16:64] = True
    assert watched_loop._bounds(lit) == pytest.approx((0.2, 0.25, 0.8, 0.5))
    lit[:] = True
    assert watched_loop._bounds(lit) == (0, 0, 1, 1)


def test_flashes_are_measured_for_the_eye_and_the_screen_of_the_scene(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As large as the screen is, seen from as far as the ghost is, as bright as the ghost."""
    told: list[Any] = []
    real = watched_loop.FlashProof

    def noted(*arguments: Any) -> Any:
        told.append(arguments[2])
        return real(*arguments)

    monkeypatch.setattr(watched_loop, "FlashProof", noted)
    loop = folder / "loop.mp4"
    facts = watched_loop.open_loop(loop)
    for scene in (folder / "hall.toml", None):
        told.clear()
        setting = find_backdrop(loop, facts.size, scene, {}, trouble="")
        watched_loop.watch(loop, {}, setting, facts, silent)
        plan = setting.plan
        apart = math.dist(plan.layout.ghost, plan.layout.eye)
        asked = SeenScreen(plan.scene.screen.active, pytest.approx(apart), plan.light.ghost)
        assert told == [asked if scene else None]


@pytest.mark.parametrize(
    ("across", "height", "surface"), [(0, 95, "back wall"), (0, 500, "floor"), (250, 95, "left wall")]
)
def test_light_is_one_where_the_eye_sees_past_the_ghost_whatever_stands_there(
    across: float, height: float, surface: str
) -> None:
    """A map is smooth: the nearest cell is about as bright as the place itself."""
    plan = plain_box(depth=500, light="[light]\nlamps = [ { at = [0, 95, 380], lumens = 8 } ]")
    viewer = plan.scene.viewer.model_copy(update={"height": height, "across": across})
    plan = make_plan(plan.scene.model_copy(update={"viewer": viewer}))
    stage = stage_of(plan, card=False)
    way = plan.layout.ghost - plan.layout.eye
    met = stage.world.trace(plan.layout.eye[None, :], way[None, :])
    body = int(met.end[0])
    assert stage.world.bodies[body].name == surface
    maps, _ = light_maps(plan, stage.world, stage.faces)
    cells = [
        (float(np.linalg.norm(cell - met.point[0])), float(light))
        for face, map_ in zip(stage.faces, maps, strict=True)
        if face.body == body
        for cell, light in zip(face.cells(), map_.ravel(), strict=True)
    ]
    assert min(cells)[1] == pytest.approx(1, abs=0.2)


@pytest.mark.parametrize("wide", [44, 60, 140])
def test_the_paper_passenger_stands_beside_the_ghost_within_the_walls(wide: int) -> None:
    """1.70 m tall at the scene's scale, on the ghost's ground and at its depth; it touches nothing."""
    plan = plain_box(36)
    box = plan.scene.box.model_copy(update={"width": float(wide)})
    (card,) = _paper_figure(replace(plan, scene=plan.scene.model_copy(update={"box": box})), plan.world)
    corners = card.block.corners()
    assert np.ptp(corners[:, 1]) == pytest.approx(1700 / 36)
    assert corners[:, 1].min() == pytest.approx(plan.figure.feet_mm)
    assert corners[:, 2].mean() == pytest.approx(plan.layout.ghost[2])
    assert np.abs(corners[:, 0]).max() <= wide / 2 + 1e-6
    middle = abs(corners[:, 0].mean() - plan.layout.ghost[0])
    card_wide = float(np.ptp(corners[:, 0]))
    assert middle == pytest.approx(min(max(0.3 * wide, card_wide / 2), wide / 2 - card_wide / 2))
    others = [body.block for body in plan.world.bodies if body.role != "wall"]
    assert all(gap(card.block, other) > 0 for other in others)


def test_the_opening_that_is_looked_for_has_the_shape_of_the_scenes(tmp_path: Path) -> None:
    """Three quarters as wide as high, high above the floor: its sill is no part of its height."""
    plan = plain_box(box="opening = { width = 60, height = 80, sill = 100 }")
    picture = np.full((400, 600, 3), 50, np.uint8)
    corners = np.array([(200, 100), (350, 100), (350, 300), (200, 300)])
    cv2.fillConvexPoly(picture, corners.astype(np.int32), (180, 180, 180))
    Image.fromarray(picture).save(tmp_path / "box.png")
    place = photo_scenery(plan, tmp_path / "box.png").to_photo @ (0.0, 140.0, 1.0)
    assert place[:2] / place[2] == pytest.approx((275, 200), abs=3)
