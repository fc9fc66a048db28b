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

from ghostprep.eye.display import KNEE, shoulder
from ghostprep.eye.faces import GRID
from ghostprep.eye.pane import look_up, pane_light
from ghostprep.eye.stage import Stage, stage_of
from ghostprep.eye.view import EyeView
from ghostprep.eye.window import near_window, whole_window
from ghostprep.optics import Plan
from ghostprep.optics.vectors import meet_plane, reflect_point
from tests.eye.plain_box import plain_box

PX = 800
PLAN = plain_box(screen="luminance = 300\ncontrast = 400", light="[light]\nscene = 5")
DEPTH = 182.0


@pytest.fixture(scope="module")
def plan() -> Plan:
    return PLAN


@pytest.fixture(scope="module")
def stage(plan: Plan) -> Stage:
    return stage_of(plan, card=False)


@pytest.fixture(scope="module")
def view(stage: Stage) -> EyeView:
    return EyeView(replace(stage, room_lux=0.0), whole_window(stage.plan, PX), stage.plan.layout.eye)


def blank() -> np.ndarray:
    return np.zeros((320, 480, 3), np.uint8)


def full(code: int) -> np.ndarray:
    return np.full((320, 480, 3), code, np.uint8)


def luma(light: np.ndarray) -> np.ndarray:
    return light @ np.array([0.2126, 0.7152, 0.0722])


def centre_px(view: EyeView) -> tuple[int, int]:
    x, y = view.window.project(view.eye, view.stage.plan.layout.ghost)
    return round(float(x) - 0.5), round(float(y) - 0.5)


def without_baffle(stage: Stage) -> Stage:
    return replace(stage, world=stage.world.without("baffle"))


def test_the_ghosts_white_and_the_screens_black_are_the_plans(plan: Plan, view: EyeView) -> None:
    x, y = centre_px(view)
    without = luma(view._still)[y - 3 : y + 4, x - 3 : x + 4]
    white = luma(view.luminance(full(255)))[y - 3 : y + 4, x - 3 : x + 4] - without
    black = luma(view.luminance(full(0)))[y - 3 : y + 4, x - 3 : x + 4] - without
    assert white == pytest.approx(plan.light.ghost, rel=5e-3)
    assert black == pytest.approx(plan.light.black_glow * plan.light.scene, rel=5e-3)
    assert white.mean() / black.mean() == pytest.approx(400, rel=5e-3)


def test_the_scenery_behind_the_figure_has_the_plans_luminance(plan: Plan, view: EyeView) -> None:
    # without a lamp in the file the light is taken from above; what the pane mirrors adds to it
    x, y = centre_px(view)
    assert luma(view._still)[y - 2 : y + 3, x - 2 : x + 3].mean() == pytest.approx(plan.light.scene, rel=0.15)


def spot(view: EyeView, x: int, y: int) -> np.ndarray:
    """Luminance that one lit block of the raster adds to the view."""
    frame = blank()
    frame[y - 3 : y + 3, x - 3 : x + 3] = 255
    return luma(view.luminance(frame) - view.luminance(blank()))


def test_the_doubling_has_the_plans_offset_and_ratio(plan: Plan, stage: Stage) -> None:
    whole = whole_window(plan, 900)
    near = near_window(plan, whole)
    window = replace(near, left=near.left + 20, top=near.top - 20, scale=near.scale * 1.5)
    view = EyeView(replace(stage, room_lux=0.0), window, stage.plan.layout.eye)
    added = spot(view, 240, 160)
    lit = (added > added.max() * 0.05).astype(np.uint8)
    count, labels, _, centres = cv2.connectedComponentsWithStats(lit)
    assert count == 3  # the ground and two spots
    lights = [added[labels == k].max() for k in (1, 2)]
    first, second = (1, 2) if lights[0] > lights[1] else (2, 1)
    ratio = min(lights) / max(lights)
    assert ratio == pytest.approx(plan.doubling.ratio, rel=0.03)  # later images are counted with the second
    # from view px to the ghost plane, and from there to raster px
    front_mm = (centres[second] - centres[first]) / view.window.scale
    on_ghost = np.linalg.norm(front_mm) * (DEPTH + 600) / 600
    assert on_ghost / 73.44 * 480 == pytest.approx(plan.doubling.offset_px, abs=0.4)
    assert plan.doubling.offset_px > 5
    eye = plan.layout.eye
    second_image = pane_light(plan).second_face(plan, eye).image(plan.layout.screen.centre)
    ends = window.project(eye, np.array([plan.layout.ghost, second_image]))
    exact = np.linalg.norm(ends[1] - ends[0]) / window.scale * (DEPTH + 600) / 600
    assert exact / 73.44 * 480 == pytest.approx(plan.doubling.offset_px, rel=0.005)


def test_a_figure_is_as_tall_as_the_plan_says_within_a_pixel(plan: Plan, stage: Stage) -> None:
    one = replace(stage.pane, second=stage.pane.second * 0)  # the second image would blur the ends
    view = EyeView(replace(stage, pane=one, room_lux=0.0), whole_window(plan, PX), plan.layout.eye)
    feet, head = (
        np.array([[0.0, y]]) for y in (plan.figure.feet_mm, plan.figure.feet_mm + plan.figure.height_mm)
    )
    (fx, fy), (hx, hy) = plan.mount.to_raster(feet)[0], plan.mount.to_raster(head)[0]
    frame = blank()
    x0, x1 = sorted((round(fx), round(hx)))
    y0, y1 = sorted((round(fy) - 20, round(hy) + 20))
    frame[max(y0, 0) : y1, max(x0, 0) : x1] = 255
    added = luma(view.luminance(frame) - view.luminance(blank()))
    # in the ghost's middle: beside it the screen itself may be seen
    column = added[:, centre_px(view)[0]]
    rows = np.flatnonzero(column > column.max() / 2)
    measured = rows[-1] - rows[0] + 1
    expected = plan.figure.height_mm * 600 / (600 + DEPTH) * view.window.scale
    assert measured == pytest.approx(expected, abs=1.0)
    assert expected > 150


@settings(deadline=None, max_examples=25)
@given(dx=st.floats(-70, 70), dy=st.floats(-60, 60), x=st.floats(60, 420), y=st.floats(60, 260))
def test_the_place_on_the_raster_agrees_with_the_ray_from_the_mirrored_eye(
    dx: float, dy: float, x: float, y: float
) -> None:
    layout = PLAN.layout
    eye = layout.eye + np.array([dx, dy, 0])
    # the screen itself, looked at by the mirrored eye; where that line meets the pane the eye sees the light
    other = reflect_point(eye, layout.on_pane, layout.pane_normal)
    met = meet_plane(other, layout.screen.at(np.array([x, y])), layout.on_pane, layout.pane_normal)
    window = replace(whole_window(PLAN, PX), size=(1, 1))
    at = window.project(eye, met)
    window = replace(
        window, left=window.left + (at[0] - 0.5) / window.scale, top=window.top - (at[1] - 0.5) / window.scale
    )
    view = EyeView(_STAGE, window, eye)
    (_, place, share), *_ = [entry for entry in view._lit if len(entry[0])]
    assert place[0] * (480, 320) == pytest.approx((x, y), abs=0.01)
    assert 0.02 < share[0] < 0.1


_STAGE = without_baffle(stage_of(PLAN, card=False))


def test_moving_the_eye_cuts_the_ghost_off(stage: Stage) -> None:
    shares = []
    for dx in (0, 150, 300, 900):
        eye = stage.plan.layout.eye + np.array([dx, 0, 0])
        view = EyeView(without_baffle(stage), whole_window(stage.plan, 150), eye)
        # what is mirrored has a small share of the screen's light, the screen itself all of it
        shares.append(sum(int((share < 0.5).sum()) for _, _, share in view._lit))
    assert shares == sorted(shares, reverse=True)
    assert shares[-1] < 0.2 * shares[0]


def test_lamps_and_room_add_up_in_linear_light(stage: Stage) -> None:
    window, eye = whole_window(stage.plan, 150), stage.plan.layout.eye
    lamp, room, both, brighter = (
        EyeView(replace(stage, scenery=lamps * stage.scenery, room_lux=lux), window, eye)._still
        for lamps, lux in ((1.0, 0.0), (0.0, 80.0), (1.0, 80.0), (3.0, 0.0))
    )
    assert both == pytest.approx(lamp + room, rel=1e-4, abs=1e-5)
    assert brighter == pytest.approx(3 * lamp, rel=1e-5, abs=1e-6)


def test_the_paper_figure_is_one_metre_seventy_and_stands_on_the_ghosts_ground(plan: Plan) -> None:
    (body,) = [b for b in stage_of(plan).world.bodies if b.name == "paper figure"]
    low, high = body.block.corners()[:, 1].min(), body.block.corners()[:, 1].max()
    assert (high - low) * plan.figure.scale == pytest.approx(1700)
    assert low == pytest.approx(plan.figure.feet_mm)


def test_every_face_is_a_rectangle_that_looks_outwards(stage: Stage) -> None:
    for face in stage.faces:
        block = stage.world.bodies[face.body].block
        corners = [face.corner + u * face.right + v * face.down for u in (0, 1) for v in (0, 1)]
        assert np.abs((np.array(corners) - block.centre) @ block.axes.T) == pytest.approx(
            np.broadcast_to(block.half, (4, 3)), abs=1e-9
        )
        assert (face.corner - block.centre) @ face.normal == pytest.approx(block.half[face.axis])
        # right, down and inwards stand to each other as on a page that is looked at
        assert np.cross(face.right, face.down) @ face.normal > 0
        assert stage.maps[0].shape == (GRID, GRID)


def test_pictures_stand_upright_on_walls_and_things(stage: Stage) -> None:
    upright = [face for face in stage.faces if abs(face.normal[1]) < 0.1]
    assert all(face.down[1] < 0 and abs(face.right[1]) < 1e-9 for face in upright)


def test_the_tables_give_fresnels_figures_back(plan: Plan) -> None:
    light = pane_light(plan)
    cosine = np.array([light.cosine(plan, plan.layout.eye)])
    both = look_up(light.first, cosine) + look_up(light.second, cosine)
    assert both == pytest.approx(plan.light.reflectance, rel=1e-4)
    assert look_up(light.through, cosine) == pytest.approx(plan.light.transmittance, rel=1e-5)


def test_the_tone_keeps_ratios_below_its_knee_and_stays_under_white() -> None:
    shares = np.linspace(0, 8, 400, dtype=np.float32)
    bent = shoulder(shares)
    assert (bent[shares <= KNEE] == shares[shares <= KNEE]).all()
    assert bent.max() <= 1
    assert (np.diff(bent) >= 0).all()
