import json
import re
import tomllib

import pytest

from ghostprep.cli import group
from ghostprep.cli.run import status_of
from ghostprep.scene.furniture import Divider, Holder, Mirror
from ghostprep.scene.keys import all_keys
from ghostprep.scene.starter import starter_text


def test_every_key_is_explained() -> None:
    assert [key.path for key in all_keys() if not key.text] == []
    assert len({key.path for key in all_keys()}) == len(all_keys()) > 60


def test_the_keys_of_the_starter_file_are_among_them() -> None:
    known = {key.path for key in all_keys()}
    for table, values in tomllib.loads(starter_text()).items():
        for name in values if isinstance(values, dict) else []:
            assert f"{table}.{name}" in known


def test_what_is_needed_and_what_is_taken() -> None:
    told = {key.path: key for key in all_keys()}
    assert told["box.width"].default == "needed"
    assert told["viewer.distance"].default == "600"
    assert told["[[divider]].doorways.at"].kind == "length"
    assert told["screen.wall"].kind == "left, right, floor, ceiling"
    assert told["viewer.sway"].kind == "[length, length]"


def test_the_command_prints_them_and_writes_nothing(
    tmp_path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert status_of(group, ["scene", "--keys"]) == 0
    assert re.search(r"box\.width +length +needed +Inside", capsys.readouterr().out)
    assert status_of(group, ["scene", "--keys", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["keys"][0]["path"] == "title"
    assert list(tmp_path.iterdir()) == []


def test_what_is_taken_where_a_key_is_left_out() -> None:
    """A contract with every scene file that leaves a key out: another default changes that builder's box."""
    told = {key.path: key.default for key in all_keys()}
    taken = {path: default for path, default in told.items() if re.match(r"[-\d\[]|true|false", default)}
    assert taken == {
        "box.wall": "6", "box.opening.sill": "0", "shelf.cord": "20", "viewer.distance": "600",
        "viewer.across": "0", "viewer.sway": "[150, 60]", "screen.swivel": "0", "screen.mirrored": "false",
        "screen.luminance": "250", "screen.contrast": "500", "pane.thickness": "2", "pane.angle": "45",
        "ghost.figure": "1700", "ghost.feet": "0", "[[divider]].thickness": "3",
        "[[divider]].doorways.sill": "0", "[[mirror]].sill": "0", "[[thing]].turn": "0", "holder.sheet": "3",
        "holder.slack": "0.5", "light.reflectance": "0.3",
    }  # fmt: skip


def test_parts_of_a_script_take_the_same() -> None:
    wall = Divider.model_validate({"from": (0, 9), "to": (9, 9)})
    assert (wall.thickness, wall.height, wall.doorways) == (3.0, None, ())
    assert (Holder().sheet, Holder().slack, Holder().out) == (3.0, 0.5, None)
    assert Mirror.model_validate({"from": (0, 9), "to": (9, 9)}).sill == 0
    assert wall.length == 9
