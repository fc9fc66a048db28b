"""Whatever is wrong with a scene file becomes one line that names key and line."""

from __future__ import annotations

import re

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.cli import group
from ghostprep.cli.run import status_of
from ghostprep.errors import InputError
from ghostprep.optics import make_plan
from ghostprep.scene import load_scene, parse_scene
from ghostprep.scene.starter import starter_text

# what replaces what in the starter file; the key and what the line says
WRONG = [
    ("width = 150", "widht = 150", "box.widht", "did you mean width?"),
    ("[viewer]", "[veiwer]", "veiwer", "did you mean viewer?"),
    ("width = 138", "widht = 138", "box.opening.widht", "did you mean width?"),
    ("depth = 260", "length = 260", "shelf.length", "depth"),
    ('units = "mm"', 'units = "yards"', "units", "'mm', 'cm' or 'in'"),
    ("width = 150", 'width = "150 furlongs"', "box.width", "unknown unit 'furlongs'"),
    ("width = 150", 'width = "150"', "box.width", "not a length"),
    ("width = 150", "width = -150", "box.width", "-150, but must be above 0"),
    ("width = 150", "width = nan", "box.width", "finite"),
    ("depth = 200", "depth = inf", "box.depth", "finite"),
    ("depth = 200", "depth = 1" + "0" * 400, "box.depth", "finite"),
    ("depth = 200", 'depth = "1' + "0" * 400 + ' mm"', "box.depth", "finite"),
    ("luminance = 250", "luminance = 1" + "0" * 400, "screen.luminance", "finite"),
    ('scale = "1:24"', 'scale = "1:' + "9" * 400 + '"', "scale", "between 1:1 and 1:1000"),
    ("depth = 200", "depth = true", "box.depth", "must be a length"),
    ("depth = 200", "", "box.depth", "is needed"),
    ("depth = 200", 'depth = "200 m"', "box.depth", "check the unit"),
    ("raster = [320, 240]", "raster = [320.5, 240]", "screen.raster", "whole number"),
    ("raster = [320, 240]", "raster = [320]", "screen.raster", "is needed|too few"),
    ("raster = [320, 240]", "raster = [320, 240, 3]", "screen.raster", "too many"),
    ("raster = [320, 240]", "raster = [320, 4]", "screen.raster", "must be 16 or more"),
    ("raster = [320, 240]", 'raster = "320x240"', "screen.raster", "list of values"),
    ("active = [81.6, 61.2]", "active = [81.6, -61.2]", "screen.active", "above 0"),
    ("body = [98, 76, 12]", "body = [76, 98, 12]", "screen.body", "smaller than the lit area"),
    ('wall = "left"', 'wall = "back"', "screen.wall", "'left', 'right', 'floor' or 'ceiling'"),
    ('top = "front"', 'top = "left"', "screen.top", "up, down, front, back"),
    ("swivel = 0", "swivel = nan", "screen.swivel", "finite"),
    ("swivel = 0", 'swivel = "10 degrees"', "screen.swivel", "number"),
    ("contrast = 500", "contrast = 0", "screen.contrast", "above 1"),
    ('polarisation = "unknown"', 'polarisation = "both"', "screen.polarisation", "'width'"),
    ('material = "acrylic"', 'material = "cling film"', "pane.material", "'acrylic'"),
    ("thickness = 2", "thickness = 0", "pane.thickness", "above 0"),
    ("angle = 45", "angle = 95", "pane.angle", "below 90"),
    ("reflectance = 0.3", "reflectance = 30", "light.reflectance", "1 or less"),
    ("scene = 5", "scene = 0", "light.scene", "above 0"),
    ('scale = "1:24"', 'scale = "24"', "scale", "not a scale"),
    ("sway = [80, 40]", "sway = [-80, 40]", "viewer.sway", "0 or more"),
    ("distance = 600", "distance = 0", "viewer.distance", "above 0"),
    ("sill = 8", "sill = 80", "box.opening", "reach above the box"),
    ("width = 138", "width = 238", "box.opening", "wider than the box"),
    ("centre = [-63, 54, 90]", "centre = [-163, 54, 90]", "screen.centre", "outside the box"),
    ("# through = [-31.5, 54, 121.5]", "through = [-31.5, 54, 321.5]", "pane.through", "outside the box"),
    ("# at = [0, 54, 153]", "at = [0, 54, -153]", "ghost.at", "before the opening"),
    # these need the optics
    ("# at = [0, 54, 153]", "at = [-63, 54, 90]", "ghost.at", "at the screen itself"),
    ("# at = [0, 54, 153]", "at = [20, 54, 60]", "ghost.at", "no pane can put it"),
    ("# through = [-31.5, 54, 121.5]", "through = [-63, 54, 90]", "pane.through", "at the screen"),
    ("# through = [-31.5, 54, 121.5]", "through = [-63, 54, 20]", "pane.through", "behind the pane"),
    ("swivel = 0", "swivel = 60", "screen.swivel", "faces away"),
    ('wall = "left"', 'wall = "right"', "screen", "faces away|beyond the place"),
]


def line_of(text, new):
    return next(i for i, line in enumerate(text.splitlines(), 1) if line.startswith(new) or new in line)


@pytest.mark.parametrize(("old", "new", "key", "says"), WRONG, ids=[f"{w[2]}: {w[1][:30]}" for w in WRONG])
def test_each_wrong_file_gives_one_line_with_key_and_line(tmp_path, capsys, old, new, key, says):
    text = starter_text()
    assert text.count(old) >= 1
    text = text.replace(old, new, 1)
    file = tmp_path / "hall.toml"
    file.write_text(text, encoding="utf-8")
    assert status_of(group, ["plan", str(file)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    lines = said.err.splitlines()
    assert len(lines) == 1, lines
    assert re.match(rf"ghostprep: .*hall\.toml, line \d+, {re.escape(key)}[\w.]*: ", lines[0]), lines[0]
    assert re.search(says, lines[0]), lines[0]
    number = int(re.search(r", line (\d+),", lines[0])[1])
    if new and key not in {"screen", "box.opening"}:
        assert number == line_of(text, new), lines[0]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (b"width = ", "line 1: is not valid TOML|last line: is not valid TOML"),
        (b"[box\nwidth = 3", "not valid TOML"),
        (b"[box]\nwidth = 3\nwidth = 4\n", "line 3: is not valid TOML"),
        (b"\xff\xfe\x00", "not a UTF-8 text"),
        (b"", "box: is needed"),
        (b"[box]\nwidth = 1" + b"0" * 5000, "not valid TOML"),
        (b"box = 3\n[screen]\n", "line 1, box: must be a table"),
    ],
)
def test_what_is_no_scene_file_is_told(tmp_path, text, says):
    file = tmp_path / "scene.toml"
    file.write_bytes(text)
    with pytest.raises(InputError, match=says):
        load_scene(file)


def test_missing_folder_and_huge_files_are_told(tmp_path):
    with pytest.raises(InputError, match="cannot be read"):
        load_scene(tmp_path / "none.toml")
    with pytest.raises(InputError, match="cannot be read"):
        load_scene(tmp_path)
    large = tmp_path / "large.toml"
    large.write_bytes(b"#" * 1_000_001)
    with pytest.raises(InputError, match="too large"):
        load_scene(large)


def test_a_byte_order_mark_is_no_fault(tmp_path):
    file = tmp_path / "scene.toml"
    file.write_text(starter_text(), encoding="utf-8-sig")
    assert load_scene(file).box.width == 150


@settings(deadline=None, max_examples=150)
@given(
    line=st.integers(0, 70),
    junk=st.text(st.characters(codec="utf-8", exclude_characters="\r\x85"), max_size=30)
    | st.sampled_from(
        ["x = nan", "[box]", "centre = [1]", "at = 3", '"', "lamps = 3", "lamps = [{}]", "[[pane]]"]
    ),
)
def test_damaged_files_never_end_in_a_traceback(line, junk):
    lines = starter_text().splitlines()
    lines[line % len(lines)] = junk
    try:
        make_plan(parse_scene("\n".join(lines), "damaged.toml"))
    except InputError:
        return


def test_line_of_keys_in_every_writing():
    text = "\n".join(
        [
            "box.width = 300",
            'box."height" = 300',
            "[box.opening]",
            "width = 3000",
            "height = 20",
        ]
    )
    with pytest.raises(InputError, match=r"f\.toml, line 1, box\.depth: is needed"):
        parse_scene(text, "f.toml")
    text = (
        'title = """\\\nbox = 3 # [x]"""\n[light]\nlamps = [\n  { at = [0, 1, 2], lumens = LUMENS },\n'
        "]\nscene = SCENE\n[box]\nwidth=3\nheight=3\ndepth=3\n[screen]\nraster=[32,32]\nactive=[1,1]"
    )
    with pytest.raises(InputError, match=r"^line 7, light\.scene"):
        parse_scene(text.replace("LUMENS", "3").replace("SCENE", "-2"))
    with pytest.raises(InputError, match=r"^line 4, light\.lamps 1\.lumens"):
        parse_scene(text.replace("LUMENS", "-3").replace("SCENE", "2"))


def test_scene_writes_whole_and_never_over_another_file(tmp_path):
    runner = CliRunner()
    file = tmp_path / "hall.toml"
    assert runner.invoke(group, ["scene", str(file)]).exit_code == 0
    assert file.read_text(encoding="utf-8").startswith(starter_text())
    again = runner.invoke(group, ["scene", str(file)])
    assert isinstance(again.exception, InputError)
    assert "exists already" in str(again.exception)
    assert runner.invoke(group, ["scene", str(file), "--overwrite"]).exit_code == 0
    assert [p.name for p in tmp_path.iterdir()] == ["hall.toml"]


@pytest.mark.parametrize(
    ("added", "says"),
    [
        ("[[thing]]\nname = 'a'\nat = [0, 0, 1]\n", r"line 4, thing 1\.size: is needed"),
        ("[[thing]]\nname = ''\n", r"line 5, thing 1\.name: is empty"),
        (f"[[thing]]\nname = '{'long' * 16}'\n", r"line 5, thing 1\.name: is too long: it takes 60 letters"),
        ("[[divider]]\nfrom = [0, 1]\nto = [0, 1]\n", r"divider 1\.to: is the same point as `from`"),
        (
            "[[divider]]\nfrom = [0, 1]\nto = [0, 9]\ndoorways = [ { at = 1, width = 4, height = 3 } ]\n",
            r"line 7, divider 1\.doorways: one reaches beyond the divider's end",
        ),
        (
            "[[divider]]\nfrom = [0, 1]\nto = [0, 9]\ndoorways = [ { at = 3, width = 4, height = 3 }, "
            "{ at = 4, width = 4, height = 3 } ]\n",
            "two of them overlap",
        ),
        ("[divider]\nfrom = [0, 1]\n", r"divider: is a list of tables; write \[\[divider\]\]"),
        (
            "[[mirror]]\nfrom = [0, 1]\nto = [5, 1]\n[[mirror]]\nfrom = [0, 1]\nto = [5, 1]\nsil = 3\n",
            r"line 10, mirror 2\.sil: is not a known key; did you mean sill",
        ),
        ("[holder]\nout = 'sideways'\n", r"holder\.out: is 'sideways', but must be one of"),
        ("[pane]\nthickness = 3\n", r"pane\.thickness: is 3 in, but no pane is thicker than 1 3/16 in"),
        ("[light]\nstrips = [ { from = [0, 1, 2], lumens = 3 } ]\n", r"light\.strips 1\.to: is needed"),
    ],
)
def test_what_stands_in_the_box_is_checked_with_its_line(added, says):
    head = 'units = "in"\nbox = { width = 6, height = 5, depth = 8 }\n'
    screen = "screen = { raster = [320, 240], active = [2, 1.5] }\n"
    with pytest.raises(InputError, match=says):
        parse_scene(head + screen + added, "f.toml")
