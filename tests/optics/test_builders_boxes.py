"""Boxes as builders measure them: what plan and its search tell leads to a box without faults."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest
from click.testing import CliRunner

from ghostprep.cli import group
from ghostprep.optics import make_plan
from ghostprep.optics.advice.collect import faults_of
from ghostprep.optics.edges import share_of_opening
from ghostprep.optics.planning import measure
from ghostprep.optics.solve import _Search, let_go, solve, with_followers
from ghostprep.paper.cut_parts import parts_to_cut
from ghostprep.scene import Scene, parse_scene

BOOK = """
title = "A book box"
units = "in"
scale = "1:32"
[box]
width = 3.5
height = 8
depth = 11
wall = "1/8 in"
[shelf]
depth = 12
cord = "1/2 in"
[viewer]
distance = 24
height = 5
sway = [2, 1.5]
[screen]
wall = "left"
centre = [-1.375, 2.5, 7]
top = "front"
swivel = 0
raster = [800, 480]
active = [3.4, 2.05]
body = [4.5, 2.5, "3/8 in"]
[pane]
thickness = "1/16 in"
angle = 45
[ghost]
figure = "5 ft 7 in"
feet = "1/2 in"
[player]
profile = "h264-main-720p"
"""
"""3 1/2 in wide, with a player 4 1/2 in long that stands behind a side wall."""
LYING = BOOK.replace('wall = "left"', 'wall = "ceiling"').replace("[-1.375, 2.5, 7]", "[0, 7.625, 3]")
LYING = LYING.replace('top = "front"', 'top = "left"')
BOARD = """
[[divider]]
from = [-1.75, 1]
to = [1.75, 1]
thickness = 0.125
doorways = [ { at = 1.75, width = 3.5, height = 6.5, sill = 0 } ]
"""
"""A board that hangs from the ceiling before the player."""


def moved(text: str, at: str) -> Scene:
    return parse_scene(re.sub(r"centre = \[.*\]", f"centre = {at}", text))


def test_where_the_player_slides_out_its_holder_ends_with_it() -> None:
    """Its lower end stands on the floor, and it slides out down: nothing of the holder goes through."""
    plan = measure(moved(BOOK, "[-1.375, 2.25, 7]"))
    assert plan.room.out == "down"
    assert not [reach for reach in plan.reaches if reach.first == "holder"]


def test_the_player_slides_out_where_no_strip_must_go_through_a_wall() -> None:
    """The way to the back is shorter, but a strip below the player would then stand in the floor."""
    plan = measure(moved(BOOK, "[-1.375, 2.25, 9.55]"))
    ways = {way.direction: way for way in plan.room.ways_out}
    assert ways["back"].clear
    assert ways["back"].travel_mm < ways["down"].travel_mm
    assert plan.room.out == "down"
    assert not [reach for reach in plan.reaches if reach.first == "holder"]


def test_a_board_that_hangs_is_cut_as_what_is_left_below_no_doorway() -> None:
    scene = parse_scene(LYING + BOARD)
    (board,) = [part for part in parts_to_cut(measure(scene)) if part.name == "divider 1"]
    assert board.size == pytest.approx((3.5 * 25.4, 1.5 * 25.4))
    assert board.holes == ()
    # a doorway beside it stays a hole, where it is
    door = "doorways = [ { at = 1, width = 1, height = 6.5, sill = 0.5 } ]"
    beside = parse_scene(LYING + re.sub(r"doorways = .*", door, BOARD))
    (whole,) = [part for part in parts_to_cut(measure(beside)) if part.name == "divider 1"]
    (hole,) = whole.holes
    edges = (hole.place.left, hole.place.low, hole.place.right, hole.place.high)
    assert edges == pytest.approx(np.array([0.5, 0.5, 1.5, 7]) * 25.4)


def test_a_divider_whose_doorway_takes_all_of_it_is_no_part_to_cut() -> None:
    scene = parse_scene(LYING + re.sub("6.5", "8", BOARD))
    assert "divider 1" not in {part.name for part in parts_to_cut(measure(scene))}


def test_the_cut_list_tells_where_a_board_hangs(tmp_path) -> None:
    file = tmp_path / "book.toml"
    file.write_text(LYING + BOARD, encoding="utf-8")
    told = " ".join(CliRunner().invoke(group, ["plan", str(file)]).output.split())
    assert "divider 1 3 1/2 in x 1 1/2 in x 1/8 in; its lower edge 6 1/2 in above the floor" in told


def test_a_player_is_moved_as_far_as_its_holder_needs() -> None:
    """It stood 3/8 in deeper in the divider still, with its holder's strip."""
    plan = make_plan(parse_scene(LYING + BOARD))
    (finding,) = [f for f in plan.findings if f.level == "fault"]
    # up it would go through the ceiling: that is not told
    assert finding.remedy == (
        "move the screen with its player 1/2 in deeper; or move divider 1 1/2 in nearer to the opening"
    )
    assert not faults_of(measure(moved(LYING + BOARD, "[0, 7.625, 3.5]")))


def test_a_side_that_is_set_free_is_looked_for_though_the_file_gives_a_swivel() -> None:
    scene = parse_scene(BOOK)
    sides = _Search(scene, with_followers(frozenset({"screen.wall"})))._grid()
    assert {trial.wall for trial in sides} == {"left", "right", "floor", "ceiling"}
    leans = _Search(scene, with_followers(frozenset({"pane.angle"})))._grid()
    assert {trial.angle_deg for trial in leans} == {40, 45, 50}
    assert solve(scene, 1, ["screen.wall"])[0].faults == 0


def test_what_has_to_give_is_told_and_gives_a_box_without_faults(tmp_path) -> None:
    file = tmp_path / "book.toml"
    file.write_text(BOOK, encoding="utf-8")
    assert len(faults_of(measure(parse_scene(BOOK)))) == 3
    done = CliRunner().invoke(group, ["plan", str(file), "--solve"])
    assert done.exit_code == 0, done.output
    told = " ".join(done.output.split())
    assert "No layout without faults keeps all that the scene file gives" in told
    assert "screen.wall ceiling instead of left" in told
    # with the player where it is: a ground in the picture, and somewhat less sway
    assert "ghost.feet 9/16 in instead of 1/2 in" in told
    commands = re.findall(r"Next: ghostprep plan \S+ --solve --free (\S+) --overwrite", told)
    assert len(commands) == 2
    as_json = CliRunner().invoke(group, ["plan", str(file), "--solve", "--json", "--overwrite"])
    ways = json.loads(as_json.stdout)["ways_out"]
    assert [way["free"] for way in ways] == [keys.split(",") for keys in commands]
    assert ways[0]["changes"]["screen.wall"] == "ceiling"
    assert ways[1]["changes"]["ghost.feet"] == pytest.approx(9 / 16 * 25.4)
    for keys in commands:
        again = CliRunner().invoke(group, ["plan", str(file), "--solve", "--free", keys, "--overwrite"])
        assert again.exit_code == 0, again.output
        assert "No layout" not in again.output
        written = parse_scene(file.with_name("book-solved.toml").read_text(encoding="utf-8"))
        assert make_plan(written).faults == 0
        at = np.array(written.screen.centre) / (25.4 / 16)
        along = (1, 2) if written.screen.wall == "left" else (0, 2)
        assert at[list(along)] == pytest.approx(np.round(at[list(along)]), abs=2e-3)  # marks on the ruler
    assert written.screen.wall == "left"
    assert written.viewer.sway[0] >= 1.4 * 25.4


def test_a_box_that_nothing_fits_into_is_told_how_much_larger_it_must_be() -> None:
    """A player 2 in wide has no room beside a ghost in a box of 3 in."""
    text = BOOK.replace("width = 3.5", "width = 2").replace("height = 8", "height = 3")
    small = parse_scene(text.replace("centre = [-1.375, 2.5, 7]", "centre = [-0.6, 2.5, 7]"))
    (way,) = let_go(small)
    keys, layout = way
    assert {"box.width", "box.height"} <= set(keys)
    assert not faults_of(measure(layout))


SHADOW = """
scale = "1:24"
[box]
width = 400
height = 300
depth = 150
[screen]
raster = [320, 240]
active = [40.8, 30.6]
[ghost]
figure = 900
feet = 6
"""


def test_in_a_shadow_box_the_ghost_stands_beside_the_screen_before_a_post() -> None:
    """Half of its width is more than its depth: a pane at 45 degrees has no place before the middle."""
    scene = parse_scene(SHADOW)
    found = solve(scene, 3)
    assert [solution.faults for solution in found] == [0] * len(found)
    best = found[0].plan
    assert best.scene.screen.wall in {"left", "right"}
    side = 1 if best.scene.screen.wall == "right" else -1
    assert 80 < side * best.layout.ghost[0] < 150
    # the pane ends in the middle of an open front, where a strip along a side would hide the ghost
    (post,) = best.sight.trims()
    assert post.off_mm > 30
    assert post.width_mm < 40
    (told,) = [f for f in best.findings if "front edge shows" in f.text]
    assert re.match(
        rf"a post [\d.]+ mm wide in the opening, [\d.]+ mm from its {post.side} side, hides it", told.remedy
    )
    assert post.name in {part.name.removesuffix(", from the front") for part in parts_to_cut(best)}
    # a ghost that must stand in the middle has none
    middle = parse_scene(SHADOW + "at = [0, 26.4, 120]")
    assert all(solution.faults for solution in solve(middle))


def test_what_has_to_give_in_a_shadow_box_is_told_with_the_ghosts_place(tmp_path) -> None:
    file = tmp_path / "shadow.toml"
    file.write_text(SHADOW.replace("900", "1700").replace("feet = 6", ""), encoding="utf-8")
    told = " ".join(CliRunner().invoke(group, ["plan", str(file), "--solve"]).output.split())
    assert "ghost.feet 6 mm instead of 0 mm" in told
    assert re.search(r"its ghost stands [\d.]+ mm to the (left|right) of the middle", told)
    (keys,) = re.findall(r"Next: ghostprep plan \S+ --solve --free (\S+) --overwrite", told)
    again = CliRunner().invoke(group, ["plan", str(file), "--solve", "--free", keys, "--overwrite"])
    assert "No layout" not in again.output
    written = parse_scene(file.with_name("shadow-solved.toml").read_text(encoding="utf-8"))
    assert make_plan(written).faults == 0


def test_once_wishes_have_given_three_layouts_are_offered_that_keep_what_is_left_of_them() -> None:
    """Any of them might shut the front by a wide trim, where a ghost a little aside has room for a post."""
    asked = parse_scene(SHADOW.replace("900", "1700").replace("feet = 6", ""))
    found = solve(asked, 3, ["ghost.feet", "ghost.figure"])
    assert [solution.faults for solution in found] == [0, 0, 0]
    assert len({(s.scene.ghost.figure, s.scene.ghost.feet) for s in found}) == 1
    assert found[0].scene.ghost.figure < asked.ghost.figure
    assert all(share_of_opening(s.scene, trim) < 0.1 for s in found for trim in s.plan.sight.trims())


LANTERN = """
scale = "1:24"
[box]
width = 120
height = 320
depth = 140
opening = { width = 100, height = 150, sill = 10 }
[viewer]
distance = 500
height = 90
sway = [60, 30]
[screen]
wall = "ceiling"
raster = [320, 240]
active = [81.6, 61.2]
[ghost]
feet = 12
"""


def test_in_a_tall_box_a_screen_on_the_ceiling_comes_down_behind_the_front() -> None:
    """From the ceiling itself the throw is twice the box's depth."""
    (best, *_) = solve(parse_scene(LANTERN))
    assert best.faults == 0
    screen = best.plan.scene.screen
    assert screen.wall == "ceiling"
    assert 130 < screen.centre[1] < 170
    # before an open front it would hang in plain view
    faults = [s.faults for s in solve(parse_scene(re.sub("opening.*", "", LANTERN)))]
    assert 0 not in faults


def test_of_two_ways_out_that_give_up_as_much_the_figure_stays_larger() -> None:
    shadow = parse_scene(SHADOW.replace("900", "1700"))
    ((keys, layout), *_) = let_go(shadow)
    assert keys == ("ghost.figure",)
    assert layout.ghost.figure > 900
