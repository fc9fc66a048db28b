"""The template at 1:1: what is read back from the PDF is what lies on the wood."""

from __future__ import annotations

import itertools
import re

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from ghostprep.cli import group
from ghostprep.cli.plan_text import _cut_list
from ghostprep.cli.run import status_of
from ghostprep.errors import InputError
from ghostprep.optics import make_plan
from ghostprep.optics.advice.words import Words
from ghostprep.optics.solids import Block, gap, player_block
from ghostprep.paper.cut_parts import parts_to_cut
from ghostprep.paper.template import draw_template, template_parts
from ghostprep.paper.template_pages import paged
from ghostprep.scene import parse_length, parse_scene
from ghostprep.scene.starter import filled_text, starter_text

TRUE_MM = 0.05
"""Half of what 0.1 mm over 200 mm allows; the ruler and the floor plan are up to 212 mm long."""

FLOOR = {
    "screen.wall": "floor",
    "screen.centre": [0, 14, 70],
    "screen.top": "front",
    "pane.through": [0, 60, 96],
}
WIDE = """
title = "A stage"
[box]
width = 500
height = 200
depth = 420
wall = 10
[screen]
raster = [320, 240]
active = [160, 120]
"""

INCHES = """
units = "in"
[box]
width = 6
height = 6
depth = 8
wall = 0.25
[screen]
raster = [320, 240]
active = [1.6, 1.2]
"""


def plan_of(text: str):
    return make_plan(parse_scene(text, "scene.toml"))


@pytest.fixture(scope="module")
def starter():
    return plan_of(starter_text())


def near(size, wanted):
    return np.allclose(size, wanted, atol=TRUE_MM)


def level_lines(strokes):
    return [s for s in strokes if len(s.points) == 2 and s.size[1] < 1e-3]


def inside_of_floor(strokes, box):
    (inside,) = [s for s in strokes if s.closed and not s.dashed and near(s.size, (box.width, box.depth))]
    return np.array(inside.corner)


@pytest.mark.parametrize(
    ("text", "paper"), [(starter_text(), "a4"), (filled_text(FLOOR), "letter"), (WIDE, "a4")]
)
def test_ruler_on_every_page_is_100_mm_and_4_in(text, paper, tmp_path, pdf_strokes):
    out = tmp_path / "parts.pdf"
    pages = draw_template(plan_of(text), out, paper=paper)
    read = pdf_strokes(out)
    assert len(read) == pages
    for strokes in read:
        lengths = [s.size[0] for s in level_lines(strokes)]
        # 25.4 mm to the inch, exactly, since 1959
        for wanted in (100.0, 4 * 25.4):
            assert min(abs(length - wanted) for length in lengths) <= 1e-3
    words = [page.extract_text().replace("\n", " ") for page in PdfReader(out).pages]
    for number, told in enumerate(words, 1):
        assert f"page {number} of {pages}" in told
        assert "100 mm and 4 in must be true" in re.sub(r"\s+", " ", told)
        assert "local codes" in re.sub(r"\s+", " ", told)


def test_floor_plan_holds_walls_opening_both_pane_faces_screen_and_baffle(starter, tmp_path, pdf_strokes):
    out = tmp_path / "parts.pdf"
    draw_template(starter, out)
    strokes = pdf_strokes(out)[0]
    box, plan = starter.scene.box, starter
    corner = inside_of_floor(strokes, box)
    origin = corner + np.array([box.width / 2, 0.0])
    assert any(
        s.closed and near(s.size, (box.width + 2 * box.wall, box.depth + 2 * box.wall)) for s in strokes
    )

    def drawn(points):
        wanted = np.array([(p[0], p[2]) for p in points]) + origin
        return any(
            all(min(np.hypot(*(s.points - w).T)) <= TRUE_MM for w in wanted)
            for s in strokes
            if len(s.points) <= 6
        )

    front, back = plan.pane.corners[[0, 1]], plan.pane.back_corners[[0, 1]]
    assert drawn(np.vstack([front, back]))
    assert drawn(front)
    # the two faces are the sheet's thickness apart
    way = front[1] - front[0]
    off = back[0] - front[0]
    assert np.linalg.norm(off) == pytest.approx(plan.scene.pane.thickness, abs=1e-6)
    assert abs(way @ off) < 1e-6
    assert drawn(plan.layout.screen.corners()[:2])
    half = box.opening.width / 2
    assert drawn([(half, 0, 0), (half, 0, -box.wall)])
    baffle = plan.sight.baffle
    assert baffle is not None
    wall = -box.width / 2
    assert drawn([(wall, 0, baffle.depth_mm), (wall + baffle.reach_mm, 0, baffle.depth_mm)])


def test_a_leaning_pane_is_drawn_on_floor_and_side_wall(tmp_path, pdf_strokes):
    plan = plan_of(filled_text(FLOOR))
    out = tmp_path / "parts.pdf"
    draw_template(plan, out)
    pages = pdf_strokes(out)
    box = plan.scene.box
    both = np.vstack([plan.pane.corners, plan.pane.back_corners])
    (side,) = [p for p in pages if any(s.closed and near(s.size, (box.depth, box.height)) for s in p)]
    origin = np.array(next(s for s in side if near(s.size, (box.depth, box.height))).corner)
    low, high = both[:, [2, 1]].min(axis=0) + origin, both[:, [2, 1]].max(axis=0) + origin
    assert any(near(s.corner, low) and near(s.size, high - low) for s in side)
    (floor,) = [p for p in pages if any(s.closed and near(s.size, (box.width, box.depth)) for s in p)]
    at = inside_of_floor(floor, box)[1]
    lower = min(([0, 3], [1, 2]), key=lambda pair: plan.pane.corners[pair, 1].mean())
    foot = np.vstack([plan.pane.corners[lower], plan.pane.back_corners[lower]])[:, 2] + at
    assert any(near((s.corner[1], s.size[1]), (foot.min(), np.ptp(foot))) and s.size[0] > 100 for s in floor)


@pytest.mark.parametrize(
    ("paper", "size"), [("a4", (210, 297)), ("letter", (8.5 * 25.4, 11 * 25.4)), (None, (210, 297))]
)
def test_pages_have_the_paper_s_size(paper, size, starter, tmp_path):
    out = tmp_path / "parts.pdf"
    draw_template(starter, out, paper=paper)
    for page in PdfReader(out).pages:
        found = sorted(float(n) * 25.4 / 72 for n in page.mediabox[2:])
        assert found == pytest.approx(sorted(size), abs=0.01)


def test_inches_are_printed_on_letter_by_themselves(tmp_path):
    out = tmp_path / "parts.pdf"
    draw_template(plan_of(INCHES), out)
    assert float(PdfReader(out).pages[0].mediabox[2]) == pytest.approx(612, abs=0.01)


@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data(), paper=st.sampled_from(["a4", "letter"]))
def test_labels_of_any_scene_can_be_read(data, paper, drawn_scenes, label_faults):
    plan = data.draw(drawn_scenes)
    for sheet in paged(template_parts(plan), paper, plan.scene.title):
        assert label_faults(sheet) == []


def test_refusals_take_one_line_and_leave_nothing(starter, tmp_path, capsys):
    scene = tmp_path / "hall.toml"
    scene.write_text(starter_text(), encoding="utf-8")
    out = tmp_path / "parts.pdf"
    out.write_text("mine")
    for options, words in (
        (["--template", str(out)], "exists already"),
        (["--template", str(tmp_path / "parts.svg")], "always a PDF"),
        (["--paper", "a4"], "belongs to a template"),
        (["--template", str(tmp_path / "a.pdf"), "--drawing", str(tmp_path / "a.pdf")], "two files"),
        (["--template", str(tmp_path / "no" / "a.pdf")], "folder does not exist"),
    ):
        assert status_of(group, ["plan", str(scene), *options]) == 2
        told = capsys.readouterr()
        assert len(told.err.strip().splitlines()) == 1
        assert words in told.err
        assert told.out == ""
    assert out.read_text() == "mine"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["hall.toml", "parts.pdf"]
    with pytest.raises(InputError, match="unknown paper 'a5'"):
        draw_template(starter, tmp_path / "b.pdf", paper="a5")


def test_a_box_as_large_as_a_hall_gets_no_template(tmp_path):
    text = WIDE.replace("width = 500", "width = 5000").replace("depth = 420", "depth = 4200")
    with pytest.raises(InputError, match=r"would take \d+ pages"):
        draw_template(plan_of(text), tmp_path / "a.pdf")
    assert list(tmp_path.iterdir()) == []


def test_plan_writes_drawing_and_template_together(tmp_path):
    scene = tmp_path / "hall.toml"
    scene.write_text(starter_text(), encoding="utf-8")
    out = [str(tmp_path / "hall.pdf"), str(tmp_path / "parts.pdf")]
    done = CliRunner().invoke(group, ["plan", str(scene), "--drawing", out[0], "--template", out[1]])
    assert done.exit_code == 0
    assert "print them at 100 %" in done.stdout
    assert [len(PdfReader(name).pages) for name in out] == [1, 8]


def test_solve_draws_the_layout_that_it_writes(tmp_path):
    scene = tmp_path / "hall.toml"
    scene.write_text(starter_text(), encoding="utf-8")
    out = tmp_path / "better.svg"
    solved = tmp_path / "hall-solved.toml"
    # the starter file gives screen and pane: what may move is named
    search = ["--solve", "--free", "screen.wall,screen.centre,screen.top", "--pick", "2"]
    done = CliRunner().invoke(group, ["plan", str(scene), *search, "--drawing", str(out)])
    assert done.exit_code == 0
    again = tmp_path / "again.svg"
    done = CliRunner().invoke(group, ["plan", str(solved), "--drawing", str(again)])
    assert done.exit_code == 0
    assert out.read_text(encoding="utf-8") == again.read_text(encoding="utf-8")


FURNISHED = """
[box]
width = 150
height = 145
depth = 230
wall = 6
opening = { width = 110, height = 115, sill = 10 }
[viewer]
height = 80
sway = [20, 10]
[screen]
wall = "left"
top = "front"
raster = [320, 240]
active = [48, 36]
body = [60, 48, 9]
centre = [-62, 60, 110]
[[divider]]
from = [-75, 40]
to = [75, 40]
thickness = 3
doorways = [ { at = 75, width = 90, height = 110, sill = 5 } ]
[[mirror]]
from = [20, 229]
to = [70, 229]
height = 100
[[thing]]
name = "counter"
at = [45, 0, 205]
size = [30, 25, 12]
"""


def touching(a: Block, b: Block) -> bool:
    return abs(gap(a, b)) <= 0.06


def has_holes(drawn, outline, part) -> bool:
    """Whether all holes of a part, but for round ones, are drawn where they belong in an outline."""
    return all(
        any(
            near(s.size, hole.place.size)
            and near(np.subtract(s.corner, outline.corner), (hole.place.left, hole.place.low))
            for s in drawn
        )
        for hole in part.holes
        if not hole.round
    )


@pytest.mark.parametrize("text", [starter_text(), FURNISHED])
def test_parts_measured_in_the_pdf_fit_together_where_they_are_planned(text, tmp_path, pdf_strokes):
    """Every sheet as large as it is drawn, put where it is planned: none overlaps, each touches its own."""
    plan = plan_of(text)
    out = tmp_path / "parts.pdf"
    draw_template(plan, out, paper="a4")
    drawn = [s for page in pdf_strokes(out) for s in page if s.closed and not s.dashed and len(s.points) >= 4]
    built, holes = {}, {}
    # two sheets may be equally large: those with holes first, each to the outline that has them
    for part in sorted(parts_to_cut(plan), key=lambda part: -len(part.holes)):
        stroke = next(s for s in drawn if near(s.size, part.size) and has_holes(drawn, s, part))
        drawn.remove(stroke)
        half = np.array([*stroke.size, part.thickness_mm]) / 2
        built[part.name] = Block(part.block.centre, part.block.axes, half)
        holes[part.name] = [hole.place.size for hole in part.holes]
    assert not [f for f in plan.findings if f.subject in {"collision", "divider"}]
    for (one, a), (other, b) in itertools.combinations(built.items(), 2):
        assert gap(a, b) > -0.06, f"{one} in {other}: {gap(a, b)}"

    def named(word: str) -> list[Block]:
        return [block for name, block in built.items() if name.startswith(word)]

    (floor,), (ceiling,), (left,), (right,), (back,) = map(
        named, ("floor", "ceiling", "left wall", "right wall", "back wall")
    )
    for wall in (left, right):
        assert all(touching(wall, other) for other in (floor, ceiling, back))
    assert touching(back, floor)
    assert touching(back, ceiling)
    for front in named("front"):
        assert all(touching(front, other) for other in (floor, ceiling, left, right))
    for divider in named("divider"):
        assert all(touching(divider, other) for other in (floor, ceiling, left, right))
    for baffle in named("baffle"):
        assert touching(baffle, left)
    holder = named("holder")
    assert len(holder) >= 4
    assert all(any(touching(a, b) for b in holder if b is not a) for a in holder)
    # the player slides into what the strips leave free: its body touches none of them
    body = player_block(plan.layout.screen, plan.scene.screen.body)
    assert all(gap(body, strip) > -1e-6 for strip in holder)
    # the outside sizes are those of the shelf
    corners = np.vstack([block.corners() for block in (floor, ceiling, left, right, back)])
    wide, high, _ = np.ptp(corners, axis=0)
    assert (wide, high) == pytest.approx(plan.room.shelf.needed_mm[:2], abs=0.1)
    if text is FURNISHED:
        assert holes["divider 1"] == [(90, 110)]
        assert near(holes["front, from the front"][0], (110, 115))


def test_the_cord_s_hole_lets_a_plug_through_and_is_free_before_it():
    plan = plan_of(FURNISHED)
    (back,) = [part for part in parts_to_cut(plan) if part.name.startswith("back wall")]
    (hole,) = [hole for hole in back.holes if hole.round]
    # USB Type-C specification, overmould at most 12.35 mm x 6.5 mm (from memory)
    assert hole.place.size[0] >= np.hypot(12.35, 6.5)
    assert 0 < hole.place.left < hole.place.right < back.size[0]
    assert 0 < hole.place.low < hole.place.high < back.size[1]


@pytest.mark.parametrize("units", ["mm", "in"])
def test_the_board_is_as_large_in_finding_cut_list_and_template(units):
    plan = make_plan(parse_scene(starter_text()).model_copy(update={"units": units}))
    (part,) = [part for part in parts_to_cut(plan) if part.name.startswith("baffle")]
    sides = [2 * float(side) for side in part.block.half[:2]]
    finding = next(f.remedy for f in plan.findings if "a baffle on" in f.remedy)
    out, low, high = re.search(r"stands out (.*?), from (.*?) to (.*?) above", finding).groups()
    assert sides == pytest.approx([parse_length(out), parse_length(high) - parse_length(low)], abs=1e-6)
    assert Words(units).size(sides) in dict(_cut_list(plan))["baffle"]
