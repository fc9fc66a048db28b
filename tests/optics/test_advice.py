"""Findings in the builder's words: each says what is wrong, by how much, and what helps."""

from __future__ import annotations

import re

import pytest

from ghostprep.optics import make_plan

LEFT = {"wall": "left", "centre": (-135, 150, 150)}
PANE = {"through": (-67.5, 150, 217.5), "angle": 45}


def told(plan, subject, level, part):
    """Return the only finding of its kind."""
    (finding,) = [f for f in plan.findings if f.subject == subject and f.level == level and part in f.text]
    return finding


def test_edge_eye_position_and_trim(make_scene):
    """A pane as wide as the sight needs, far behind a narrow opening: its back edge shows from aside."""
    scene = make_scene(
        box={"width": 300, "height": 300, "depth": 400, "opening": {"width": 130, "height": 290, "sill": 5}},
        viewer={"sway": (60, 0)},
        screen=LEFT,
        pane={**PANE, "size": (320, 298)},
    )
    plan = make_plan(scene)
    edge = next(e for e in plan.sight.edges if e.name == "back")
    finding = told(plan, "pane", "caution", "back edge")
    assert f"more than {edge.from_mm:.1f}".rstrip("0").rstrip(".") in finding.text
    assert finding.text.endswith("mm to the right")
    assert "at the left" in finding.text
    width = int(
        re.match(r"a curtain or trim (\d+) mm wide along the opening's left hides it", finding.remedy)[1]
    )
    assert edge.trim.width_mm <= width < edge.trim.width_mm + 1
    # with the opening narrower by the trim, the edge is not seen any more
    narrower = make_scene(
        box={
            "width": 300,
            "height": 300,
            "depth": 400,
            "opening": {"width": 130 - 2 * width, "height": 290, "sill": 5},
        },
        viewer={"sway": (60, 0)},
        screen=LEFT,
        pane={**PANE, "size": (320, 298)},
    )
    again = make_plan(narrower)
    assert not next(e for e in again.sight.edges if e.name == "back").seen


def test_edge_that_no_trim_hides_names_the_longer_pane_that_helps(make_scene):
    scene = make_scene(screen=LEFT, pane={**PANE, "size": (150, 298)})
    finding = told(make_plan(scene), "pane", "fault", "back edge")
    size = tuple(float(v) for v in re.search(r"cut it (\d+) mm x (\d+) mm", finding.remedy).groups())
    plan = make_plan(make_scene(screen=LEFT, pane={**PANE, "size": size}))
    assert size[0] > 150
    assert plan.sight.edges[1].against


def test_pane_too_small_or_too_large(make_scene):
    small = make_plan(make_scene(screen=LEFT, pane={**PANE, "size": (20, 20)}))
    finding = told(small, "pane", "fault", "too small")
    sides = [float(v) for v in re.findall(r"(\d+) mm", finding.remedy)]
    fits = make_plan(make_scene(screen=LEFT, pane={**PANE, "size": tuple(sides)}))
    assert fits.pane.covers
    middle = make_plan(make_scene(screen=LEFT, pane={**PANE, "size": (fits.pane.needed[0] - 4, 200)}))
    assert told(middle, "pane", "caution", "too small").text.endswith("from the outermost eye positions")
    large = make_plan(make_scene(screen=LEFT, pane={**PANE, "size": (500, 310)}))
    assert "through the" in told(large, "pane", "fault", "does not go into the box").text
    assert large.pane.outside
    assert large.pane.outside.keys() >= {"ceiling"}


def test_opening_that_cuts_the_ghost(make_scene):
    def with_width(width):
        box = {"width": 300, "height": 300, "depth": 400, "opening": {"width": width, "height": 300}}
        return make_plan(make_scene(box=box, viewer={"sway": (60, 0)}, screen=LEFT, pane=PANE))

    # from the middle eye the picture's lines cross the opening between -20.4 k and 20.4 k
    half = with_width(300).sight.window.right
    narrow = with_width(2 * half - 6)
    assert "3 mm at the left and 3 mm at the right" in told(narrow, "opening", "caution", "outermost").text
    assert not narrow.sight.seen_from_everywhere
    middle = 20.4 * 600 / (600 + narrow.layout.ghost[2])
    slit = with_width(2 * middle - 4)
    assert "2 mm at the left and 2 mm at the right" in told(slit, "opening", "fault", "middle eye").text


def test_screen_that_is_seen_and_a_baffle_that_would_cut_the_ghost(make_scene):
    fine = make_plan(make_scene(screen=LEFT, pane=PANE))
    baffle = fine.sight.baffle
    remedy = told(fine, "screen", "caution", "seen through the opening").remedy
    assert f"{baffle.depth_mm:.1f}".rstrip("0").rstrip(".") + " mm behind the opening" in remedy
    assert "on the left wall" in remedy
    wide = make_scene(viewer={"sway": (600, 30)}, screen={**LEFT, "centre": (-60, 150, 150)}, pane=PANE)
    assert "would cut the ghost off" in told(make_plan(wide), "screen", "fault", "itself is seen").text


def test_screen_behind_the_frame_needs_no_baffle(make_scene):
    box = {"width": 300, "height": 300, "depth": 400, "opening": {"width": 120, "height": 300}}
    plan = make_plan(make_scene(box=box, viewer={"sway": (20, 0)}, screen=LEFT, pane=PANE))
    assert plan.sight.screen_hidden
    assert not [f for f in plan.findings if f.subject == "screen"]


@pytest.mark.parametrize(("off", "is_told"), [(0.0, False), (0.45, False), (0.55, True), (12.0, True)])
def test_a_ghost_that_lands_within_half_a_millimetre_is_where_it_is_wanted(make_scene, off, is_told):
    pane = {**PANE, "size": (150, 200)}
    lands = make_plan(make_scene(screen=LEFT, pane=pane)).layout.ghost
    wanted = (float(lands[0]), float(lands[1]) - off, float(lands[2]))
    found = make_plan(make_scene(screen=LEFT, pane=pane, ghost={"at": wanted})).findings
    assert any("from where it is wanted" in f.text for f in found) is is_told


def test_slanted_screen_is_told(make_scene):
    plan = make_plan(make_scene(screen={**LEFT, "swivel": -35}, pane=PANE))
    assert "35 degrees aslant" in told(plan, "screen", "caution", "aslant").text.replace("36", "35")


@pytest.mark.parametrize(("wall", "top", "lit"), [("floor", "back", 30.6), ("ceiling", "left", 40.8)])
def test_lying_screens_stand_their_figure_on_the_ground(make_scene, wall, top, lit):
    centre = (0, 20 if wall == "floor" else 280, 150)
    ghost = {"feet": 60, "figure": 240}
    plan = make_plan(make_scene(screen={"wall": wall, "top": top, "centre": centre}, ghost=ghost))
    assert plan.figure.lit_mm == pytest.approx((59, 59 + lit))
    assert plan.figure.fits


def test_lowering_a_lying_screens_ghost_is_said_in_its_own_way(make_scene):
    at = {"at": (0, 150, 280), "feet": 100, "figure": 240}
    plan = make_plan(make_scene(screen={"wall": "floor", "centre": (0, 20, 150)}, ghost=at))
    remedy = told(plan, "figure", "fault", "below").remedy
    lower = 150 - float(re.search(r"lower ghost\.at by (\d+) mm", remedy)[1])
    fixed = make_plan(
        make_scene(screen={"wall": "floor", "centre": (0, 20, 150)}, ghost={**at, "at": (0, lower, 280)})
    )
    assert 99 < fixed.figure.lit_mm[0] <= 100


def test_weak_polarisation_and_glow_and_doubling(make_scene):
    pane = {**PANE, "thickness": 3}
    plan = make_plan(
        make_scene(screen={**LEFT, "polarisation": "width", "contrast": 50}, pane=pane, light={"scene": 0.4})
    )
    light = plan.light
    gain = told(plan, "light", "caution", "weak way round").remedy
    assert f"{light.reflectance_other_turn / light.reflectance:.1f} times" in gain
    glow = told(plan, "light", "caution", "black glows")
    assert f"{100 * light.black_glow:.1f} %" in glow.text
    enough = float(re.search(r"contrast of (\d+)", glow.remedy)[1])
    better = make_plan(
        make_scene(
            screen={**LEFT, "polarisation": "width", "contrast": enough}, pane=pane, light={"scene": 0.4}
        )
    )
    assert better.light.black_glow == pytest.approx(0.02, rel=0.02)
    assert f"{plan.doubling.vanishing_mm:.2f} mm" in told(plan, "pane", "caution", "doubles").remedy
    film = make_plan(make_scene(screen=LEFT, pane={**PANE, "thickness": plan.doubling.vanishing_mm * 0.99}))
    assert not [f for f in film.findings if "doubles" in f.text]


def test_defaults_are_named_in_the_builders_unit(make_scene):
    plan = make_plan(make_scene(units="in"))
    note = told(plan, "scene", "note", "left out").text
    assert "screen.luminance 250" in note
    assert "pane.thickness 0.079 in" in note
    assert "scale 1:24" in note
    assert "box.depth" not in note


@pytest.mark.parametrize("size", [None, (60, 60)])
def test_a_pane_that_no_other_size_helps_is_moved(make_scene, size):
    """The ghost wanted low and far to the left: the pane that the box has room for does not reach there."""
    scene = make_scene(
        box={"width": 120, "height": 110, "depth": 260},
        viewer={"distance": 600, "height": 60, "sway": [80, 20]},
        screen={"active": [40, 30], "top": "up", "centre": (-45, 20, 60)},
        pane={"through": (0, 60, 140), "angle": 50} | ({} if size is None else {"size": size}),
    )
    plan = make_plan(scene)
    assert not plan.pane.covers
    remedy = told(plan, "pane", "fault", "too small").remedy
    assert remedy == "no single step mends it: let plan --solve look for another layout"


def test_figures_just_short_of_enough_are_told_apart_from_it(make_scene):
    first = make_plan(make_scene(screen={**LEFT, "polarisation": "none"}, pane=PANE)).light
    enough = first.ghost / 2 / first.transmittance
    plan = make_plan(
        make_scene(
            screen={**LEFT, "polarisation": "none", "luminance": 250},
            pane=PANE,
            light={"scene": enough * 1.0001},
        )
    )
    finding = told(plan, "light", "caution", "times as bright")
    assert "only 2.9998 times" in finding.text
    for wanted, now in re.findall(r"([\d.]+) cd/m2(?: at most)? \(now ([\d.]+)\)", finding.remedy):
        assert wanted != now
