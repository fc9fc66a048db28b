"""Light, pane, window and the assumed box in closed form."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from ghostprep.eye.backdrop import _as_told, _made_for, _stands, find_backdrop
from ghostprep.eye.light import room_share
from ghostprep.eye.pane import look_up, pane_light
from ghostprep.eye.stage import stage_of
from ghostprep.eye.window import near_window, whole_window
from ghostprep.optics.lamps import LightSource, illuminance
from ghostprep.scene.starter import starter_text
from tests.eye.plain_box import plain_box


def plan_of(scale: int = 24, depth: int = 260, wide: int = 120, high: int = 170) -> Any:
    return plain_box(scale, depth, box=f"opening = {{ width = {wide}, height = {high}, sill = 10 }}")


PLAN = plan_of()


def test_the_whole_view_shows_the_opening_with_a_rim_of_six_hundredths_of_its_height() -> None:
    window = whole_window(PLAN, 800)
    assert window.scale == pytest.approx(800 / (170 * 1.12))
    assert window.size == (round((120 + 2 * 0.06 * 170) * window.scale), 800)
    assert window.top == pytest.approx(180 + 0.06 * 170)
    # in its middle lies the opening's
    assert window.left + window.size[0] / window.scale / 2 == pytest.approx(0)
    # a point of the opening's plane is where it is, whatever the eye; a pixel's way leads through its middle
    for eye in ((0.0, 95.0, -600.0), (90.0, 20.0, -400.0)):
        px = window.project(np.array(eye), np.array([[10.0, 60.0, 0.0]]))[0]
        assert px == pytest.approx([(10 - window.left) * window.scale, (window.top - 60) * window.scale])
        ways = window.ways(np.array(eye)).reshape(800, window.size[0], 3)
        there = np.array(eye) + ways[5, 7]
        assert there == pytest.approx([window.left + 7.5 / window.scale, window.top - 5.5 / window.scale, 0])


def height_in(window: Any, plan: Any) -> float:
    eye, (x, _, z) = plan.layout.eye, plan.layout.ghost
    ends = np.array([(x, plan.figure.feet_mm + a * plan.figure.height_mm, z) for a in (0, 1)])
    px = window.project(eye, ends)
    return float(abs(px[1, 1] - px[0, 1]))


@pytest.mark.parametrize("scale", [24, 48, 15])
def test_the_near_view_shows_the_figure_at_least_two_fifths_high(scale: int) -> None:
    plan = plan_of(scale)
    whole = whole_window(plan, 500)
    near = near_window(plan, whole)
    assert near.size == whole.size
    if height_in(whole, plan) >= 0.42 * 500:
        assert near is whole
        return
    assert height_in(near, plan) == pytest.approx(0.42 * 500, rel=1e-6)
    # within the whole view, and about the figure where that allows
    assert near.left >= whole.left - 1e-9
    assert near.top <= whole.top + 1e-9
    assert near.left + near.size[0] / near.scale <= whole.left + whole.size[0] / whole.scale + 1e-9
    assert near.top - near.size[1] / near.scale >= whole.top - whole.size[1] / whole.scale - 1e-9
    x, _, z = plan.layout.ghost
    middle = near.project(
        plan.layout.eye, np.array([[x, plan.figure.feet_mm + plan.figure.height_mm / 2, z]])
    )[0]
    assert middle[0] == pytest.approx(near.size[0] / 2, abs=1)


@pytest.mark.parametrize(("wide", "high", "depth"), [(30, 30, 260), (60, 40, 400), (120, 170, 260)])
def test_the_rooms_light_on_the_back_wall_is_the_openings_view_factor(
    wide: int, high: int, depth: int
) -> None:
    """From an element to a parallel rectangle before its middle.

    Howell, Menguc, Siegel, Thermal Radiation Heat Transfer, configuration B-4 (from memory), four times.
    """
    a, b = wide / 2 / depth, high / 2 / depth
    ra, rb = math.hypot(1, a), math.hypot(1, b)
    exact = 4 / (2 * math.pi) * (a / ra * math.atan(b / ra) + b / rb * math.atan(a / rb))
    assert room_share(plan_of(depth=depth, wide=wide, high=high)) == pytest.approx(exact, rel=0.05)


def lit(
    at: tuple[float, float, float], point: tuple[float, float, float], normal: tuple[float, float, float]
) -> float:
    """What a lumen throws in the box, its pane far away."""
    world = replace(PLAN.world, pane=replace(PLAN.world.pane, corners=PLAN.world.pane.corners + 1e6))
    lamp = LightSource("lamp", np.array([at]), 1.0, None)
    asked = np.array([point]), np.array([normal])
    once = illuminance(PLAN.scene, world, [lamp], *asked, radius_mm=15)
    assert illuminance(PLAN.scene, world, [lamp] * 2, *asked, radius_mm=15) == pytest.approx(2 * once)
    return float(once[0])


def test_a_lamp_of_15_mm_lights_by_inverse_square_and_cosine() -> None:
    up, lamp_at = (0.0, 1.0, 0.0), (40.0, 150.0, 40.0)
    near, far = (lit(lamp_at, (40, 150 - d, 40), up) for d in (40, 120))
    assert near / far == pytest.approx((120**2 + 15**2) / (40**2 + 15**2))
    # one lumen to all sides: a candela is that over 4 pi; lux are lumens a square metre
    assert near == pytest.approx(1e6 / (4 * math.pi) / (40**2 + 15**2))
    sixty = (0.0, 0.5, math.sqrt(0.75))
    assert lit(lamp_at, (40, 110, 40), sixty) == pytest.approx(near / 2)
    assert lit(lamp_at, (40, 110, 40), (0.0, -1.0, 0.0)) == 0
    # behind a wall it is dark
    assert lit(lamp_at, (200, 110, 40), (-1.0, 0.0, 0.0)) == 0


def test_the_view_is_lit_as_the_plan_tells() -> None:
    """By the lamp, and by the mirror and the pane that send its light on; what walls throw back comes on top.

    Outside the box there is that light alone. A lamp of 15 mm is up to 1 % darker than a point 150 mm away.
    """
    lamps = "[light]\nlamps = [ { at = [20, 95, 100], lumens = 8 } ]"
    mirror = "[[mirror]]\nfrom = [60, 150]\nto = [60, 250]\nsill = 20\nheight = 150\n"
    bare, mirrored = (plain_box(light=extra + lamps) for extra in ("", mirror))
    assert mirrored.light.scenery > 1.1 * bare.light.scenery
    for plan in (bare, mirrored):
        stage = stage_of(plan, card=False)
        even = min(float(map_.min()) for map_ in stage.maps)
        assert 0 < even < 0.8
        assert stage.scenery * (1 - even) == pytest.approx(plan.light.scenery, rel=0.012)


def test_the_panes_tables_at_their_ends() -> None:
    """Fresnel: at right angles R = ((n - 1) / (n + 1))^2 from one face, 2R / (1 + R) from both."""
    light, index, thickness = pane_light(PLAN), PLAN.scene.pane.index, PLAN.scene.pane.thickness
    r = ((index - 1) / (index + 1)) ** 2
    straight, grazing = np.array([1.0]), np.array([0.0])
    assert look_up(light.first, straight) == pytest.approx(r, rel=1e-5)
    assert look_up(light.second, straight) == pytest.approx(2 * r / (1 + r) - r, rel=1e-5)
    assert look_up(light.through, straight) == pytest.approx(1 - 2 * r / (1 + r), rel=1e-5)
    assert look_up(light.deeper_mm, straight) == pytest.approx(2 * thickness / index, rel=1e-5)
    assert look_up(light.first, grazing) == pytest.approx(1)
    assert look_up(light.through, grazing) == pytest.approx(0, abs=1e-6)
    # the second image lies deeper by 2 t cos / sqrt(n^2 - sin^2) across the pane: from Snell's law
    cosine = 0.6
    across = 2 * thickness * cosine / math.sqrt(index**2 - 1 + cosine**2)
    assert look_up(light.deeper_mm, np.array([cosine])) == pytest.approx(across, rel=2e-3)


@pytest.mark.parametrize(
    ("reflections", "turn", "raster"),
    [(1, 0, (320, 240)), (1, 90, (240, 320)), (1, 180, (1920, 1080)), (2, 270, (320, 240))],
)
def test_the_assumed_box_shows_a_loop_the_way_it_was_made(
    reflections: int, turn: int, raster: tuple[int, int], tmp_path: Path
) -> None:
    report = {"recipe": {"reflections": reflections, "turn": turn}}
    found = find_backdrop(tmp_path / "loop.mp4", raster, None, report)
    assert (found.orientation.mirrored, found.orientation.quarter_turns) == (
        reflections == 1,
        -turn // 90 % 4,
    )
    active = found.plan.scene.screen.active
    # a small panel's pitch is 0.153 mm (common practice, no source), and none is longer than 154 mm
    assert max(active) == pytest.approx(min(0.153 * max(raster), 154), abs=0.001)
    assert active[0] / active[1] == pytest.approx(raster[0] / raster[1], rel=1e-3)
    upright = active if turn % 180 == 0 else active[::-1]
    assert found.plan.figure.height_mm == pytest.approx(0.94 * upright[1], rel=1e-3)
    assert f"{active[0]:.0f} x {active[1]:.0f} mm" in found.assumed
    assert found.assumed.startswith("No scene was named, so an ordinary box is assumed")
    assert found.scene is None
    assert found.plan.scene.viewer.distance == 600
    # half as wide again as the picture, and a little wider than high, so that the pane has room
    assert found.plan.scene.box.width == pytest.approx(max(1.5 * upright[0], 1.1 * upright[1]), abs=0.01)


@pytest.mark.parametrize(
    ("turn", "lit"),
    [
        (0, (0.2, 0.25, 0.8, 0.85)),
        (180, (0.2, 0.15, 0.8, 0.75)),
        (90, (0.25, 0.2, 0.85, 0.8)),  # clockwise: the raster's right edge lies below
        (270, (0.15, 0.2, 0.75, 0.8)),
    ],
)
def test_in_the_assumed_box_the_figure_stands_on_the_floor(
    turn: int, lit: tuple[float, float, float, float], tmp_path: Path
) -> None:
    """Lit is 15 % to 75 % of the upright picture's height, from below, however the player is turned."""
    report = {"recipe": {"turn": turn}}
    plan = find_backdrop(tmp_path / "loop.mp4", (320, 240), None, report, lit=lit).plan
    active = plan.scene.screen.active
    high = active[1] if turn % 180 == 0 else active[0]
    assert plan.figure.height_mm == pytest.approx(0.6 * high, rel=1e-3)
    assert plan.layout.ghost[1] == pytest.approx(0.35 * high, abs=0.02)
    assert 1700 / plan.figure.scale == pytest.approx(0.6 * high, rel=1e-3)


@pytest.mark.parametrize("recipe", [{"reflections": "two"}, {"turn": 45}, {"turn": [90]}, "none"])
def test_a_report_that_makes_no_sense_leaves_one_pane_and_no_turn(recipe: Any, tmp_path: Path) -> None:
    found = find_backdrop(
        tmp_path / "loop.mp4", (320, 240), None, {"recipe": recipe, "scene": 7}, trouble="It is old"
    )
    assert (found.orientation.mirrored, found.orientation.quarter_turns) == (True, 0)
    assert found.assumed.startswith("It is old, so")


@pytest.mark.parametrize("ground", [0.0, 50.0, -20.0])
def test_what_is_lit_begins_and_ends_by_the_pictures_own_height(ground: float) -> None:
    """Wherever the ghost's ground lies: a picture of 240 rows, half a millimetre each."""

    class Stub:
        def to_ghost(self, places: np.ndarray) -> np.ndarray:
            return np.column_stack([places[:, 0], ground + 0.5 * (240 - places[:, 1])])

    mount: Any = Stub()
    assert _stands(mount, (320, 240), (0.2, 0.25, 0.8, 0.85)) == pytest.approx((0.15, 0.75))


def test_a_scene_file_counts_while_it_says_what_the_loop_was_made_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file, loop = tmp_path / "hall.toml", tmp_path / "loop.mp4"
    file.write_text(starter_text(), encoding="utf-8")
    report = {"recipe": {"scene": "hall.toml"}, "scene": _as_told(file)}
    assert _made_for(loop, report) == file
    # here, where there is none beside the loop
    monkeypatch.chdir(tmp_path)
    assert _made_for(tmp_path / "elsewhere" / "loop.mp4", report) == Path("hall.toml")
    # never by a path, which another's report may name
    assert _made_for(loop, report | {"recipe": {"scene": str(file)}}) is None
    assert _made_for(loop, report | {"recipe": {"scene": "none.toml"}}) is None
    file.write_text(starter_text().replace("distance = ", "distance = 1"), encoding="utf-8")
    assert _as_told(file) != report["scene"]
    assert _made_for(loop, report) is None
    file.write_text("no scene", encoding="utf-8")
    assert _made_for(loop, report) is None
