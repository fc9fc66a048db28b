"""What is offered to a builder who only presses return: worked examples, and what must hold for any box."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.scene.ask import QUESTIONS
from ghostprep.scene.lengths import parse_length
from ghostprep.scene.likely import Answers


def talk(**typed: str) -> dict[str, str]:
    """Answer as typed, the usual answer elsewhere; return every answer as it was read by a builder."""
    answers: dict[str, object] = {}
    told: dict[str, str] = {}
    for question in QUESTIONS:
        if question.skipped(answers):
            answers[question.key] = None
            continue
        told[question.key] = typed.get(question.key, question.usual_text(answers))
        answers[question.key] = question.read(told[question.key], answers)
    return told


def lengths(told: dict[str, str]) -> dict[str, float]:
    """Return the answers that are lengths, mm."""
    keys = [question.key for question in QUESTIONS if question.kind == "length" and question.key in told]
    return {key: parse_length(told[key], told["units"]) for key in keys if told[key] != "-"}


# worked with a pocket calculator from the proportions of such boxes; common practice, no source
CONVERSATIONS = [
    (
        {"box.width": "200 mm"},
        "height 174 mm, depth 266 mm, wall 6 mm, opening 184 mm x 150 mm from 10 mm up, "
        "shelf 326 mm, cord 20 mm, "
        "eye 600 mm away, 100 mm up, sways 100 mm and 52 mm, figure 1.7 m on 16 mm, "
        "lit 96 mm x 72 mm, body 112 mm x 86 mm x 12 mm, top front, lit at 12 mm, 63 mm, 117 mm, pane 2 mm",
    ),
    (
        {"units": "in", "screen.wall": "floor"},
        "height 5 1/4 in, depth 8 in, wall 1/4 in, opening 5 1/2 in x 4 1/2 in from 5/16 in up, "
        "shelf 10 1/2 in, cord 13/16 in, eye 24 in away, 3 in up, sways 3 in and 1 9/16 in, "
        "figure 5 ft 7 in on 9/16 in, "
        "lit 3 in x 2 1/4 in, body 3 3/4 in x 2 3/4 in x 1/2 in, top left, "
        "lit at 1/2 in, 0 in, 4 1/2 in, pane 1/16 in",
    ),
    (
        {
            "units": "cm",
            "screen.wall": "ceiling",
            "screen.raster.0": "240",
            "screen.raster.1": "320",
            "box.opening.width": "-",
        },
        "height 13.2 cm, depth 20.2 cm, wall 0.6 cm, opening -, shelf 26.2 cm, "
        "cord 2 cm, eye 60 cm away, 7.9 cm up, sways 7.6 cm and 4 cm, figure 1.7 m on 0.6 cm, "
        "lit 5.4 cm x 7.2 cm, body 7 cm x 8.6 cm x 1.2 cm, top front, "
        "lit at 1.2 cm, 0 cm, 7.8 cm, pane 0.2 cm",
    ),
    (
        # long and narrow
        {"screen.wall": "right", "box.width": "80 mm", "box.depth": "300 mm", "screen.top": "down"},
        "height 70 mm, depth 300 mm, wall 6 mm, opening 74 mm x 60 mm from 4 mm up, "
        "shelf 360 mm, cord 20 mm, "
        "eye 600 mm away, 40 mm up, sways 40 mm and 21 mm, figure 1.7 m on 10 mm, "
        "lit 38 mm x 28 mm, body 54 mm x 42 mm x 12 mm, top down, lit at 12 mm, 25 mm, 203 mm, pane 2 mm",
    ),
    (
        # large: the widest of small screens is 96 mm
        {"box.width": "400 mm"},
        "height 348 mm, depth 532 mm, wall 6 mm, opening 368 mm x 299 mm from 21 mm up, "
        "shelf 592 mm, cord 20 mm, "
        "eye 600 mm away, 200 mm up, sways 200 mm and 104 mm, figure 1.7 m on 27 mm, "
        "lit 96 mm x 72 mm, body 112 mm x 86 mm x 12 mm, top front, lit at 12 mm, 74 mm, 222 mm, pane 2 mm",
    ),
    (
        # wide and shallow: the screen goes as far to the front as its body lets it
        {"box.width": "300 mm", "box.height": "100 mm", "box.depth": "120 mm", "screen.wall": "left"},
        "height 100 mm, depth 120 mm, wall 6 mm, opening 276 mm x 86 mm from 6 mm up, "
        "shelf 180 mm, cord 20 mm, "
        "eye 600 mm away, 58 mm up, sways 150 mm and 30 mm, figure 1.7 m on 12 mm, "
        "lit 48 mm x 36 mm, body 64 mm x 50 mm x 12 mm, top front, lit at 12 mm, 36 mm, 33 mm, pane 2 mm",
    ),
]


@pytest.mark.parametrize(("typed", "offered"), CONVERSATIONS)
def test_what_is_offered_in_a_whole_conversation(typed, offered):
    told = talk(**typed)
    t = told.get
    opening = (
        "-"
        if told["box.opening.width"] == "-"
        else f"{t('box.opening.width')} x {t('box.opening.height')} from {t('box.opening.sill')} up"
    )
    assert (
        f"height {t('box.height')}, depth {t('box.depth')}, wall {t('box.wall')}, opening {opening}, "
        f"shelf {t('shelf.depth')}, cord {t('shelf.cord')}, eye {t('viewer.distance')} away, "
        f"{t('viewer.height')} up, sways {t('viewer.sway.0')} and {t('viewer.sway.1')}, "
        f"figure {t('ghost.figure')} on {t('ghost.feet')}, "
        f"lit {t('screen.active.0')} x {t('screen.active.1')}, "
        f"body {t('screen.body.0')} x {t('screen.body.1')} x {t('screen.body.2')}, top {t('screen.top')}, "
        f"lit at {t('lit.out')}, {t('lit.along')}, {t('lit.deep')}, pane {t('pane.thickness')}" == offered
    )


def test_what_is_offered_before_anything_is_known():
    told = talk()
    assert told["box.width"] == "152 mm"  # six inches
    assert [told[key] for key in ("units", "scale", "screen.wall", "screen.raster.0", "screen.raster.1")] == [
        "mm",
        "1:24",
        "left",
        "320",
        "240",
    ]
    assert [told[key] for key in ("screen.polarisation", "pane.material", "light.scene")] == [
        "unknown",
        "acrylic",
        "5",
    ]


@settings(deadline=None, max_examples=40)
@given(
    wide=st.integers(120, 400),
    high=st.floats(0.6, 2.0),
    deep=st.floats(1.0, 2.5),
    wall=st.sampled_from(["left", "right", "floor", "ceiling"]),
    raster=st.sampled_from([(320, 240), (240, 320), (240, 240), (1280, 720)]),
)
def test_the_player_that_is_offered_stands_within_the_box(wide, high, deep, wall, raster):
    box = {
        "box.width": f"{wide} mm",
        "box.height": f"{wide * high:.0f} mm",
        "box.depth": f"{wide * deep:.0f} mm",
    }
    told = talk(
        **box, **{"screen.wall": wall, "screen.raster.0": f"{raster[0]}", "screen.raster.1": f"{raster[1]}"}
    )
    mm = lengths(told)
    # its pixels are square, to what a ruler shows
    assert mm["screen.active.0"] / raster[0] == pytest.approx(
        mm["screen.active.1"] / raster[1], abs=0.6 / min(raster)
    )
    upright = wall in {"left", "right"}
    known = Answers(told)
    assert known.upright == upright
    # a figure stands taller when the long side of the screen is upright
    assert mm[f"screen.active.{known.tall}"] >= mm[f"screen.active.{1 - known.tall}"]
    along_depth = mm[f"screen.body.{known.tall if not upright else 1 - known.tall}"] / 2
    assert along_depth <= mm["lit.deep"] <= mm["box.depth"] - along_depth - 1
    if upright:
        assert mm["lit.along"] >= mm[f"screen.body.{known.tall}"] / 2  # above the floor
    assert mm["lit.out"] == mm["screen.body.2"]
    assert mm["box.opening.sill"] + mm["box.opening.height"] < mm["box.height"]
    assert mm["ghost.feet"] > mm["box.opening.sill"]


@pytest.mark.parametrize(
    ("mm", "units", "shown"),
    [(31.4, "mm", 31), (31.6, "mm", 32), (31.4, "cm", 31), (49, "in", 31 / 16 * 25.4), (51, "in", 50.8),
     (54, "in", 2.25 * 25.4), (-60, "in", -2.25 * 25.4)],
)  # fmt: skip
def test_lengths_are_offered_as_a_ruler_shows_them(mm, units, shown):
    # from two inches on by the quarter, below by the sixteenth
    assert Answers({"units": units}).rounded(mm) == pytest.approx(shown)


@pytest.mark.parametrize(
    ("wall", "top", "tall"),
    [("left", "up", 1), ("right", "down", 1), ("left", "front", 0), ("right", "back", 0),
     ("floor", "front", 1), ("ceiling", "back", 1), ("floor", "left", 0), ("ceiling", "right", 0)],
)  # fmt: skip
def test_which_side_of_the_raster_stands_upright_in_the_ghost(wall, top, tall):
    # a pane at 45 degrees turns depth into height for floor and ceiling; a side wall keeps height
    assert Answers({"screen.wall": wall, "screen.top": top}).tall == tall
