"""The map from ghost plane to raster, against rays that are followed one by one."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from ghostprep.errors import InputError
from ghostprep.optics import Mount, lay_out
from ghostprep.optics.mount import find_mount
from ghostprep.optics.planning import measure
from ghostprep.scene.model import TOPS

CENTRES = {
    "left": (-120, 150, 160),
    "right": (120, 140, 160),
    "floor": (5, 30, 160),
    "ceiling": (-5, 270, 160),
}
THROUGH = {"left": (-20, 150, 230), "right": (20, 140, 230), "floor": (0, 150, 230), "ceiling": (0, 150, 230)}
MOUNTS = [(wall, top) for wall, tops in TOPS.items() for top in tops]
# the letter F: no flip and no turn of it is itself
LETTER = np.array(
    [
        [0, 0, 0, 0, 0],
        [0, 1, 1, 1, 0],
        [0, 1, 0, 0, 0],
        [0, 1, 1, 0, 0],
        [0, 1, 0, 0, 0],
        [0, 1, 0, 0, 0],
        [0] * 5,
    ]
)


def mounted(make_scene, wall, top, swivel=0.0, angle=45.0, **screen):
    return make_scene(
        screen={"wall": wall, "top": top, "swivel": swivel, "centre": CENTRES[wall], **screen},
        pane={"through": THROUGH[wall], "angle": angle},
    )


@pytest.mark.parametrize(("wall", "top"), MOUNTS)
def test_homography_agrees_with_single_rays_for_every_mount(make_scene, ray_tracer, wall, top):
    for swivel, angle in itertools.product((-25.0, -10.0, 0.0, 10.0, 25.0), (35.0, 40.0, 45.0, 50.0, 55.0)):
        scene = mounted(make_scene, wall, top, swivel, angle, active=[40.8, 32.0])
        plan, tracer = measure(scene), ray_tracer(scene)
        places = plan.mount.to_ghost(
            np.array(list(itertools.product((0, 33.3, 160, 320), (0, 77.7, 120, 240))))
        )
        depth = plan.layout.ghost[2]
        traced = np.array([tracer.sight_to_raster((x, y, depth)) for x, y in places])
        assert np.abs(traced - plan.mount.to_raster(places)).max() < 1e-6


@settings(deadline=None, max_examples=60)
@given(
    mount=st.sampled_from(MOUNTS),
    swivel=st.floats(-30, 30),
    angle=st.floats(32, 58),
    shift=st.tuples(*[st.floats(-25, 25)] * 3),
    eye=st.tuples(st.floats(-150, 150), st.floats(20, 280), st.floats(200, 3000)),
    active=st.tuples(st.floats(20, 80), st.floats(20, 80)),
    raster=st.tuples(st.integers(64, 1920), st.integers(64, 1080)),
    px=st.tuples(st.floats(0, 1), st.floats(0, 1)),
)
def test_light_takes_the_shortest_way_over_the_pane(
    make_scene, ray_tracer, mount, swivel, angle, shift, eye, active, raster, px
):
    """Fermat: over all points of the pane the way pixel - pane - eye is shortest where we say it goes."""
    wall, top = mount
    centre = np.add(CENTRES[wall], np.multiply(shift, (0.5, 1, 1)))
    scene = make_scene(
        viewer={"across": eye[0], "height": eye[1], "distance": eye[2]},
        screen={
            "wall": wall,
            "top": top,
            "swivel": swivel,
            "centre": tuple(centre),
            "active": active,
            "raster": raster,
        },
        pane={"through": THROUGH[wall], "angle": angle},
    )
    try:
        plan = measure(scene)
    except InputError:
        assume(False)
    tracer = ray_tracer(scene)
    pixel = np.multiply(px, raster)
    x, y = plan.mount.to_ghost(pixel)
    source, seen = tracer.pixel(pixel), np.array([x, y, -plan.layout.ghost[2]])
    way = seen - tracer.eye
    hit = tracer.eye + way * ((tracer.on_pane - tracer.eye) @ tracer.pane_normal) / (way @ tracer.pane_normal)

    def length(at):
        return np.linalg.norm(source - at) + np.linalg.norm(at - tracer.eye)

    helper = np.eye(3)[np.abs(tracer.pane_normal).argmin()]
    u = np.cross(tracer.pane_normal, helper)
    u /= np.linalg.norm(u)
    v = np.cross(tracer.pane_normal, u)
    step = 0.02
    for direction in (u, v):
        before, after = length(hit - step * direction), length(hit + step * direction)
        curve = before + after - 2 * length(hit)
        off = step * (before - after) / (2 * curve)
        # the parabola's lowest point, mm on the pane, as pixels: far below a hundredth
        assert curve > 0
        assert abs(off) / min(np.divide(scene.screen.active, scene.screen.raster)) < 0.01


@pytest.mark.parametrize(("wall", "top"), MOUNTS)
def test_letter_is_upright_and_unmirrored_for_every_mount(make_scene, ray_tracer, wall, top):
    """The raster made by flip and turns alone, looked at along single lines of sight, is the letter."""
    lit = (
        (30.6, 40.8)
        if top in {"up", "down"} or (wall in {"floor", "ceiling"} and top in {"front", "back"})
        else (40.8, 30.6)
    )
    raster = (96, 128) if lit[0] < lit[1] else (128, 96)
    scene = mounted(make_scene, wall, top, active=lit, raster=raster)
    plan, tracer = measure(scene), ray_tracer(scene)
    assert plan.mount.keystone_px < 1e-6
    # nobody sees half a pixel
    assert [replace(plan.mount, keystone_px=px).bent for px in (0.49, 0.51)] == [False, True]
    assert plan.mount.mirrored
    upright = np.kron(LETTER, np.ones((18, 19), int))[:126]
    upright = np.pad(upright, ((1, 1), (0, 96 - upright.shape[1])))
    shown = np.rot90(upright[:, ::-1], -plan.mount.quarter_turns)
    assert shown.shape == (raster[1], raster[0])
    assert (seen_by_eye(plan, tracer, shown, upright.shape, 30.6 / 96) == upright).all()


@pytest.mark.parametrize(("wall", "top"), MOUNTS)
def test_letter_is_straight_after_the_homography(make_scene, ray_tracer, wall, top):
    scene = mounted(make_scene, wall, top, swivel=8.0, angle=41.0, active=(48, 48), raster=(192, 192))
    plan, tracer = measure(scene), ray_tracer(scene)
    assert plan.mount.keystone_px > 0.5
    assert plan.mount.bent
    upright = np.kron(LETTER, np.ones((12, 16), int))
    pitch = 0.35
    columns, rows = np.meshgrid(np.arange(192) + 0.5, np.arange(192) + 0.5)
    mm = plan.mount.to_ghost(np.stack([columns, rows], axis=-1)) - plan.layout.ghost[:2]
    at = np.floor(
        np.stack([mm[..., 0], -mm[..., 1]], axis=-1) / pitch + np.array(upright.shape)[::-1] / 2
    ).astype(int)
    inside = ((at >= 0) & (at < np.array(upright.shape)[::-1])).all(axis=-1)
    shown = np.where(inside, upright[at[..., 1].clip(0, 83), at[..., 0].clip(0, 79)], 0)
    seen = seen_by_eye(plan, tracer, shown, upright.shape, pitch)
    # nearest pixels: only the letter's outline may differ
    assert (seen == upright).mean() > 0.96
    others = [np.rot90(upright, k) for k in range(1, 4)] + [np.rot90(upright[:, ::-1], k) for k in range(4)]
    assert all((seen[:80, :80] == other[:80, :80]).mean() < 0.9 for other in others)


def seen_by_eye(plan, tracer, shown, shape, pitch):
    """Return the picture that the eye sees round the ghost's middle, sampled by single rays."""
    high, wide = shape
    gx, gy, gz = plan.layout.ghost
    x, y = np.meshgrid(
        gx + (np.arange(wide) + 0.5 - wide / 2) * pitch, gy - (np.arange(high) + 0.5 - high / 2) * pitch
    )
    at = np.floor(tracer.sight_to_raster(np.stack([x, y, np.full_like(x, gz)], axis=-1)) + 1e-9).astype(int)
    inside = ((at >= 0) & (at < (shown.shape[1], shown.shape[0]))).all(axis=-1)
    rows, columns = at[..., 1].clip(0, shown.shape[0] - 1), at[..., 0].clip(0, shown.shape[1] - 1)
    return np.where(inside, shown[rows, columns], 0)


def test_two_of_screen_pane_and_ghost_give_the_third(make_scene):
    by_pane = make_scene(screen={"centre": CENTRES["left"]}, pane={"through": THROUGH["left"], "angle": 42})
    ghost = lay_out(by_pane).ghost
    by_ghost = make_scene(screen={"centre": CENTRES["left"]}, ghost={"at": tuple(ghost)})
    assert lay_out(by_ghost).ghost == pytest.approx(ghost)
    assert lay_out(by_ghost).angle_deg == pytest.approx(42)
    by_both = make_scene(pane={"through": THROUGH["left"], "angle": 42}, ghost={"at": tuple(ghost)})
    assert lay_out(by_both).screen.centre == pytest.approx(np.array(CENTRES["left"]))


def test_pane_and_ghost_that_put_the_screen_outside_are_refused(make_scene):
    with pytest.raises(InputError, match=r"ghost\.at: .* outside the box, at -210 mm, 150 mm, 80 mm"):
        lay_out(make_scene(pane={"through": (-80, 150, 210)}, ghost={"at": (50, 150, 340)}))


def test_with_nothing_given_the_ghost_stands_in_the_middle_at_45_degrees(make_scene):
    layout = lay_out(make_scene(screen={"centre": (-120, 140, 100)}))
    assert layout.ghost == pytest.approx(np.array([0, 140, 220]))
    assert layout.angle_deg == pytest.approx(45)


def test_pixels_that_are_not_square_are_counted(make_scene):
    """A 7 inch panel of 154.21 x 85.92 mm with 1024 x 600 pixels: a figure's px depend on the mount."""
    box = {"width": 500, "height": 400, "depth": 600}
    panel = {"raster": [1024, 600], "active": [154.21, 85.92], "centre": (-200, 150, 200)}
    lying = measure(make_scene(box=box, screen={**panel, "top": "up"}))
    standing = measure(make_scene(box=box, screen={**panel, "top": "front"}))
    height = 1700 / 24
    assert lying.figure.height_px == pytest.approx(height / (85.92 / 600))
    assert standing.figure.height_px == pytest.approx(height / (154.21 / 1024))


def test_keystone_is_the_largest_distance_over_the_raster(make_scene, ray_tracer):
    plan = measure(mounted(make_scene, "left", "up", swivel=5))
    square = measure(mounted(make_scene, "left", "up"))
    worst = 0.0
    for x, y in itertools.product(np.linspace(0, 320, 5), np.linspace(0, 240, 5)):
        mm = plan.mount.to_ghost(np.array([x, y])) - plan.layout.ghost[:2] + square.layout.ghost[:2]
        worst = max(worst, float(np.linalg.norm(square.mount.to_raster(mm) - (x, y))))
    assert plan.mount.keystone_px == pytest.approx(worst, rel=1e-6)


@pytest.mark.parametrize("angle", [36.0, 54.0])
@pytest.mark.parametrize("figure", [200.0, 9000.0])
def test_a_figure_is_refused_whose_head_no_line_of_sight_meets_in_the_image(make_scene, angle, figure):
    """An image that leans: the line to a place must meet its plane before the eye, not behind it."""
    layout = measure(mounted(make_scene, "floor", "front", angle=angle)).layout
    eye, image = layout.eye, layout.image
    to_head = np.array([layout.ghost[0], figure, layout.ghost[2]]) - eye
    meets = float((image.centre - eye) @ image.normal) / float(to_head @ image.normal) > 0
    assert meets == (figure < 1000 or angle > 45)
    if meets:
        assert find_mount(layout, figure, 0).figure_height_px > 0
    else:
        with pytest.raises(ValueError, match="stands so steep to the eye"):
            find_mount(layout, figure, 0)


def test_mount_says_how_tall_the_figure_is(make_scene):
    scene = make_scene(screen={"centre": CENTRES["left"]}, ghost={"feet": 140, "figure": 240})
    mount: Mount = measure(scene).mount
    # 10 mm of 30.6 mm and 240 pixels
    assert mount.figure_height_px == pytest.approx(10 / (30.6 / 240))
