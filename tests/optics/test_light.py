"""Luminances, polarisation and doubling of whole scenes, against worked values."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ghostprep.errors import InputError
from ghostprep.optics import make_plan
from ghostprep.optics.fresnel import pane_reflectance, pane_transmittance
from ghostprep.optics.planning import measure
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
    """8 lm to all sides are 0.6366 cd; 100 mm before the wall 63.66 lux, of which 0.3 / pi come back.

    The pane's back face, x + z = 100, adds the lamp's image at (-200, 150, 100): 360.6 mm away, of which 300
    straight to the wall, sent back at 11.31 degrees.
    """
    image = 8 / (4 * math.pi) * pane_reflectance(math.degrees(math.atan2(1, 5)), 1.49).mixed(0.5)
    over = image / 0.13 * 300 / math.sqrt(130_000)

    def scenery(at, reflectance=0.3):
        light = {"scene": None, "lamps": [{"at": at, "lumens": 8}], "reflectance": reflectance}
        plan = on_axis(make_scene, light=light)
        return plan.light.scenery

    assert scenery((0, 150, 300)) == pytest.approx(0.3 * (63.662 + over) / math.pi, rel=1e-4)
    assert scenery((0, 150, 300), 0.6) == pytest.approx(0.6 * (63.662 + over) / math.pi, rel=1e-4)
    # 100 mm beside and 100 mm before: twice the square, cos 45 degrees
    assert scenery((0, 250, 300)) == pytest.approx(
        0.3 * 63.662 / math.pi / 2 * math.cos(math.pi / 4), rel=2e-2
    )


def test_lamp_before_the_pane_loses_what_the_pane_reflects(make_scene):
    at = (0, 150, 50)
    plan = on_axis(make_scene, light={"scene": None, "lamps": [{"at": at, "lumens": 8}]})
    bare = 0.3 / math.pi * 8 / (4 * math.pi) / 0.35**2
    passed = pane_transmittance(45, 1.49).mixed(0.5)
    assert plan.light.scenery == pytest.approx(bare * passed, rel=1e-6)


def test_a_lamp_is_mirrored_only_to_its_own_side_of_the_pane(make_scene):
    """The line from the back wall to its image, drawn on, would meet a pane that is large enough."""
    lamp = {"scene": None, "lamps": [{"at": (0, 150, 50), "lumens": 8}]}
    small, large = (on_axis(make_scene, light=lamp, pane={"size": size}) for size in ((60, 100), (300, 300)))
    assert large.light.scenery == pytest.approx(small.light.scenery, rel=1e-6)


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


@pytest.mark.parametrize(("lit", "enough"), [(40, False), (4, True)])
def test_the_weak_way_round_is_told_with_what_a_turn_would_bring(make_scene, lit, enough):
    """At 45 degrees the pane sends back s over p times as much of light that swings across."""
    whole = pane_reflectance(45, 1.49)
    told = {}
    for swings in ("width", "height"):
        plan = on_axis(make_scene, luminance=60, light={"scene": lit}, polarisation=swings)
        told[swings] = {f.text: f.remedy for f in plan.findings if f.subject == "light"}
    weak, strong = sorted(told.values(), key=len, reverse=True)
    times = f"{whole.s / whole.p:.1f} times as bright"
    (turn,) = [remedy for text, remedy in weak.items() if "weak way round" in text]
    assert turn.endswith(times)
    (reach,) = [remedy for text, remedy in weak.items() if "ghost and scenery" in text]
    assert reach.endswith(f" or the player turned a quarter, {times}") is enough
    assert "turned a quarter" not in " ".join(strong.values())
    assert not [text for text in strong if "weak way round" in text]


DRAWN = {
    "wall": st.sampled_from(list(TOPS)),
    "top": st.integers(0, 3),
    "share": st.tuples(*[st.floats(0.05, 0.95)] * 3),
    "at": st.none() | st.tuples(st.floats(-140, 140), st.floats(5, 290), st.floats(5, 500)),
    "pane": st.none() | st.floats(0.1, 0.9),
    "angle": st.floats(20, 70),
    "swivel": st.floats(-30, 30),
    "sway": st.tuples(st.floats(0, 500), st.floats(0, 500)),
    "figure": st.floats(1, 4000),
    "feet": st.floats(-100, 400),
    "lamps": st.lists(st.tuples(st.floats(-150, 150), st.floats(0, 300), st.floats(0, 400)), max_size=2),
    "polarisation": st.sampled_from(["width", "height", "diagonal", "none", "unknown"]),
    "doorway": st.none() | st.tuples(st.floats(10, 300), st.floats(20, 280), st.floats(5, 380)),
}


def scene_of(make_scene, drawn):
    """A screen on its own side of the box, a pane before it or none given, perhaps a divider."""
    wall, (a, b, c) = drawn["wall"], drawn["share"]
    out, along, deep = 5 + 60 * a, 20 + 260 * b, 20 + 300 * c
    centre = {
        "left": (-150 + out, along, deep),
        "right": (150 - out, along, deep),
        "floor": (along - 150, out, deep),
        "ceiling": (along - 150, 300 - out, deep),
    }[wall]
    way = {"left": (1, 0), "right": (-1, 0), "floor": (0, 1), "ceiling": (0, -1)}[wall]
    before = 20 + 100 * (drawn["pane"] or 0)
    through = (centre[0] + before * way[0], centre[1] + before * way[1], min(deep + before, 395))
    divider = []
    if drawn["doorway"] is not None:
        width, height, depth = drawn["doorway"]
        door = {"at": 150, "width": min(width, 299), "height": height}
        divider = [{"from": (-150, depth), "to": (150, depth), "doorways": [door]}]
    return make_scene(
        viewer={"sway": drawn["sway"]},
        screen={
            "wall": wall,
            "top": TOPS[wall][drawn["top"]],
            "centre": centre,
            "swivel": drawn["swivel"],
            "polarisation": drawn["polarisation"],
        },
        pane={"through": None if drawn["pane"] is None else through, "angle": drawn["angle"]},
        ghost={"at": drawn["at"], "figure": drawn["figure"], "feet": drawn["feet"]},
        light={"scene": None, "lamps": [{"at": at, "lumens": 5} for at in drawn["lamps"]]},
        divider=divider,
    )


@pytest.mark.slow
def test_every_scene_gives_a_whole_report_or_one_line(make_scene):
    """Drawn so that about half of them can stand: what is refused is counted."""
    counts = {"planned": 0, "refused": 0}

    @settings(deadline=None, max_examples=60, suppress_health_check=list(HealthCheck))
    @given(drawn=st.fixed_dictionaries(DRAWN))
    def held(drawn):
        try:
            plan = make_plan(scene_of(make_scene, drawn))
        except InputError:
            counts["refused"] += 1
            return
        counts["planned"] += 1
        json.dumps(plan.as_dict(), allow_nan=False)
        assert np.linalg.norm(plan.layout.ghost - plan.layout.on_pane) == pytest.approx(
            np.linalg.norm(plan.layout.screen.centre - plan.layout.on_pane)
        )
        assert 0 < plan.light.reflectance < 1
        assert plan.light.contrast >= 1
        assert min(plan.pane.cut) > 0
        assert all(f.text for f in plan.findings)

    held()
    assert counts["planned"] > counts["refused"] / 3, counts


def test_doubling_in_pixels_counts_along_the_axis_it_lies_on(make_scene):
    """Pixels of .1275 x .255 mm: it lies across the ghost, along the raster's width, then its height."""
    for top, pitch in (("up", 0.1275), ("front", 0.255)):
        plan = on_axis(make_scene, raster=[320, 120], active=(40.8, 30.6), top=top)
        assert plan.doubling.offset_px == pytest.approx(plan.doubling.offset_mm / pitch, rel=1e-6)


def test_a_body_between_lamp_and_wall_takes_its_light(make_scene):
    lamp = {"scene": None, "lamps": [{"at": (0, 250, 300), "lumens": 8}]}
    board = [{"name": "board", "at": (0, 200, 350), "size": (60, 4, 60)}]
    open_air = on_axis(make_scene, light=lamp)
    wide = make_scene(
        screen={"centre": (-100, 150, 100)},
        pane={"through": (-50, 150, 150), "angle": 45},
        light=lamp,
        thing=board,
    )
    shaded = make_plan(wide)
    assert open_air.light.behind == shaded.light.behind == "back wall"
    assert open_air.light.scenery > 1
    # what is left comes round, off the pane's back face
    assert shaded.light.scenery < 0.02 * open_air.light.scenery


def test_a_strip_shines_as_a_lambert_source_by_hand(make_scene):
    """A short strip of 60 lm is 60 / pi cd straight down, 100 mm above and 100 mm before the spot.

    So the light falls at 45 degrees on the back wall, and leaves the strip at 45 degrees.
    """
    strip = {"from": (-0.5, 250, 300), "to": (0.5, 250, 300), "lumens": 60, "faces": "down"}
    plan = on_axis(make_scene, light={"scene": None, "strips": [strip]})
    lux = 60 / math.pi * math.cos(math.pi / 4) * math.cos(math.pi / 4) / (0.1**2 + 0.1**2)
    assert plan.light.scenery == pytest.approx(0.3 * lux / math.pi, rel=1e-2)
    up = on_axis(make_scene, light={"scene": None, "strips": [{**strip, "faces": "up"}]})
    assert up.light.scenery == pytest.approx(1e-3)


def test_a_mirror_sends_a_lamps_light_on(make_scene):
    """A side mirror at x = 60 shows a lamp at (0, 150, 350) at (120, 150, 350): its light adds up by hand."""
    lamp = {"scene": None, "lamps": [{"at": (0, 150, 350), "lumens": 8}]}
    mirror = [{"from": (60, 300), "to": (60, 400)}]

    def planned(**more):
        return measure(
            make_scene(
                viewer={"height": 150, "across": 0},
                screen={"centre": (-100, 150, 100)},
                pane={"through": (-50, 150, 150), "angle": 45, "size": (100, 100)},
                light=lamp,
                **more,
            )
        ).light.scenery

    candela = 8 / (4 * math.pi)
    straight = candela / 0.05**2
    square = 0.12**2 + 0.05**2
    over = candela / square * (0.05 / math.sqrt(square))
    assert planned() == pytest.approx(0.3 / math.pi * straight, rel=1e-3)
    assert planned(mirror=mirror) == pytest.approx(0.3 / math.pi * (straight + over), rel=1e-3)
    # it is turned at z = 375: not past the edge of a shorter mirror, nor by the back of one that looks away
    for dark in (
        {"from": (60, 300), "to": (60, 370)},
        {"from": (60, 380), "to": (60, 400)},
        {"from": (60, 300), "to": (61, 400)},
    ):
        assert planned(mirror=[dark]) == pytest.approx(0.3 / math.pi * straight, rel=1e-3)


def test_what_a_strip_throws_on_the_hidden_side_is_found(make_scene):
    strip = {"from": (-140, 290, 60), "to": (-140, 290, 120), "lumens": 200, "faces": "down"}
    bright = on_axis(make_scene, light={"scene": 5, "strips": [strip]})
    (veil,) = bright.light.veils
    assert veil.source == "strip 1"
    assert veil.surface == "left wall"
    assert veil.share > 0.02
    assert any("hidden side" in f.text for f in bright.findings)
    behind = {**strip, "from": (100, 290, 380), "to": (140, 290, 380), "lumens": 5}
    assert on_axis(make_scene, light={"scene": 5, "strips": [behind]}).light.veils[0].share < 0.02
