"""Luminances, polarisation and doubling of whole scenes, against worked values."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.errors import InputError
from ghostprep.optics import make_plan
from ghostprep.optics.fresnel import pane_reflectance, pane_transmittance
from ghostprep.scene.model import TOPS


def on_axis(make_scene, *, wall="left", light=None, pane=None, viewer=None, **screen):
    """A 45 degree pane with the eye level with the ghost's middle, so that the incidence is 45 degrees."""
    centre = {
        "left": (-100, 150, 100),
        "floor": (0, 50, 100),
        "right": (100, 150, 100),
        "ceiling": (0, 250, 100),
    }
    through = {
        "left": (-50, 150, 150),
        "floor": (0, 100, 150),
        "right": (50, 150, 150),
        "ceiling": (0, 200, 150),
    }
    return make_plan(
        make_scene(
            viewer={"height": 150, "across": 0, **(viewer or {})},
            screen={"wall": wall, "centre": centre[wall], **screen},
            pane={"through": through[wall], "angle": 45, **(pane or {})},
            light={"scene": 5, **(light or {})},
        )
    )


@pytest.mark.parametrize(
    ("background", "seen", "contrast", "weber_1000", "weber_500"),
    [
        (0.5, 0.4549, 60.52, 0.0595, 0.1190),
        (2, 1.8195, 15.88, 0.0149, 0.0298),
        (5, 4.5488, 6.952, 0.0060, 0.0119),
        (20, 18.195, 2.488, 0.0015, 0.0030),
        (50, 45.488, 1.595, 0.0006, 0.0012),
    ],
)
def test_worked_brightness(make_scene, background, seen, contrast, weber_1000, weber_500):
    """300 cd/m2, n = 1.49, 45 degrees, both polarisations alike: calculated from the stated formulas."""
    plan = on_axis(make_scene, luminance=300, contrast=1000, light={"scene": background})
    light = plan.light
    assert light.incidence_deg == pytest.approx(45)
    assert light.ghost == pytest.approx(27.075, abs=5e-4)
    assert light.scene == pytest.approx(seen, rel=2e-4)
    assert light.contrast == pytest.approx(contrast, rel=2e-4)
    assert light.black_glow == pytest.approx(weber_1000, abs=6e-5)
    assert on_axis(make_scene, luminance=300, contrast=500, light={"scene": background}).light.black_glow == (
        pytest.approx(weber_500, abs=6e-5)
    )


@pytest.mark.parametrize("wall", list(TOPS))
@pytest.mark.parametrize(("quarter", "swings"), [(0, "height"), (2, "width")])
def test_polarisation_as_mounted(make_scene, wall, quarter, swings):
    """Light that swings across the plane of incidence is sent back ten times as strongly.

    With the top along the wall's upright (or, on floor and ceiling, along its depth) the raster's
    other side lies across the plane of incidence on floor and ceiling.
    """
    top = TOPS[wall][quarter]
    if wall in {"floor", "ceiling"}:
        swings = {"height": "width", "width": "height"}[swings]
    strong = on_axis(make_scene, wall=wall, top=top, polarisation=swings).light
    assert strong.reflectance == pytest.approx(0.164552, abs=1e-6)
    assert strong.reflectance_other_turn == pytest.approx(0.015947, abs=1e-6)
    assert strong.reflectance / strong.reflectance_other_turn == pytest.approx(10.319, abs=2e-3)
    weak = on_axis(
        make_scene, wall=wall, top=top, polarisation={"height": "width", "width": "height"}[swings]
    ).light
    assert weak.reflectance == pytest.approx(strong.reflectance_other_turn)
    for even in ("diagonal", "none", "unknown"):
        light = on_axis(make_scene, wall=wall, top=top, polarisation=even).light
        assert light.reflectance == light.reflectance_other_turn == pytest.approx(0.090250, abs=1e-6)


@settings(deadline=None, max_examples=40)
@given(
    across=st.floats(-200, 200),
    height=st.floats(0, 300),
    polarisation=st.sampled_from(["width", "height", "diagonal"]),
)
def test_slanted_rays_share_their_light_between_both_polarisations(make_scene, across, height, polarisation):
    plan = on_axis(make_scene, polarisation=polarisation, viewer={"across": across, "height": height})
    both = pane_reflectance(plan.light.incidence_deg, 1.49)
    assert both.p - 1e-12 <= plan.light.reflectance <= both.s + 1e-12
    # a polariser and the same a quarter round pass, together, all the light of a ray along its normal;
    # slanted rays deviate by less than the square of their slant
    slant = math.radians(
        max(abs(plan.light.incidence_deg - 45), math.degrees(math.atan2(abs(height - 150), 600)))
    )
    total = plan.light.reflectance + plan.light.reflectance_other_turn
    assert total == pytest.approx(both.s + both.p, abs=0.3 * slant**2 + 1e-9)


@pytest.mark.parametrize(
    ("index", "thickness", "before", "behind", "exact"),
    [(1.49, 1, 30, 300, 7.9376), (1.49, 2, 50, 500, 9.5238), (1.52, 3, 80, 600, 11.2615)],
)
def test_doubling_to_the_eye(make_scene, index, thickness, before, behind, exact):
    """The simple angle is within 0.1 % of an exact solution of both images (calculated in two dimensions)."""
    plan = make_plan(
        make_scene(
            viewer={"distance": behind - 150, "height": 150, "across": 0},
            screen={"centre": (-before, 150, 150)},
            pane={"through": (0, 150, 150), "angle": 45, "index": index, "thickness": thickness},
        )
    )
    assert plan.doubling.arcminutes == pytest.approx(exact, rel=1.1e-3)
    assert plan.doubling.offset_px == pytest.approx(plan.doubling.offset_mm / 0.1275, rel=1e-6)
    assert plan.doubling.vanishing_mm == pytest.approx(thickness / plan.doubling.arcminutes)


def test_second_image_of_the_table(make_scene):
    """n = 1.49 at 45 degrees: (1 - R) squared is .82873 across the plane of incidence, .98399 in it."""
    for polarisation, ratio in (("height", 0.82873), ("width", 0.98399)):
        assert on_axis(make_scene, polarisation=polarisation).doubling.ratio == pytest.approx(ratio, abs=6e-6)


def test_lamp_lights_the_wall_by_inverse_square_and_cosine(make_scene):
    """8 lm to all sides are 0.6366 cd; 100 mm before the wall 63.66 lux, of which 0.3 / pi come back."""

    def scenery(at, reflectance=0.3):
        light = {"scene": None, "lamps": [{"at": at, "lumens": 8}], "reflectance": reflectance}
        plan = on_axis(make_scene, light=light)
        return plan.light.scenery

    assert scenery((0, 150, 300)) == pytest.approx(0.3 * 63.662 / math.pi, rel=1e-4)
    assert scenery((0, 150, 300), 0.6) == pytest.approx(0.6 * 63.662 / math.pi, rel=1e-4)
    # 100 mm beside and 100 mm before: twice the square, cos 45 degrees
    assert scenery((0, 250, 300)) == pytest.approx(
        0.3 * 63.662 / math.pi / 2 * math.cos(math.pi / 4), rel=1e-4
    )


def test_lamp_before_the_pane_loses_what_the_pane_reflects(make_scene):
    at = (0, 150, 50)
    plan = on_axis(make_scene, light={"scene": None, "lamps": [{"at": at, "lumens": 8}]})
    bare = 0.3 / math.pi * 8 / (4 * math.pi) / 0.35**2
    passed = pane_transmittance(45, 1.49).mixed(0.5)
    assert plan.light.scenery == pytest.approx(bare * passed, rel=1e-6)


def test_what_would_reach_enough_contrast_does(make_scene):
    faint = on_axis(make_scene, luminance=100, light={"scene": 40})
    finding = next(f for f in faint.findings if f.subject == "light" and "reaches it" in f.remedy)
    words = finding.remedy.split()
    luminance = float(words[words.index("screen") + 2])
    assert on_axis(make_scene, luminance=luminance, light={"scene": 40}).light.contrast == pytest.approx(
        3, rel=0.01
    )
    scenery = float(words[words.index("lit") + 2])
    assert on_axis(make_scene, luminance=100, light={"scene": scenery}).light.contrast == pytest.approx(
        3, rel=0.05
    )


@settings(deadline=None, max_examples=150)
@given(
    wall=st.sampled_from(list(TOPS)),
    top=st.integers(0, 3),
    centre=st.tuples(st.floats(-145, 145), st.floats(5, 295), st.floats(5, 395)),
    at=st.none() | st.tuples(st.floats(-140, 140), st.floats(5, 290), st.floats(5, 500)),
    through=st.none() | st.tuples(st.floats(-140, 140), st.floats(5, 290), st.floats(5, 395)),
    angle=st.floats(1, 89),
    swivel=st.floats(-79, 79),
    sway=st.tuples(st.floats(0, 500), st.floats(0, 500)),
    figure=st.floats(1, 4000),
    feet=st.floats(-100, 400),
    lamps=st.lists(st.tuples(st.floats(-150, 150), st.floats(0, 300), st.floats(0, 400)), max_size=2),
    polarisation=st.sampled_from(["width", "height", "diagonal", "none", "unknown"]),
)
def test_every_scene_gives_a_whole_report_or_one_line(make_scene, **drawn):
    wall = drawn["wall"]
    scene = make_scene(
        viewer={"sway": drawn["sway"]},
        screen={
            "wall": wall,
            "top": TOPS[wall][drawn["top"]],
            "centre": drawn["centre"],
            "swivel": drawn["swivel"],
            "polarisation": drawn["polarisation"],
        },
        pane={"through": drawn["through"], "angle": drawn["angle"]},
        ghost={"at": drawn["at"], "figure": drawn["figure"], "feet": drawn["feet"]},
        light={"scene": None, "lamps": [{"at": at, "lumens": 5} for at in drawn["lamps"]]},
    )
    try:
        plan = make_plan(scene)
    except InputError:
        return
    json.dumps(plan.as_dict(), allow_nan=False)
    assert np.linalg.norm(plan.layout.ghost - plan.layout.on_pane) == pytest.approx(
        np.linalg.norm(plan.layout.screen.centre - plan.layout.on_pane)
    )
    assert 0 < plan.light.reflectance < 1
    assert plan.light.contrast >= 1
    assert all(f.text for f in plan.findings)
