"""``scene --ask`` asks for each measure and writes a file that plans."""

from __future__ import annotations

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.cli import group
from ghostprep.optics import lay_out, make_plan
from ghostprep.scene import load_scene, parse_scene
from ghostprep.scene.ask import QUESTIONS, answers_to_values
from ghostprep.scene.starter import asked_text, filled_text, solved_values, starter_text


def asked(tmp_path, **answers):
    """Answer by the question's key, the usual one elsewhere; return the scene and all that was said."""
    skipped = set()
    if answers.get("box.opening.width") == "-":
        skipped |= {"box.opening.height", "box.opening.sill"}
    if answers.get("shelf.depth") == "-":
        skipped.add("shelf.cord")
    typed = [answers.get(q.key, "") for q in QUESTIONS if q.key not in skipped]
    file = tmp_path / "mine.toml"
    done = CliRunner().invoke(
        group, ["scene", str(file), "--ask"], input="\n".join([*typed, *answers.get("later", [])]) + "\n"
    )
    assert done.exit_code == 0, done.output
    return load_scene(file), done.output


def test_every_question_says_where_to_hold_the_ruler():
    assert all((q.asks.endswith("?") and q.hint.endswith(".")) or q.hint.endswith("?") for q in QUESTIONS)
    assert len({q.key for q in QUESTIONS}) == len(QUESTIONS)


@pytest.mark.parametrize("units", ["mm", "cm", "in"])
def test_the_usual_answers_give_a_box_without_faults_in_the_builders_unit(tmp_path, units):
    scene, said = asked(tmp_path, units=units)
    plan = make_plan(scene)
    assert [f.text for f in plan.findings if f.level == "fault"] == []
    assert plan.figure.fits
    for question in QUESTIONS:
        assert question.asks in said
        assert question.hint in said
    text = (tmp_path / "mine.toml").read_text(encoding="utf-8")
    # nothing of our sample, and no example in another unit
    for word in ("ferry", "purser", "lantern", "ticket", "121.5"):
        assert word not in text
    if units == "in":
        assert "width = 6\n" in text
        assert 'height = "5 1/4 in"' in text
    for key in ("wall", "cord", "sway", "centre", "active", "feet"):
        # the comments stand below each other, whatever was put in
        line = next(line for line in text.splitlines() if line.startswith(f"{key} =") and "#" in line)
        assert line.index("#") == 28
    assert "64.0" not in text


@settings(deadline=None, max_examples=15)
@given(
    width=st.floats(80, 400),
    height=st.floats(0.6, 2.5),
    depth=st.floats(1.0, 2.5),
    wall=st.sampled_from(["left", "right", "floor", "ceiling"]),
)
def test_each_default_follows_from_the_answers_before_it(width, height, depth, wall):
    given_ones = {
        "box.width": width,
        "box.height": width * height,
        "box.depth": width * depth,
        "screen.wall": wall,
    }
    answers = {}
    for question in QUESTIONS:
        if not question.skipped(answers):
            text = str(given_ones.get(question.key, question.usual_text(answers)))
            answers[question.key] = question.read(text, answers)
    scene = parse_scene(asked_text(answers_to_values(answers)))
    assert scene.box.opening.width < scene.box.width
    assert scene.shelf.depth > scene.box.depth
    layout = lay_out(scene)
    if wall in {"left", "right"}:
        assert 0 < layout.ghost[2] <= scene.box.depth


def test_a_door_gives_the_scale(tmp_path):
    scene, _ = asked(tmp_path, scale="85")
    assert 1 / scene.scale.at(0) == pytest.approx(2030 / 85)
    inches, _ = asked(tmp_path / "..", units="in", scale="3 1/3")
    assert 1 / inches.scale.at(0) == pytest.approx(24)


def test_a_way_back(tmp_path):
    """Too wide; back from the height; then the width again and on."""
    scene, said = asked(tmp_path, **{"box.width": "999", "box.height": "<\n180\n"})
    assert scene.box.width == 180
    assert said.count("How wide is the box inside?") == 2
    assert 'Type "<"' in said


def test_the_way_back_offers_what_was_typed_and_what_is_likely_after_it(tmp_path):
    """The height typed is kept by a return; the depth, which was only agreed to, follows the new width."""
    scene, _ = asked(tmp_path, **{"box.height": "99", "box.wall": "<\n<\n<\n200\n\n\n"})
    assert (scene.box.width, scene.box.height, scene.box.depth) == (200, 99, 266)


def test_the_way_back_leads_from_answers_that_do_not_fit_to_the_one_that_is_wrong(tmp_path):
    """The screen lies outside, since the box was typed ten times too narrow; all else is agreed to again."""
    fixed = ["<"] * 24 + ["150"] + [""] * 40
    scene, said = asked(tmp_path, **{"box.width": "15", "lit.out": "40", "later": fixed})
    assert "These do not fit together" in said
    assert scene.box.width == 150
    assert scene.screen.centre[0] == pytest.approx(-35)


def test_a_raster_without_pixels_is_asked_again(tmp_path):
    scene, said = asked(tmp_path, **{"screen.raster.0": "0\n-320\n640"})
    assert said.count("type a whole number of pixels") == 2
    assert scene.screen.raster == (640, 240)


def test_inches_and_bare_fractions(tmp_path):
    scene, _ = asked(
        tmp_path, units="in", **{"box.width": "5 7/8", "box.depth": "7.75", "box.height": "13 cm"}
    )
    assert scene.units == "in"
    assert scene.box.width == pytest.approx(5.875 * 25.4)
    assert scene.box.depth == pytest.approx(7.75 * 25.4)
    assert scene.box.height == pytest.approx(130)


@pytest.mark.parametrize(
    ("wall", "top", "centre"),
    [
        ("left", "up", (-63, 54, 90)),
        ("right", "up", (63, 54, 90)),
        ("floor", "back", (54, 12, 90)),
        ("ceiling", "left", (54, 118, 90)),
    ],
)
def test_the_screens_place_is_asked_from_its_wall(tmp_path, wall, top, centre):
    box = {"box.width": "150", "box.height": "130", "box.depth": "200"}
    lit = {"lit.out": "12", "lit.along": "54", "lit.deep": "90"}
    scene, _ = asked(tmp_path, **{"screen.wall": wall, "screen.top": top, **box, **lit})
    assert scene.screen.centre == pytest.approx(centre)
    assert scene.screen.top == top
    assert lay_out(scene).screen.centre == pytest.approx(centre)


def test_whole_front_open_and_no_shelf(tmp_path):
    scene, _ = asked(tmp_path, **{"box.opening.width": "-", "shelf.depth": "-"})
    assert scene.box.open_front
    assert scene.shelf is None


def test_wrong_answers_are_asked_again(tmp_path):
    scene, said = asked(tmp_path, **{"box.width": "wide\n150"})
    assert "is not a length" in said
    assert scene.box.width == 150


def test_answers_that_do_not_fit_together_are_asked_again(tmp_path):
    scene, said = asked(tmp_path, **{"lit.deep": "320 mm", "later": ["", "", "90 mm"]})
    assert "These do not fit together" in said
    assert "outside the box" in said
    assert scene.screen.centre[2] == 90


def test_filling_keeps_comments_and_other_keys():
    text = filled_text({"box.width": 160, "ghost.at": [0, 54, 150], "pane.size": [200.0, 120.0]})
    scene = parse_scene(text)
    assert scene.box.width == 160
    assert scene.ghost.at == (0, 54, 150)
    assert scene.pane.size == (200, 120)
    assert "# inside measures" in text
    assert "# 1:24 means" not in text
    assert text.count("#") == starter_text().count("#")
    assert (
        parse_scene(
            filled_text(
                {"pane.angle": 44},
                "[box]\nwidth=150\nheight=130\ndepth=200\n[screen]\nraster=[320,240]\nactive=[40,30]\n",
            )
        ).pane.angle
        == 44
    )


def test_answers_are_left_out_where_nothing_was_measured():
    answers = {}
    for question in QUESTIONS:
        answers[question.key] = question.read(question.usual_text(answers), answers)
    values = answers_to_values({**answers, "shelf.depth": None})
    assert values["shelf"] is None
    assert values["screen.raster"] == [320, 240]


def test_a_search_tells_what_it_changed_and_what_was_not_written():
    """What the file says and the search kept stays as written; a default that the search kept is written."""
    before = parse_scene(starter_text())
    assert solved_values(before, before) == {}
    pane = before.pane.model_copy(update={"angle": 44.12344})
    screen = before.screen.model_copy(update={"centre": (-60.00004, 54.0, 92.5)})
    moved = before.model_copy(update={"pane": pane, "screen": screen})
    assert solved_values(before, moved) == {
        "pane.angle": 44.1234,
        "screen.centre": [-60.0, 54.0, 92.5],
    }
    bare = parse_scene(
        'units = "in"\n[box]\nwidth=6\nheight=5\ndepth=8\n[screen]\nraster=[320,240]\nactive=[1.6,1.2]\n'
    )
    found = solved_values(
        bare, bare.model_copy(update={"ghost": bare.ghost.model_copy(update={"at": (0.0, 25.4, 127.0)})})
    )
    # nothing was written, so all that a search settles is, in inches; what has no value is left out
    assert found == {
        "screen.wall": "left",
        "screen.swivel": 0.0,
        "pane.angle": 45.0,
        "ghost.at": [0.0, 1.0, 5.0],
    } | {key: found[key] for key in found if key == "screen.top"}


def test_what_a_file_lacks_gets_a_table_with_a_head_and_tables_in_it_lie_on_one_line():
    text = filled_text({"box.opening.width": 60, "box.width": 90, "shelf.depth": 200}, "title = 'the hall'\n")
    assert text.splitlines()[0] == "title = 'the hall'"
    assert [line for line in text.splitlines() if line.startswith("[")] == ["[box]", "[shelf]"]
    assert "opening = {width = 60}" in text.splitlines()


def test_answers_are_taken_in_any_case(tmp_path):
    typed = {"units": "CM", "screen.wall": "Right", "pane.material": "Glass", "pane.thickness": "2 MM"}
    scene, _ = asked(tmp_path, **typed)
    assert (scene.units, scene.screen.wall, scene.pane.material) == ("cm", "right", "glass")
    assert scene.pane.thickness == pytest.approx(2)
