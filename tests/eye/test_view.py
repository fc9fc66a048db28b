"""The simulated view against the optics, and against light followed by another route.

Outside checks: Fresnel's and the plate's figures as tabulated in W. J. Smith, Modern Optical
Engineering, 4th ed., section 11 (through the plan, which the optics' own tests hold to them);
the mirror law by following the ray from the reflected eye instead of to the reflected screen.
"""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.eye.brush import Brush
from ghostprep.eye.rays import Surface, card_place, window_for
from ghostprep.eye.stage import Stage, stage_of
from ghostprep.eye.tone import KNEE, shoulder
from ghostprep.eye.view import View, drawn_scenery
from ghostprep.eye.walls import DOOR_MM, _back
from ghostprep.optics import Plan, make_plan
from ghostprep.optics.vectors import meet_plane, reflect_point
from ghostprep.scene import parse_scene

SCENE = """
scale = "1:24"
[box]
width = 140
height = 190
depth = 260
[viewer]
distance = 600
height = 95
[screen]
wall = "left"
centre = [-60, 36, 122]
top = "front"
raster = [480, 320]
active = [73.44, 48.96]
luminance = 300
contrast = 400
[ghost]
at = [0, 36, 182]
[light]
scene = 5
"""
PX = 800


PLAN = make_plan(parse_scene(SCENE))


@pytest.fixture(scope="module")
def plan() -> Plan:
    return PLAN


@pytest.fixture(scope="module")
def stage(plan: Plan) -> Stage:
    return stage_of(plan)


@pytest.fixture(scope="module")
def view(stage: Stage) -> View:
    return View(stage, drawn_scenery(stage), height_px=PX, card=False, room=0.0)


def blank() -> np.ndarray:
    return np.zeros((320, 480, 3), np.uint8)


def full(code: int) -> np.ndarray:
    return np.full((320, 480, 3), code, np.uint8)


def luma(light: np.ndarray) -> np.ndarray:
    return light @ np.array([0.2126, 0.7152, 0.0722])


def centre_px(view: View) -> tuple[int, int]:
    x, y = view.window.project(view.eye, view.stage.image.centre)
    return round(float(x) - 0.5), round(float(y) - 0.5)


def test_the_ghosts_white_and_the_screens_black_are_the_plans(plan: Plan, view: View) -> None:
    x, y = centre_px(view)
    without = luma(view._still)[y - 3 : y + 4, x - 3 : x + 4]
    white = luma(view.luminance(full(255)))[y - 3 : y + 4, x - 3 : x + 4] - without
    black = luma(view.luminance(full(0)))[y - 3 : y + 4, x - 3 : x + 4] - without
    assert white == pytest.approx(plan.light.ghost, rel=2e-3)
    assert black == pytest.approx(plan.light.black_glow * plan.light.scene, rel=5e-3)
    assert white.mean() / black.mean() == pytest.approx(400, rel=5e-3)


def test_the_scenery_behind_the_figure_has_the_plans_luminance(plan: Plan, view: View) -> None:
    low = np.array([-0.2 * plan.figure.height_mm, plan.figure.feet_mm, 182.0])
    high = np.array([0.2 * plan.figure.height_mm, plan.figure.feet_mm + plan.figure.height_mm, 182.0])
    (x0, y1), (x1, y0) = view.window.project(view.eye, np.array([low, high])).round().astype(int)
    assert luma(view._still)[y0:y1, x0:x1].mean() == pytest.approx(plan.light.scene, rel=0.3)


def spot(view: View, x: int, y: int) -> np.ndarray:
    """Luminance that one lit block of the raster adds to the view."""
    frame = blank()
    frame[y - 3 : y + 3, x - 3 : x + 3] = 255
    return luma(view.luminance(frame) - view.luminance(blank()))


def test_the_doubling_has_the_plans_offset_and_ratio(plan: Plan, stage: Stage) -> None:
    stage = replace(stage, screen_shows=False)  # only what the pane reflects
    view = View(stage, drawn_scenery(stage), height_px=2400, card=False, room=0.0)
    added = spot(view, 240, 160)
    lit = (added > added.max() * 0.05).astype(np.uint8)
    count, labels, _, centres = cv2.connectedComponentsWithStats(lit)
    assert count == 3  # the ground and two spots
    lights = [added[labels == k].max() for k in (1, 2)]
    first, second = (1, 2) if lights[0] > lights[1] else (2, 1)
    ratio = min(lights) / max(lights)
    assert ratio == pytest.approx(plan.doubling.ratio, rel=0.015)  # later images are counted with the second
    # from view px to the ghost plane, and from there to raster px
    front_mm = (centres[second] - centres[first]) / view.window.scale
    on_ghost = np.linalg.norm(front_mm) * (182 + 600) / 600
    assert on_ghost / stage.image.active[0] * 480 == pytest.approx(plan.doubling.offset_px, abs=0.25)
    assert plan.doubling.offset_px > 5
    second_image = stage.second_image(stage.reflection(stage.eye))
    ends = view.window.project(stage.eye, np.array([stage.image.centre, second_image.centre]))
    exact = np.linalg.norm(ends[1] - ends[0]) / view.window.scale * (182 + 600) / 600
    assert exact / stage.image.active[0] * 480 == pytest.approx(plan.doubling.offset_px, rel=0.005)


def test_a_figure_is_as_tall_as_the_plan_says_within_a_pixel(plan: Plan, stage: Stage) -> None:
    stage = replace(stage, screen_shows=False, thickness=1e-6)  # one image: the second would blur the ends
    view = View(stage, drawn_scenery(stage), height_px=PX, card=False, room=0.0)
    feet, head = (
        np.array([[0.0, y]]) for y in (plan.figure.feet_mm, plan.figure.feet_mm + plan.figure.height_mm)
    )
    (fx, fy), (hx, hy) = plan.mount.to_raster(feet)[0], plan.mount.to_raster(head)[0]
    frame = blank()
    x0, x1 = sorted((round(fx), round(hx)))
    y0, y1 = sorted((round(fy) - 20, round(hy) + 20))
    frame[max(y0, 0) : y1, max(x0, 0) : x1] = 255
    added = luma(view.luminance(frame) - view.luminance(blank()))
    rows = np.flatnonzero((added > added.max() / 2).any(axis=1))
    measured = rows[-1] - rows[0] + 1
    expected = plan.figure.height_mm * 600 / (600 + 182) * view.window.scale
    assert measured == pytest.approx(expected, abs=1.0)
    assert expected > 150


@settings(deadline=None, max_examples=25)
@given(
    dx=st.floats(-70, 70),
    dy=st.floats(-60, 60),
    x=st.floats(60, 420),
    y=st.floats(60, 260),
)
def test_parallax_agrees_with_the_ray_from_the_mirrored_eye(dx: float, dy: float, x: float, y: float) -> None:
    stage = stage_of(PLAN)
    eye = stage.eye + np.array([dx, dy, 0])
    # the image of the screen, looked at straight
    window = window_for(stage, PX)
    seen = window.project(eye, stage.image.at(np.array([x, y])))
    # the screen itself, looked at by the mirrored eye; where that line meets the pane the eye sees the light
    layout = PLAN.layout
    other = reflect_point(eye, layout.on_pane, layout.pane_normal)
    met = meet_plane(other, layout.screen.at(np.array([x, y])), layout.on_pane, layout.pane_normal)
    assert window.project(eye, met) == pytest.approx(seen, abs=1e-6)


def test_the_traced_map_and_the_projection_agree(stage: Stage) -> None:
    eye = stage.eye + np.array([40, -30, 0])
    view = View(stage, drawn_scenery(stage), height_px=PX, eye=eye, card=False)
    there = view.window.project(eye, stage.image.at(np.array([300.0, 100.0])))
    column, row = int(there[0]), int(there[1])
    raster = view.sight.first[row, column]
    back = view.window.project(eye, stage.image.at(raster.astype(float)))
    assert back == pytest.approx((column + 0.5, row + 0.5), abs=1e-2)


def test_moving_the_eye_cuts_the_ghost_off(stage: Stage) -> None:
    x, y = np.meshgrid(np.linspace(100, 400, 20), np.linspace(60, 260, 20))
    grid = np.stack([x.ravel(), y.ravel()], axis=-1)
    shares = [stage.visible_share(stage.eye + np.array([dx, 0, 0]), grid) for dx in (0, 150, 250, 400, 900)]
    assert shares[0] == 1
    assert shares == sorted(shares, reverse=True)
    assert shares[-1] == 0
    # the picture says the same
    far = replace(stage, screen_shows=False)
    view = View(far, drawn_scenery(far), height_px=300, eye=far.eye + np.array([900, 0, 0]), card=False)
    assert (view.luminance(full(255)) == view._still).all()


def test_the_pane_darkens_only_what_stands_behind_it(stage: Stage, view: View) -> None:
    sight = view.sight
    assert sight.through_pane[sight.surface == Surface.BACK].any()
    assert not sight.through_pane[sight.surface == Surface.FRONT].any()
    walls = drawn_scenery(stage).light(sight, 1.0, 0.0)
    seen = sight.through_pane & (sight.surface == Surface.BACK)
    assert view._still[seen] == pytest.approx(walls[seen] * view.reflection.transmittance, rel=1e-5)


def test_lamps_and_room_add_up_in_linear_light(stage: Stage) -> None:
    scenery = drawn_scenery(stage)
    lamp, room, both = (
        View(stage, scenery, height_px=200, lamps=lamps, room=lux)._still
        for lamps, lux in ((1.0, 0.0), (0.0, 80.0), (1.0, 80.0))
    )
    assert both == pytest.approx(lamp + room, rel=1e-4, abs=1e-5)
    brighter = View(stage, scenery, height_px=200, lamps=3.0, room=0.0)._still
    assert brighter == pytest.approx(3 * lamp, rel=1e-5, abs=1e-6)


def test_the_scale_figure_is_one_metre_seventy(stage: Stage, plan: Plan) -> None:
    _, _, low, high = card_place(stage)
    assert (high - low) * plan.figure.scale == pytest.approx(1700)
    assert low == plan.figure.feet_mm


def test_the_painted_door_has_its_full_size_measure() -> None:
    brush = Brush((3000.0, 4000.0), 0.16)
    _back(brush)
    column = brush.picture[:, brush.picture.shape[1] // 2 - 60]
    frame_above = brush.picture.shape[0] - round((DOOR_MM + 45) * brush.scale)
    leaf = brush.picture.shape[0] - round((DOOR_MM - 40) * brush.scale)
    assert (column[frame_above] != column[leaf]).any()


def test_the_tone_keeps_ratios_below_its_knee_and_stays_under_white() -> None:
    shares = np.linspace(0, 8, 400, dtype=np.float32)
    bent = shoulder(shares)
    assert (bent[shares <= KNEE] == shares[shares <= KNEE]).all()
    assert bent.max() <= 1
    assert (np.diff(bent) >= 0).all()
