"""Shelf and cords, figure and scale, holder and way out, and the findings that say so."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.errors import InputError
from ghostprep.optics import make_plan
from ghostprep.optics.bodies import Body
from ghostprep.optics.collisions import find_reaches
from ghostprep.optics.solids import Block, gap, upright_block
from ghostprep.scene import Scene, parse_scene
from ghostprep.scene.starter import starter_text

BOOK_BOX = """
units = "in"
scale = "1:48"
[box]
width = 3.5
height = 8
depth = 11
wall = 0.25
[shelf]
depth = 11
[screen]
raster = [320, 240]
active = [1.6, 1.2]
top = "front"
centre = [-1.25, 1.5, 5]
body = [2, 1.7, 0.4]
[ghost]
feet = 0.75
"""


def findings(plan, subject, level=None):
    return [f for f in plan.findings if f.subject == subject and level in {None, f.level}]


def in_mm(text):
    """Return the same scene with every number of inches turned into mm."""
    head, tail = text.replace('units = "in"', 'units = "mm"').split("[box]")

    def turned(line):
        key, _, values = line.partition("=")
        if key.strip() in {"raster", "top", "angle", "wall ="}:
            return line
        return key + "=" + re.sub(r"-?\d+(?:\.\d+)?", lambda m: repr(float(m[0]) * 25.4), values)

    return head + "[box]" + "\n".join(turned(line) if "=" in line else line for line in tail.splitlines())


def test_a_book_sized_box_on_a_shelf_as_deep_has_no_room_for_the_cords():
    plan = make_plan(parse_scene(BOOK_BOX))
    (fault,) = findings(plan, "cords", "fault")
    # 11 inside, 1/4 of back wall, 20 mm for plug and cord
    assert plan.room.shelf.depth_needed_mm == pytest.approx(11.25 * 25.4 + 20)
    assert "the box needs 12 1/16 in, but" in fault.text
    assert "11 in deep" in fault.text
    assert "1 1/16 in less deep" in fault.remedy
    assert plan.as_dict()["shelf"] == {
        "depth_needed": pytest.approx(305.75),
        "width_needed": pytest.approx(4 * 25.4),
        "height_needed": pytest.approx(8.5 * 25.4),
        "fits": False,
    }


def test_inches_and_millimetres_give_the_same_numbers():
    inches, metric = make_plan(parse_scene(BOOK_BOX)), make_plan(parse_scene(in_mm(BOOK_BOX)))
    first, second = inches.as_dict(), metric.as_dict()
    # sizes to cut are whole measures of the builder's own ruler, and no mark is finer than 1/16 in
    boards = [report["sight"]["baffle"] for report in (first, second)]
    for end in ("reach", "from", "to"):
        assert boards[0].pop(end) == pytest.approx(boards[1].pop(end), abs=25.4 / 16)
    for report in (first, second):
        report["sight"]["baffle"].pop("clearance")
        report.pop("findings")
        report["pane"].pop("cut")
        report["pane"].pop("corners")
        report["scene"]["pane"].pop("size")
        report["sight"].pop("edges")
    assert flat(first) == pytest.approx(flat(second), rel=1e-9, abs=1e-9)
    assert [f.subject for f in inches.findings] == [f.subject for f in metric.findings]


def flat(value, path=""):
    if isinstance(value, dict):
        return {k: v for name, part in value.items() for k, v in flat(part, f"{path}.{name}").items()}
    if isinstance(value, list | tuple):
        return {k: v for n, part in enumerate(value) for k, v in flat(part, f"{path}.{n}").items()}
    return {path: value if isinstance(value, int | float) else hash(value)}


@pytest.mark.parametrize(("open_front", "sheets"), [(True, 1), (False, 2)])
def test_shelf_counts_the_sheets_that_stand_in_its_depth(make_scene, open_front, sheets):
    opening = {} if open_front else {"opening": {"width": 280, "height": 290}}
    box = {"width": 300, "height": 300, "depth": 400, "wall": 5, **opening}
    plan = make_plan(make_scene(box=box, shelf={"depth": 400 + 5 * sheets + 30, "cord": 30}))
    assert plan.room.shelf.depth_needed_mm == 400 + 5 * sheets + 30
    assert plan.room.shelf.fits
    assert not findings(plan, "cords")


def test_figure_at_scale_and_what_would_fit(make_scene):
    """A door of 2032 mm is 84.67 mm at 1:24 (common door height, 80 in); a man of 1755 mm is 73.13 mm."""
    screen = {"centre": (-120, 150, 100), "active": (80, 60), "top": "front"}
    plan = make_plan(make_scene(scale="1:24", screen=screen, ghost={"figure": 2032, "feet": 112}))
    assert plan.figure.height_mm == pytest.approx(84.667, abs=1e-3)
    # the lit area runs from 110 to 190 above the floor, the ground takes 2 of it
    assert plan.figure.largest_mm == pytest.approx(78)
    assert not plan.figure.fits
    (fault,) = findings(plan, "figure", "fault")
    assert f"1:{2032 / 78:.1f}" in fault.remedy
    man = make_plan(make_scene(scale="1:24", screen=screen, ghost={"figure": 1755, "feet": 112}))
    assert man.figure.height_mm == pytest.approx(73.125)
    assert man.figure.height_px == pytest.approx(73.125 / 0.25)
    assert man.figure.fits
    assert not findings(man, "figure")


def test_forced_perspective_takes_the_scale_at_the_ghosts_depth(make_scene):
    scale = [
        {"reference": 85, "real": 2040, "depth": 40},
        {"reference": 68, "real": 2040, "depth": 240},
    ]
    screen = {"centre": (-120, 150, 20)}
    plan = make_plan(make_scene(scale=scale, screen=screen))
    assert plan.layout.ghost[2] == pytest.approx(140)
    # half way between 1:24 and 1:30 in size
    assert plan.figure.scale == pytest.approx(2040 / 76.5)
    far = make_scene(scale=scale, screen={"centre": (-120, 150, 300)}, ghost={"at": (0, 150, 1100)})
    with pytest.raises(InputError, match="shrink to nothing"):
        make_plan(far)


def test_ground_below_the_picture_is_told(make_scene):
    plan = make_plan(make_scene(screen={"centre": (-120, 150, 100)}, ghost={"figure": 300, "feet": 100}))
    (fault,) = findings(plan, "figure", "fault")
    # the picture's lower edge is at 150 - 15.3
    assert "34.7 mm below" in fault.text
    assert not plan.figure.fits
    assert plan.figure.largest_mm == pytest.approx(30.6)


def test_ghost_behind_the_back_wall_is_told(make_scene):
    plan = make_plan(make_scene(screen={"centre": (-140, 150, 300)}))
    (fault,) = findings(plan, "ghost", "fault")
    assert "40 mm behind the back wall" in fault.text


def test_pane_and_ghost_that_disagree_are_told_by_how_much(make_scene):
    scene = make_scene(
        screen={"centre": (-120, 150, 100)},
        pane={"through": (-60, 150, 160), "angle": 45},
        ghost={"at": (10, 150, 225)},
    )
    plan = make_plan(scene)
    assert plan.layout.ghost == pytest.approx(np.array([0, 150, 220]))
    (caution,) = findings(plan, "ghost", "caution")
    assert "10 mm to the left and 5 mm nearer to the opening" in caution.text
    # a pane half way between (-120, 150, 100) and (10, 150, 225)
    assert "it would pass through [-55, 150, 162.5]" in caution.remedy


def test_the_swivel_that_a_keystone_finding_tells_sets_the_ghost_square(make_scene):
    slanted = {"centre": (-120, 150, 160)}
    pane = {"through": (-20, 150, 230), "angle": 41}
    plan = make_plan(make_scene(screen=slanted, pane=pane))
    (note,) = findings(plan, "keystone")
    swivel, angle = (float(v) for v in re.findall(r"(-?\d+\.\d) degrees", note.remedy))
    assert plan.mount.keystone_px > 1
    turned = make_plan(make_scene(screen={**slanted, "swivel": swivel}, pane=pane))
    assert turned.mount.keystone_px < 1e-6
    leaned = make_plan(make_scene(screen=slanted, pane={**pane, "angle": angle}))
    assert leaned.mount.keystone_px < 1e-6


def test_a_ghost_off_the_screens_height_makes_the_pane_lean_two_ways(make_scene):
    plan = make_plan(make_scene(screen={"centre": (-120, 150, 100)}, ghost={"at": (0, 170, 220)}))
    (caution,) = findings(plan, "pane", "caution")[:1]
    assert "leans two ways" in caution.text
    assert "20 mm off" in caution.text


def test_holder_window_and_body(make_scene):
    screen = {"centre": (-146, 150, 150), "active": (40.8, 30.6), "body": (52, 44, 9)}
    plan = make_plan(make_scene(screen=screen))
    # 4 mm from its wall: no back plate, and the strips end at the player's back
    assert plan.room.holder.inner == (53, 45, 9)
    assert not plan.room.holder.back
    free = make_plan(make_scene(screen={**screen, "centre": (-130, 150, 150)}))
    assert free.room.holder.inner == (53, 45, 9.5)
    assert free.room.holder.back
    assert plan.room.holder.window == pytest.approx((41.8, 31.6))
    assert [(r.first, r.second) for r in plan.reaches if r.first == "player"] == [("player", "left wall")]
    assert plan.reaches[0].overlap_mm == pytest.approx(5)
    (caution,) = findings(plan, "player", "caution")
    assert "5 mm into the left wall" in caution.text


def test_ways_out_stop_at_the_pane_and_at_the_frame(make_scene):
    def ways(scene):
        return {w.direction: w for w in make_plan(scene).room.ways_out}

    screen = {"centre": (-141, 150, 150), "body": (52, 44, 9)}
    pane = {"through": (-71, 150, 220), "angle": 45}
    small = ways(make_scene(screen=screen, pane={**pane, "size": (60, 60)}))
    # up: from 150 - 22 - clearance 0.5 to the ceiling at 300 and the sheet of 6
    assert small["up"].clear
    assert small["up"].travel_mm == pytest.approx(306 - 127.5)
    assert small["up"].slot_mm == pytest.approx((53, 10))
    assert small["back"].clear
    # a baffle will stand before the player
    assert not small["front"].clear
    assert small["front"].in_the_way == ("baffle",)
    straight = {"viewer": {"sway": (0, 0), "across": -150}}
    reaching = ways(make_scene(screen=screen, pane={**pane, "size": (405, 298)}))
    assert not reaching["back"].clear
    assert reaching["up"].clear
    framed = make_scene(
        box={"width": 300, "height": 300, "depth": 400, "opening": {"width": 240, "height": 300}},
        screen=screen,
        pane={**pane, "size": (60, 60)},
        **straight,
    )
    assert not ways(framed)["front"].clear


def test_player_and_pane_in_each_others_way(make_scene):
    scene = make_scene(
        screen={"centre": (-120, 150, 150), "body": (120, 60, 9)},
        pane={"through": (-100, 150, 170), "angle": 45, "size": (390, 100)},
    )
    plan = make_plan(scene)
    assert plan.room.body_to_pane_mm <= 0
    assert [c for c in plan.collisions if {c.first, c.second} == {"pane", "player"}]
    # the pane is too long for the box as well: that is told, and this follows from it


@pytest.mark.parametrize("last", [0, 1])
def test_what_reaches_through_a_wall_with_one_of_its_blocks_reaches_through_it(make_scene, last):
    scene = make_scene(screen={"centre": (-120, 150, 160)})
    box = scene.box
    within, out = (upright_block((-10, 10, 50), (10, 30, far)) for far in (90, box.depth + 7))
    parts = (within, out) if last else (out, within)
    bodies = [Body("counter", "thing", part, block) for part, block in zip("ab", parts, strict=True)]
    (found,) = find_reaches(scene, bodies)
    assert (found.first, found.second) == ("counter", "back wall")
    assert found.overlap_mm == pytest.approx(7)


def test_a_mirror_that_stands_behind_the_back_wall_is_told(make_scene):
    behind = {"from": (-60, 310), "to": (60, 310)}
    plan = make_plan(make_scene(box={"width": 240, "height": 300, "depth": 300}, mirror=[behind]))
    assert ("mirror 1", "back wall", 10) in {
        (r.first, r.second, round(r.overlap_mm, 6)) for r in plan.reaches
    }
    (told,) = (f for f in plan.findings if f.subject == "mirror 1")
    assert (told.level, told.text) == ("fault", "it reaches 10 mm through the back wall")
    assert "move mirror 1 10 mm nearer to the opening" in told.remedy


@settings(deadline=None, max_examples=80)
@given(
    turns=st.tuples(*[st.floats(-3, 3)] * 6),
    shift=st.tuples(*[st.floats(-8, 8)] * 3),
    halves=st.tuples(*[st.floats(0.5, 3)] * 6),
    seed=st.integers(0, 2**32 - 1),
)
def test_blocks_meet_only_if_points_of_one_lie_in_the_other(turns, shift, halves, seed):
    def turned(a, b, c):
        matrix = np.eye(3)
        for axis, angle in enumerate((a, b, c)):
            i, j = (axis + 1) % 3, (axis + 2) % 3
            turn = np.eye(3)
            turn[i, i] = turn[j, j] = np.cos(angle)
            turn[i, j], turn[j, i] = -np.sin(angle), np.sin(angle)
            matrix = matrix @ turn
        return matrix

    one = Block(np.zeros(3), turned(*turns[:3]), np.array(halves[:3]))
    other = Block(np.array(shift), turned(*turns[3:]), np.array(halves[3:]))
    rng = np.random.default_rng(seed)
    points = one.centre + rng.uniform(-1, 1, (3000, 3)) * one.half @ one.axes
    inside = (np.abs((points - other.centre) @ other.axes.T) <= other.half).all(axis=1)
    apart = gap(one, other)
    if inside.any():
        assert apart <= 0
    if apart > 0:
        # and it is a lower bound of every distance
        others = other.centre + rng.uniform(-1, 1, (3000, 3)) * other.half @ other.axes
        assert np.linalg.norm(points - others, axis=1).min() >= apart - 1e-9


def test_open_size_is_settled_so_that_no_edge_shows(make_scene):
    """The starter's pane reaches both side walls, since a trim that hid its ends would cut the ghost."""
    plan = make_plan(parse_scene(starter_text()))
    assert not plan.pane.given
    assert plan.pane.covers
    assert not plan.pane.outside
    assert not any(edge.seen and not edge.trim.clear for edge in plan.sight.edges)
    assert plan.pane.cut[0] > plan.pane.needed[0] + 6
    assert [side % 1 for side in plan.pane.cut] == pytest.approx([0, 0], abs=1e-9)


def test_starter_has_no_fault_and_fits_its_raster():
    plan = make_plan(parse_scene(starter_text()))
    assert plan.faults == 0
    assert plan.figure.fits
    assert plan.sight.seen_from_everywhere
    assert plan.scene.screen.raster == (320, 240)
    assert plan.scene.player.profile == "h264-baseline-qvga"


def test_safety_stands_in_every_plan(make_scene):
    plan = make_plan(make_scene(pane={"material": "glass"}))
    told = " ".join(f.text + f.remedy for f in findings(plan, "safety"))
    for word in ("glass", "mains", "lithium", "warm", "licensed", "local code"):
        assert word in told


def test_report_has_the_keys_that_others_read(make_scene):
    report = make_plan(parse_scene(starter_text())).as_dict()
    assert {
        name: set(part) for name, part in report.items() if isinstance(part, dict) and name != "scene"
    } == {
        "ghost": {"centre", "corners", "depth_behind_opening"},
        "orientation": {"mirrored", "quarter_turns", "keystone", "homography"},
        "figure": {"height_mm", "height_px", "fits", "largest_mm"},
        "pane": {"angle", "needed", "cut", "corners", "inside_box"},
        "doubling": {"offset_mm", "offset_px", "ratio"},
        "light": {
            "reflectance",
            "reflectance_other_turn",
            "transmittance",
            "ghost",
            "scene",
            "contrast",
            "black_glow",
        },
        "sight": {
            "seen_from_everywhere",
            "screen_hidden",
            "player_hidden",
            "screen_in_mirror",
            "baffle",
            "edges",
        },
        "shelf": {"depth_needed", "width_needed", "height_needed", "fits"},
    }
    assert all(set(f) == {"level", "subject", "text", "remedy"} for f in report["findings"])
    matrix = np.array(report["orientation"]["homography"])
    corners = np.array(report["ghost"]["corners"])
    mapped = np.column_stack([corners[:, :2], np.ones(4)]) @ matrix.T
    assert mapped[:, :2] / mapped[:, 2:] == pytest.approx(
        np.array([(0, 0), (320, 0), (320, 240), (0, 240)]), abs=1e-6
    )
    assert json.loads(json.dumps(report, allow_nan=False)) == json.loads(json.dumps(report))


@pytest.mark.parametrize("text", [starter_text(), BOOK_BOX])
def test_scene_of_a_report_gives_the_same_plan_again(text):
    """All in mm, defaults and computed places filled in: nothing is left to guess."""
    report = make_plan(parse_scene(text)).as_dict()
    again = make_plan(Scene.model_validate(json.loads(json.dumps(report["scene"])))).as_dict()
    assert flat(again["ghost"]) == pytest.approx(flat(report["ghost"]), abs=1e-6)
    assert flat(again["orientation"]) == pytest.approx(flat(report["orientation"]), abs=1e-6)
    assert flat(again["figure"]) == pytest.approx(flat(report["figure"]), abs=1e-6)
    assert flat(again["light"]) == pytest.approx(flat(report["light"]), abs=1e-6)
    assert again["scene"]["units"] == "mm"
    assert not [f for f in again["findings"] if f["subject"] == "scene"]
