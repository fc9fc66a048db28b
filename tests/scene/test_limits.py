"""A limit itself is allowed, and the next value beyond it is not; keys are found wherever they stand."""

from __future__ import annotations

import re
import tomllib

import pytest

from ghostprep.errors import InputError
from ghostprep.scene import load_scene, parse_scale, parse_scene
from ghostprep.scene.ask import DOOR, QUESTIONS, answers_to_values
from ghostprep.scene.keys import all_keys
from ghostprep.scene.lengths import parse_length, rounded_up
from ghostprep.scene.lines import find_lines
from ghostprep.scene.model import INDEX
from ghostprep.scene.starter import filled_text, solved_values, starter_text

BARE = """
[box]
width = 150
height = 130
depth = 200
{box}
[screen]
raster = [320, 240]
active = [48, 36]
{screen}
"""


def scene_of(box: str = "", screen: str = "", more: str = ""):
    return parse_scene(BARE.format(box=box, screen=screen) + more, "f.toml")


DIVIDER = "[[divider]]\nfrom = [-75, 40]\nto = [{end}, 40]\n"


@pytest.mark.parametrize(
    ("inside", "beyond", "says"),
    [
        (
            {"box": "opening = { width = 150, height = 130 }"},
            {"box": "opening = { width = 150.01, height = 130 }"},
            "wider than the box",
        ),
        (
            {"box": "opening = { width = 100, height = 90, sill = 40 }"},
            {"box": "opening = { width = 100, height = 90, sill = 40.01 }"},
            "reach above the box",
        ),
        ({"screen": "centre = [-75, 0, 0]"}, {"screen": "centre = [-75.01, 0, 0]"}, "x runs from -75 mm to"),
        ({"screen": "centre = [75, 130, 200]"}, {"screen": "centre = [75.01, 1, 1]"}, "outside the box: x"),
        ({"screen": "centre = [0, 130, 9]"}, {"screen": "centre = [0, 130.01, 9]"}, "y runs from 0 mm to"),
        ({"screen": "centre = [0, 9, 200]"}, {"screen": "centre = [0, 9, 200.01]"}, "z runs from 0 mm to"),
        ({"more": "[ghost]\nat = [0, 9, 0.01]"}, {"more": "[ghost]\nat = [0, 9, 0]"}, "before the opening"),
        ({"screen": "body = [48, 36, 1]"}, {"screen": "body = [47.9, 36, 1]"}, "smaller than the lit area"),
        ({"screen": "body = [48, 36, 1]"}, {"screen": "body = [48, 35.9, 1]"}, "smaller than the lit area"),
        ({"more": "[pane]\nthickness = 30"}, {"more": "[pane]\nthickness = 30.01"}, "is thicker than 30 mm"),
        ({"more": "[pane]\nindex = 3"}, {"more": "[pane]\nindex = 3.01"}, "3 or less"),
        ({"more": "[pane]\nindex = 1.01"}, {"more": "[pane]\nindex = 1"}, "above 1"),
        ({"more": "[pane]\nangle = 89.9"}, {"more": "[pane]\nangle = 90"}, "below 90"),
        ({"screen": "swivel = 79.9"}, {"screen": "swivel = 80"}, "below 80"),
        ({"screen": "swivel = -79.9"}, {"screen": "swivel = -80"}, "above -80"),
        ({"screen": "luminance = 100000"}, {"screen": "luminance = 100001"}, "100000 or less"),
        ({"screen": "contrast = 1.01"}, {"screen": "contrast = 1"}, "above 1"),
        ({"more": "[light]\nscene = 100000"}, {"more": "[light]\nscene = 100001"}, "100000 or less"),
        ({"more": "[light]\nreflectance = 1"}, {"more": "[light]\nreflectance = 1.01"}, "1 or less"),
        (
            {"more": "[light]\nlamps = [{ at = [0, 1, 2], lumens = 100000 }]"},
            {"more": "[light]\nlamps = [{ at = [0, 1, 2], lumens = 100001 }]"},
            "100000 or less",
        ),
        (
            {"more": "[light]\nstrips = [{ from = [0, 1, 2], to = [0, 3, 2], lumens = 100000 }]"},
            {"more": "[light]\nstrips = [{ from = [0, 1, 2], to = [0, 3, 2], lumens = 100001 }]"},
            "100000 or less",
        ),
        ({"more": DIVIDER.format(end=-74)}, {"more": DIVIDER.format(end=-74.01)}, "same point as `from`"),
        (
            {"more": DIVIDER.format(end=75) + "doorways = [{ at = 20, width = 40, height = 9 }]"},
            {"more": DIVIDER.format(end=75) + "doorways = [{ at = 20, width = 40.1, height = 9 }]"},
            "beyond the divider's end",
        ),
        (
            {"more": DIVIDER.format(end=75) + "doorways = [{ at = 130, width = 40, height = 9 }]"},
            {"more": DIVIDER.format(end=75) + "doorways = [{ at = 130, width = 40.1, height = 9 }]"},
            "beyond the divider's end",
        ),
        (
            {
                "more": DIVIDER.format(end=75)
                + "doorways = [{ at = 90, width = 20, height = 9 }, { at = 70, width = 20, height = 9 }]"
            },
            {
                "more": DIVIDER.format(end=75)
                + "doorways = [{ at = 90, width = 20, height = 9 }, { at = 70.1, width = 20, height = 9 }]"
            },
            "two of them overlap",
        ),
        (
            {"more": f"[[thing]]\nat = [0, 0, 9]\nsize = [1, 1, 1]\nname = '{'n' * 60}'"},
            {"more": f"[[thing]]\nat = [0, 0, 9]\nsize = [1, 1, 1]\nname = '{'n' * 61}'"},
            "60",
        ),
        ({"more": "[shelf]\ndepth = 20000"}, {"more": "[shelf]\ndepth = 20000.1"}, "is 20 m, which"),
    ],
)  # fmt: skip
def test_a_limit_is_allowed_and_what_lies_beyond_it_is_not(inside, beyond, says):
    scene_of(**inside)
    with pytest.raises(InputError, match=re.compile(says)):
        scene_of(**beyond)


def test_rasters_from_16_to_8192_pixels():
    for raster, fits in (((16, 8192), True), ((15, 8192), False), ((16, 8193), False)):
        text = BARE.format(box="", screen="").replace("[320, 240]", f"[{raster[0]}, {raster[1]}]")
        if fits:
            assert parse_scene(text).screen.raster == raster
        else:
            with pytest.raises(InputError, match=r"screen\.raster"):
                parse_scene(text)


def test_a_file_of_a_million_bytes_is_read_and_one_more_is_not(tmp_path):
    file = tmp_path / "long.toml"
    text = BARE.format(box="", screen="").encode()
    for size, fits in ((1_000_000, True), (1_000_001, False)):
        file.write_bytes(text + b"#" * (size - len(text)))
        if fits:
            assert load_scene(file).box.width == 150
        else:
            with pytest.raises(InputError, match="too large"):
                load_scene(file)


@pytest.mark.parametrize(
    ("ratio", "fits"), [("1:1", True), ("1:0.99", False), ("1:1000", True), ("1:1000.1", False)]
)
def test_scales_from_life_size_to_a_thousandth(ratio, fits):
    if fits:
        assert parse_scale(ratio).at(0) == pytest.approx(1 / float(ratio[2:]))
    else:
        with pytest.raises(ValueError, match="between 1:1 and 1:1000"):
            parse_scale(ratio)


def test_a_reference_of_no_length_is_no_reference():
    for table in ({"reference": 0, "real": 9}, {"reference": 9, "real": 0}):
        with pytest.raises(ValueError, match="above 0"):
            parse_scale(table)


def test_a_reference_that_ends_at_the_opening_counts_from_there():
    # straight lines that meet: 80 mm at the opening and 40 mm at 100 mm leave nothing at 200 mm
    scale = parse_scale(
        [{"reference": 40, "real": 2000, "depth": 100}, {"reference": 80, "real": 2000, "depth": 0}]
    )
    assert scale.near.depth_mm == 0
    assert [2000 * scale.at(z) for z in (0, 50, 199)] == pytest.approx([80, 60, 0.4])
    with pytest.raises(ValueError, match="shrink to nothing before 200 mm"):
        scale.at(200)


def test_a_length_to_cut_that_is_whole_already_stays():
    assert rounded_up(8.0, "mm") == 8.0
    assert rounded_up(8.001, "mm") == 9.0
    assert rounded_up(3 * 25.4 / 16, "in") == pytest.approx(3 * 25.4 / 16)


def test_known_figures_of_trade_and_standard():
    # Sultanova et al. 2009 for the plastics, Rubin 1985 for glass; doors: DIN 18101, US leaf of 80 in
    assert INDEX == {"acrylic": 1.49, "glass": 1.52, "polycarbonate": 1.586}
    assert [parse_length(DOOR[unit]) for unit in ("mm", "cm", "in")] == [2030, 2030, 2032]


def test_the_body_that_is_taken_leaves_a_rim_of_6_mm():
    body = scene_of().screen.body
    assert body == (60, 48, 9)


def test_the_eye_is_level_with_the_middle_of_the_opening():
    scene = scene_of(box="opening = { width = 100, height = 90, sill = 20 }")
    assert scene.eye == (0, 65, -600)
    assert scene_of(more="[viewer]\nheight = 0\nacross = -5\ndistance = 400").eye == (-5, 0, -400)


@pytest.mark.parametrize(
    ("opening", "is_open"),
    [((150, 130), True), ((149, 130), False), ((150, 129), False), ((149, 129), False)],
)
def test_a_front_is_open_only_where_nothing_of_it_is_left(opening, is_open):
    scene = scene_of(box=f"opening = {{ width = {opening[0]}, height = {opening[1]} }}")
    assert scene.box.open_front == is_open


def test_lines_of_keys_in_nested_lists_strings_and_dotted_names():
    text = '\n'.join([
        'a = [ # [',                 # 1
        '  "]", \'}\',',
        ']',
        'b.c."d e" = { f = [1, 2] }',  # 4
        "t = '''",                     # 5
        "x = 1",
        "''' # [",
        '[[list]]',                    # 8
        'y = """one""" # [',           # 9
        '[[list]]  # again',           # 10
        'y = 2',
        '[list.inner]',                # 12
    ])  # fmt: skip
    lines = find_lines(text, "f").lines
    assert lines == {
        ("a",): 1, ("b",): 4, ("b", "c"): 4, ("b", "c", "d e"): 4, ("t",): 5, ("list",): 8, ("list", "0"): 8,
        ("list", "0", "y"): 9, ("list", "1"): 10, ("list", "1", "y"): 11, ("list", "inner"): 12,
    }  # fmt: skip


@pytest.mark.parametrize(
    "line",
    [
        'a = 1 # """', "a = 1 # it is ''' here", "# \"\"\" a remark", 'a = "#" # """', "a = '\"\"\"'",
        'a = """one # two"""', "a = '''it's # [''' # [", 'a = """# [\ny = 2\n# """ # [', 'a = "" # \'\'\'',
    ],
)  # fmt: skip
def test_only_quotes_outside_comments_and_strings_open_a_string(line):
    last = line.count("\n") + 2
    assert find_lines(line + "\nlast = 1", "f").lines[("last",)] == last
    assert set(tomllib.loads(line + "\nlast = 1")) <= {"a", "last"}


def test_what_was_measured_stands_in_the_file_in_its_own_unit():
    answers: dict[str, object] = {}
    for question in QUESTIONS:
        answers[question.key] = question.read(
            {"units": "in", "screen.wall": "ceiling"}.get(question.key, question.usual_text(answers)), answers
        )
    values = answers_to_values(answers)
    scene = parse_scene(filled_text(values))
    out, deep = (parse_length(answers[f"lit.{what}"], "in") for what in ("out", "deep"))
    assert scene.screen.centre == pytest.approx((0, scene.box.height - out, deep), abs=2e-3)
    assert not {key for key in values if key.startswith(("lit.", "box.opening."))}
    assert values["viewer.sway"] == [answers["viewer.sway.0"], answers["viewer.sway.1"]]


def test_dividers_that_a_search_moved_are_written_whole():
    before = scene_of(
        more=DIVIDER.format(end=75) + "height = 90\ndoorways = [{ at = 20, width = 40, height = 9 }]"
    )
    moved = before.model_copy(
        update={"divider": (before.divider[0].model_copy(update={"start": (-75.0, 33.0)}),)}
    )
    found = solved_values(before, moved)
    assert found["divider"] == [
        {"from": [-75, 33], "to": [75, 40], "thickness": 3, "height": 90,
         "doorways": [{"at": 20, "width": 40, "height": 9, "sill": 0}]}
    ]  # fmt: skip
    again = parse_scene(filled_text({"divider": found["divider"]}, starter_text()))
    assert again.divider == moved.divider
    whole = before.model_copy(
        update={"divider": (moved.divider[0].model_copy(update={"height": None, "doorways": ()}),)}
    )
    assert set(solved_values(before, whole)["divider"][0]) == {"from", "to", "thickness"}


def test_kinds_and_defaults_are_told_as_they_are_written():
    told = {key.path: (key.kind, key.default) for key in all_keys()}
    assert told["screen.raster"] == ("[pixels, pixels]", "needed")
    assert told["scale"] == ("scale", "computed")
    assert told["pane.index"] == ("number", "computed")
    assert told["screen.mirrored"] == ("true, false", "false")
    assert told["[[thing]].real"] == ("length", "none")
    assert told["units"] == ("mm, cm, in", "mm")
    assert told["player.profile"] == ("text", "h264-baseline-qvga")
    assert told["title"] == ("text", "none")
    assert told["[[divider]].doorways"] == ("list of tables", "none")
    assert told["light.lamps"] == ("list of tables", "none")
    assert "box" not in told
    assert "shelf" not in told


def test_nothing_in_a_scene_changes_once_it_is_read():
    scene = scene_of()
    for table, key in ((scene, "title"), (scene.box, "width"), (scene.screen, "top")):
        with pytest.raises(ValueError, match="frozen"):
            setattr(table, key, getattr(table, key))
