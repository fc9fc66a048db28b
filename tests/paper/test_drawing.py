"""The drawing to scale: true measures, labels that can be read, files that open."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image
from pypdf import PdfReader

from ghostprep.cli import group
from ghostprep.cli.plan_text import _ghost
from ghostprep.cli.run import status_of
from ghostprep.errors import InputError
from ghostprep.optics import make_plan
from ghostprep.paper.drawing import compose, describe, draw_plan, drawing_svg, entries
from ghostprep.paper.frame import arrange, scale_words
from ghostprep.paper.lettering import width_of
from ghostprep.paper.sheet import PaperSheet
from ghostprep.paper.sheet_file import write_sheet
from ghostprep.scene import parse_scene
from ghostprep.scene.starter import filled_text, starter_text

SVG = "{http://www.w3.org/2000/svg}"
RIGHT = {"screen.wall": "right", "screen.centre": [63, 54, 90]}
FLOOR = {
    "screen.wall": "floor",
    "screen.centre": [0, 14, 70],
    "screen.top": "front",
    "pane.through": [0, 40, 96],
}
CEILING = {"screen.wall": "ceiling", "screen.centre": [0, 117, 70], "screen.top": "back"}
FIXED = {"left": {}, "right": RIGHT, "floor": FLOOR, "ceiling": CEILING}
INCHES = """
title = "Three and a half inches"
units = "in"
[box]
width = 3.5
height = 8
depth = 11
wall = 0.25
[shelf]
depth = 11
[screen]
wall = "right"
raster = [320, 240]
active = [1.6, 1.2]
"""
TALL = """
title = "A very long title of a narrow box in which the last purser walks past the counter once more"
[box]
width = 76
height = 190
depth = 260
opening = { width = 64, height = 170, sill = 6 }
[shelf]
depth = 285
[screen]
raster = [320, 240]
active = [40.8, 30.6]
centre = [-32, 70, 150]
[pane]
through = [-2, 70, 182]
size = [100, 150]
[light]
lamps = [ { at = [0, 185, 60], lumens = 8 } ]
"""


def plan_of(text: str):
    return make_plan(parse_scene(text, "scene.toml"))


def starter_plan(wall: str = "left"):
    return plan_of(filled_text(FIXED[wall]))


@pytest.mark.parametrize("wall", FIXED)
def test_labels_of_every_wall_stay_on_the_page_and_off_each_other(wall, label_faults):
    assert label_faults(compose(starter_plan(wall))) == []


@pytest.mark.parametrize("text", [INCHES, TALL, starter_text().replace('"mm"', '"cm"', 1)])
def test_labels_in_inches_and_in_a_narrow_box_can_be_read(text, label_faults):
    assert label_faults(compose(plan_of(text))) == []


@settings(max_examples=14, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_labels_of_any_scene_can_be_read(data, drawn_scenes, label_faults):
    assert label_faults(compose(data.draw(drawn_scenes))) == []


def test_letters_take_no_more_room_than_was_kept_for_them():
    # against matplotlib's own layout of the same words
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    for words, most in (
        ("screen 143.4 mm", 0.02),
        ("AVAVA To", 0.12),
        ("4 11/16 in, [-31.5, 54, 121.5]", 0.02),
    ):
        for weight in ("normal", "bold"):
            font = FontProperties(family="DejaVu Sans", weight=weight, size=10)
            drawn = text_to_path.get_text_width_height_descent(words, font, ismath=False)[0] * 25.4 / 72
            kept = width_of(words, 10, bold=weight == "bold")
            assert 0.0 <= kept - drawn + 0.05 <= most * drawn + 0.05


@pytest.mark.parametrize("wall", FIXED)
def test_pane_walls_and_scale_bar_are_true_in_the_pdf(wall, tmp_path, pdf_strokes):
    plan = starter_plan(wall)
    out = tmp_path / "hall.pdf"
    draw_plan(plan, out)
    (strokes,) = pdf_strokes(out)
    words = PdfReader(out).pages[0].extract_text()
    told = re.search(r"drawn (?:1:([\d.]+)|(\d+):1)", words)
    assert told is not None
    k = float(told[2]) if told[2] else 1 / float(told[1])
    box = plan.scene.box

    def sized(wide, high):
        return [s for s in strokes if s.closed and np.allclose(s.size, (wide * k, high * k), atol=0.05)]

    # the back wall from above places that view on the paper, the floor from the side the other one
    (back,) = sized(box.width, box.wall)[:1]
    above = np.array(back.corner) - np.array([-box.width / 2, box.depth]) * k
    floor = min(sized(box.depth + box.wall, box.wall), key=lambda s: s.corner[1])
    side = np.array(floor.corner) - np.array([0.0, -box.wall]) * k
    both = np.vstack([plan.pane.corners, plan.pane.back_corners])
    for axes, origin in (((0, 2), above), ((2, 1), side)):
        wanted = both[:, list(axes)] * k + origin
        low, high = wanted.min(axis=0), wanted.max(axis=0)
        assert any(
            s.closed and np.allclose(s.corner, low, atol=0.05) and np.allclose(s.size, high - low, atol=0.05)
            for s in strokes
        )
    bar = re.search(r"(\d+) mm\s", words[words.index("drawn") :])
    assert bar is not None
    assert len([s for s in strokes if np.allclose(s.size, (float(bar[1]) * k / 2, 1.2), atol=0.05)]) >= 2


def test_the_eyes_view_is_the_perspective_of_the_middle_eye(tmp_path, pdf_strokes):
    plan = starter_plan()
    out = tmp_path / "hall.pdf"
    draw_plan(plan, out)
    (strokes,) = pdf_strokes(out)
    box, o = plan.scene.box, plan.scene.box.opening
    k = float(arrange(plan, lambda width: 80.0).scale)
    hole = next(
        s for s in strokes if s.closed and np.allclose(s.size, (o.width * k, o.height * k), atol=0.02)
    )
    origin = np.array(hole.corner) - np.array([-o.width / 2, o.sill]) * k
    ex, ey, ez = plan.scene.eye

    def seen(point):
        # similar triangles: the line from the eye meets z = 0 after this share of its way
        share = -ez / (point[2] - ez)
        return np.array([ex + (point[0] - ex) * share, ey + (point[1] - ey) * share]) * k + origin

    back = [seen((x, y, box.depth)) for x in (-box.width / 2, box.width / 2) for y in (0, box.height)]
    picture = [seen(corner) for corner in plan.layout.image.corners()]
    for outline in (back, picture):
        low, high = np.min(outline, axis=0), np.max(outline, axis=0)
        assert any(
            np.allclose(s.corner, low, atol=0.05) and np.allclose(s.size, high - low, atol=0.05)
            for s in strokes
        )


def test_svg_is_one_element_without_scripts_that_names_itself(tmp_path):
    plan = starter_plan()
    out = tmp_path / "hall.svg"
    draw_plan(plan, out)
    for text in (out.read_text(encoding="utf-8"), drawing_svg(plan)):
        root = ET.fromstring(text)
        assert root.tag == f"{SVG}svg"
        assert root.get("role") == "img"
        title, words = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
        assert title is not None
        assert words is not None
        assert title.text == plan.scene.title
        assert words.text == describe(plan)
        assert root.get("aria-labelledby") == f"{title.get('id')} {words.get('id')}"
        tags = {element.tag.removeprefix(SVG) for element in root.iter()}
        assert not tags & {"script", "style", "image", "foreignObject", "a"}
        values = [value for element in root.iter() for value in element.attrib.values()]
        assert not [v for v in values if "http" in v or "javascript" in v]
        assert "from the right side" in {t.text for t in root.iter(f"{SVG}text")}
    assert root.get("width") == "297.00mm"


def test_svg_brings_its_own_white_paper():
    root = ET.fromstring(drawing_svg(starter_plan()))
    first = next(root.iter(f"{SVG}path"))
    assert "#ffffff" in first.get("style", "")
    wide, high = (float(n) for n in root.get("viewBox", "").split()[2:])
    numbers = [float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", first.get("d", ""))]
    assert max(numbers[::2]) >= wide - 0.01
    assert max(numbers[1::2]) >= high - 0.01


def test_titles_may_hold_anything(tmp_path):
    for title in ('a < b & "c" $x^2$', "幽霊 привет", "x" * 400):
        text = starter_text().replace(
            "The night ferry's ticket hall, where the last purser walks with a lantern", "@"
        )
        plan = plan_of(text.replace('"@"', f"'{title}'"))
        root = ET.fromstring(drawing_svg(plan))
        assert next(root.iter(f"{SVG}title")).text == title
        for ending in ("pdf", "png"):
            draw_plan(plan, tmp_path / f"a.{ending}", overwrite=True)


@pytest.mark.parametrize("turn", [0, 90, -45])
@pytest.mark.parametrize("va", ["middle", "baseline"])
@pytest.mark.parametrize("ha", ["left", "center", "right"])
def test_words_are_painted_into_the_room_that_was_kept(ha, va, turn, tmp_path):
    sheet = PaperSheet((100, 80))
    room = sheet.text(50, 40, "Jagged qp 7/16 in", size_pt=12, ha=ha, va=va, turn=turn)
    write_sheet(sheet, tmp_path / "a.png", title="", words="", overwrite=False)
    with Image.open(tmp_path / "a.png") as picture:
        rows, columns = np.nonzero(np.asarray(picture.convert("L")) < 200)
        per = 25.4 / 150
        left, right = columns.min() * per, (columns.max() + 1) * per
        low, high = 80 - (rows.max() + 1) * per, 80 - rows.min() * per
    assert room.left - 0.35 <= left < right <= room.right + 0.35
    assert room.low - 0.35 <= low < high <= room.high + 0.35
    assert (right - left) * (high - low) > 0.6 * (room.right - room.left) * (room.high - room.low)


def test_same_plan_gives_the_same_bytes(tmp_path):
    for ending in ("svg", "pdf", "png"):
        for name in "ab":
            draw_plan(starter_plan(), tmp_path / f"{name}.{ending}")
        assert (tmp_path / f"a.{ending}").read_bytes() == (tmp_path / f"b.{ending}").read_bytes()


def test_pdf_and_png_have_the_sizes_of_paper(tmp_path):
    draw_plan(starter_plan(), tmp_path / "a.pdf")
    draw_plan(plan_of(INCHES), tmp_path / "b.png")
    page = PdfReader(tmp_path / "a.pdf").pages[0].mediabox
    # ISO 216 A4, lying
    assert [float(n) * 25.4 / 72 for n in page[2:]] == pytest.approx([297, 210], abs=0.01)
    with Image.open(tmp_path / "b.png") as picture:
        # ANSI/ASME Y14.1 size A at 150 pixels to the inch
        assert picture.size == (1275, 1650)
        assert picture.info["dpi"] == pytest.approx((150, 150), abs=0.02)


def test_scales_are_written_as_on_drawings():
    from fractions import Fraction

    assert scale_words(Fraction(2)) == "2:1"
    assert scale_words(Fraction(1)) == "1:1"
    assert scale_words(Fraction(2, 5)) == "1:2.5"


def test_description_tells_the_main_measures():
    words = describe(starter_plan())
    for part in ("150 mm wide", "153 mm behind", "on the left", "baffle 30 mm"):
        assert part in words


def test_existing_file_is_refused_without_overwrite(tmp_path):
    out = tmp_path / "hall.svg"
    out.write_text("mine")
    with pytest.raises(InputError, match="exists already"):
        draw_plan(starter_plan(), out)
    with pytest.raises(InputError, match="not as ghostprep wrote it"):
        draw_plan(starter_plan(), out, overwrite=True)
    assert out.read_text() == "mine"
    out.unlink()
    draw_plan(starter_plan(), out)
    draw_plan(starter_plan(), out, overwrite=True)
    assert "<svg" in out.read_text(encoding="utf-8")
    assert [p.name for p in tmp_path.iterdir()] == ["hall.svg"]


def test_unknown_ending_is_refused_in_one_line(tmp_path, capsys):
    scene = tmp_path / "hall.toml"
    scene.write_text(starter_text(), encoding="utf-8")
    for name in ("hall.jpg", "hall"):
        assert status_of(group, ["plan", str(scene), "--drawing", str(tmp_path / name)]) == 2
        told = capsys.readouterr()
        assert told.out == ""
        assert len(told.err.strip().splitlines()) == 1
        assert ".svg, .pdf or .png" in told.err
    with pytest.raises(InputError, match=r"cannot be written as \.jpg"):
        draw_plan(starter_plan(), tmp_path / "a.jpg")


def test_plan_draws_what_it_prints(tmp_path):
    scene, out = tmp_path / "hall.toml", tmp_path / "hall.svg"
    scene.write_text(starter_text(), encoding="utf-8")
    done = CliRunner().invoke(group, ["plan", str(scene), "--drawing", str(out), "--json"])
    assert done.exit_code == 0
    assert done.stdout.count("\n{") == 0
    assert "Drawing written to" in done.stderr
    assert ET.fromstring(out.read_text(encoding="utf-8")).tag == f"{SVG}svg"


def test_the_picture_is_as_large_in_the_drawing_as_in_the_plans_words():
    """A pane that leans by 60 degrees sets the picture aslant: the eye sees less of its height."""
    box, screen = (
        "[box]\nwidth = 300\nheight = 120\ndepth = 400",
        "[screen]\nwall = 'floor'\ncentre = [0, 3, 150]",
    )
    lit = "raster = [800, 480]\nactive = [154, 86]\n[pane]\nangle = 60"
    plan = make_plan(parse_scene(f"{box}\n{screen}\n{lit}\n"))
    wide, high = re.findall(r"[\d.]+ mm", dict(_ghost(plan))["picture"])
    assert f"picture {wide} x {high}" in next(iter(entries(plan))).words
