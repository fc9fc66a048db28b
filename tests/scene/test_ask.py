"""``scene --ask`` asks for each measure and writes a file that plans."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from ghostprep.cli import group
from ghostprep.optics import lay_out, make_plan
from ghostprep.scene import load_scene, parse_scene
from ghostprep.scene.ask import QUESTIONS, answers_to_values
from ghostprep.scene.starter import filled_text, starter_text


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


def test_the_usual_answers_give_the_starter_scene(tmp_path):
    scene, said = asked(tmp_path)
    starter = parse_scene(starter_text())
    assert {**scene.model_dump(), "title": ""} == {**starter.model_dump(), "title": ""}
    assert make_plan(scene).faults == 0
    for question in QUESTIONS:
        assert question.asks in said
        assert question.hint in said


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
    scene, _ = asked(tmp_path, **{"screen.wall": wall, "screen.top": top})
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
    answers = {q.key: q.read(q.usual_text("mm"), "mm", {"screen.wall": "left"}) for q in QUESTIONS}
    values = answers_to_values({**answers, "shelf.depth": None})
    assert values["shelf"] is None
    assert values["screen.raster"] == [320, 240]
