"""The commands plan and plan --solve as a builder runs them."""

from __future__ import annotations

import json
import re

import pytest
from click.testing import CliRunner

from ghostprep.cli import group
from ghostprep.cli.run import status_of
from ghostprep.errors import InputError
from ghostprep.optics import make_plan
from ghostprep.optics.compare import trade_offs
from ghostprep.optics.solve import solve
from ghostprep.scene import load_scene, parse_scene
from ghostprep.scene.starter import filled_text, starter_text

ANY = "screen.wall,screen.centre,screen.top,screen.swivel,pane.angle"


@pytest.fixture
def starter(tmp_path):
    file = tmp_path / "hall.toml"
    file.write_text(starter_text(), encoding="utf-8")
    return file


@pytest.fixture
def faulty(tmp_path):
    file = tmp_path / "shallow.toml"
    file.write_text(filled_text({"shelf.depth": 150}), encoding="utf-8")
    return file


def test_text_holds_the_measures_the_cut_list_and_the_cautions(starter):
    done = CliRunner().invoke(group, ["plan", str(starter)])
    assert done.exit_code == 0
    for part in ("Ghost", "Pane", "Light", "To cut", "Findings", "Safety", "baffle", "holder", "1:24"):
        assert part in done.stdout
    assert "fault" not in done.stdout


def test_json_is_one_object_and_findings_go_to_stderr(starter):
    done = CliRunner().invoke(group, ["plan", str(starter), "--json"])
    assert done.exit_code == 0
    assert json.loads(done.stdout) == json.loads(json.dumps(make_plan(load_scene(starter)).as_dict()))
    assert "caution" in done.stderr


def test_strict_leaves_with_1_where_a_fault_is_found(starter, faulty):
    assert status_of(group, ["plan", str(starter), "--strict"]) == 0
    assert status_of(group, ["plan", str(faulty)]) == 0
    assert status_of(group, ["plan", str(faulty), "--strict"]) == 1
    assert status_of(group, ["plan", str(faulty), "--strict", "--json"]) == 1


def test_inches_are_shown_as_fractions(tmp_path):
    file = tmp_path / "inches.toml"
    text = starter_text().replace('units = "mm"', 'units = "in"')
    for key in (
        "width",
        "height",
        "depth",
        "wall",
        "cord",
        "distance",
        "thickness",
        "feet",
        "sill",
        "sheet",
        "slack",
    ):
        text = in_inches(text, key)
    file.write_text(lists_in_inches(text), encoding="utf-8")
    done = CliRunner().invoke(group, ["plan", str(file)])
    assert done.exit_code == 0, done.output
    assert re.search(r"pane +8 \d+/\d+ in x 4 \d+/\d+ in x 0\.079 in acrylic", done.stdout)
    assert "2 13/16 in tall" in done.stdout
    assert " mm" not in done.stdout


def in_inches(text, key):
    return re.sub(
        rf"(?<![\w#])({key}) = (-?\d+(?:\.\d+)?)", lambda m: f"{m[1]} = {float(m[2]) / 25.4!r}", text
    )


def lists_in_inches(text):
    def turned(match):
        numbers = [repr(float(n) / 25.4) for n in match[2].split(",")]
        return f"{match[1]} = [{', '.join(numbers)}]"

    return re.sub(r"(?m)^(sway|centre|active|body) = \[([^\]]*)\]", turned, text)


def test_solve_finds_layouts_without_faults_and_writes_one(starter):
    done = CliRunner().invoke(group, ["plan", str(starter), "--solve", "--free", ANY])
    assert done.exit_code == 0, done.output
    written = starter.with_name("hall-solved.toml")
    plan = make_plan(load_scene(written))
    assert plan.faults == 0
    assert plan.mount.keystone_px < 0.5
    assert plan.figure.fits
    for part in ("Layouts", "for it", "against it", "1", "2", "3"):
        assert part in done.stdout
    # what the builder measured is kept, comments and all
    assert (
        written.read_text(encoding="utf-8").count("#") == starter_text().count("#") + 1
    )  # the line that says who wrote it
    assert load_scene(written).box == load_scene(starter).box
    again = CliRunner().invoke(group, ["plan", str(starter), "--solve", "--free", ANY])
    assert isinstance(again.exception, InputError)
    assert "exists already" in str(again.exception)


def test_solved_layouts_are_no_worse_than_the_starter_and_differ():
    scene = parse_scene(starter_text())
    found = solve(scene, free=ANY.split(","))
    assert len(found) == 3
    assert [s.cost for s in found] == sorted(s.cost for s in found)
    assert all(s.faults == 0 and s.plan.sight.seen_from_everywhere for s in found)
    assert all(not s.plan.reaches for s in found)
    assert len({(s.scene.screen.wall, s.scene.screen.top) for s in found}) == 3
    own = make_plan(scene)

    def area(plan):
        baffle = plan.sight.baffle
        return plan.pane.cut[0] * plan.pane.cut[1] + (
            baffle.reach_mm * (baffle.high_mm - baffle.low_mm) if baffle else 0
        )

    assert area(found[0].plan) < area(own)
    reasons = trade_offs([s.plan for s in found])
    assert set(reasons) == {"for it", "against it"}
    assert any(reasons["for it"])


def test_solve_keeps_a_ghost_that_is_wanted_somewhere():
    scene = parse_scene(filled_text({"ghost.at": [5, 54, 150]}))
    for solution in solve(scene, free=ANY.split(",")):
        assert solution.plan.layout.ghost == pytest.approx([5, 54, 150], abs=0.01)


def test_solve_says_what_no_layout_can_help(faulty):
    done = CliRunner().invoke(group, ["plan", str(faulty), "--solve", "--pick", "2", "--json", "--free", ANY])
    assert done.exit_code == 0, done.output
    report = json.loads(done.stdout)
    assert len(report["layouts"]) == 3
    assert report["written"].endswith("shallow-solved.toml")
    assert "every layout: cords" in done.stderr
    chosen = make_plan(load_scene(report["written"])).as_dict()
    assert chosen["ghost"]["centre"] == pytest.approx(report["layouts"][1]["ghost"]["centre"], abs=1e-3)


def test_solve_in_a_box_too_small_for_the_player(tmp_path):
    file = tmp_path / "tiny.toml"
    text = filled_text({"box.width": 40, "box.opening": None, "box.height": 40, "box.depth": 40})
    file.write_text(text.replace("centre = [-63, 54, 90]", "centre = [-10, 20, 20]"), encoding="utf-8")
    done = CliRunner().invoke(group, ["plan", str(file), "--solve", "--strict", "--free", ANY])
    assert done.exit_code == 1
    assert "No layout was found" in done.stdout
    assert not file.with_name("tiny-solved.toml").exists()


def test_what_the_file_gives_stays_unless_it_is_set_free():
    """Wall, top, pane's angle and the divider's place are kept; only what is named moves."""
    text = filled_text({"screen.centre": None}) + DIVIDED
    scene = parse_scene(text)
    for solution in solve(scene):
        screen = solution.scene.screen
        assert (screen.wall, screen.top, solution.scene.pane.angle) == ("left", "front", 45)
        assert solution.scene.divider == scene.divider
    cut = solve(scene, free=["doorways"])[0]
    assert cut.faults == 0
    assert cut.scene.divider[0].start == scene.divider[0].start
    assert cut.scene.divider[0].doorways != scene.divider[0].doorways
    assert cut.plan.sight.seen_from_everywhere
    # measured again by the tracer: the doorway lets the ghost's light through
    assert not [b for b in cut.plan.sight.blocked if b.name == "divider 1"]


DIVIDED = """
[[divider]]
from = [-75, 20]
to = [75, 20]
doorways = [ { at = 75, width = 40, height = 60 } ]
"""


def test_a_divider_can_be_found_that_hides_the_player():
    found = solve(parse_scene(filled_text({"screen.centre": None})), free=["divider"])
    assert found[0].faults == 0
    assert len(found[0].scene.divider) == 1
    assert any(s.plan.sight.player_hidden for s in found)


def test_options_of_the_search_are_refused_without_it(starter):
    for option in (["--free", "divider"], ["--pick", "2"], ["--out", "x.toml"]):
        done = CliRunner().invoke(group, ["plan", str(starter), *option])
        assert done.exit_code == 2
        assert "belongs to --solve" in done.output
    done = CliRunner().invoke(group, ["plan", str(starter), "--solve", "--free", "colour"])
    assert "cannot be looked for" in str(done.exception)


def test_a_solved_file_keeps_what_the_builder_wrote(starter):
    done = CliRunner().invoke(group, ["plan", str(starter), "--solve", "--free", "divider,screen.centre"])
    assert done.exit_code == 0, done.output
    written = starter.with_name("hall-solved.toml").read_text(encoding="utf-8")
    assert "[[divider]]" in written
    assert 'wall = "left"               # left, right' in written
    assert load_scene(starter.with_name("hall-solved.toml")).divider[0].doorways


def test_a_raster_that_the_player_does_not_take_is_told_and_no_search_is_proposed(starter):
    text = starter.read_text(encoding="utf-8").replace("raster = [320, 240]", "raster = [800, 480]")
    starter.write_text(text, encoding="utf-8")
    done = CliRunner().invoke(group, ["plan", str(starter)])
    assert "does not take a raster of 800x480" in " ".join(done.output.split())
    assert "Next: ghostprep players" in done.output
    assert "--solve" not in done.output
    assert status_of(group, ["plan", str(starter), "--strict"]) == 1
