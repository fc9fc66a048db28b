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
from ghostprep.optics.solve import solve
from ghostprep.optics.tradeoffs import trade_offs
from ghostprep.scene import load_scene, parse_scene
from ghostprep.scene.starter import filled_text, starter_text


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
    for key in ("width", "height", "depth", "wall", "cord", "distance", "thickness", "feet", "sill"):
        text = in_inches(text, key)
    file.write_text(lists_in_inches(text), encoding="utf-8")
    done = CliRunner().invoke(group, ["plan", str(file)])
    assert done.exit_code == 0, done.output
    assert re.search(r"pane +8 \d+/\d+ in x 4 \d+/\d+ in x 1/16 in acrylic", done.stdout)
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
    done = CliRunner().invoke(group, ["plan", str(starter), "--solve"])
    assert done.exit_code == 0, done.output
    written = starter.with_name("hall-solved.toml")
    plan = make_plan(load_scene(written))
    assert plan.faults == 0
    assert plan.mount.keystone_px < 0.5
    assert plan.figure.fits
    for part in ("Layouts", "for it", "against it", "1", "2", "3"):
        assert part in done.stdout
    # what the builder measured is kept, comments and all
    assert written.read_text(encoding="utf-8").count("#") == starter_text().count("#")
    assert load_scene(written).box == load_scene(starter).box
    again = CliRunner().invoke(group, ["plan", str(starter), "--solve"])
    assert isinstance(again.exception, InputError)
    assert "exists already" in str(again.exception)


def test_solved_layouts_are_no_worse_than_the_starter_and_differ():
    scene = parse_scene(starter_text())
    found = solve(scene)
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
    for solution in solve(scene):
        assert solution.plan.layout.ghost == pytest.approx([5, 54, 150], abs=0.01)


def test_solve_says_what_no_layout_can_help(faulty):
    done = CliRunner().invoke(group, ["plan", str(faulty), "--solve", "--pick", "2", "--json"])
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
    done = CliRunner().invoke(group, ["plan", str(file), "--solve", "--strict"])
    assert done.exit_code == 1
    assert "No layout was found" in done.stdout
    assert not file.with_name("tiny-solved.toml").exists()
