"""What is asked of a preview: the right picture for every mount, a report to be believed or not, refusals."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from ghostprep.digest import sha256_of
from ghostprep.errors import InputError
from ghostprep.eye.backdrop import find_backdrop
from ghostprep.eye.preview import Ask, write_page, write_still
from ghostprep.eye.report import read_report
from ghostprep.eye.stage import stage_of
from ghostprep.eye.view import EyeView
from ghostprep.eye.window import whole_window


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
@pytest.mark.parametrize("reflections", [0, 1, 2])
def test_without_a_scene_every_orientation_is_shown_upright(reflections: int, turn: int) -> None:
    from ghostprep.picture.place import Orientation

    orientation = Orientation.of(reflections, turn)
    setting = find_backdrop(
        Path("x.mp4"), (320, 240), None, {"recipe": {"reflections": reflections, "turn": turn}}
    )
    assert setting.assumed
    assert setting.orientation == orientation
    wide, high = orientation.picture_size((320, 240))
    upright = np.zeros((high, wide, 3), np.uint8)
    upright[: high // 2, : wide // 2] = (255, 0, 0)  # red at the top left
    upright[high // 2 :, : wide // 2] = (0, 255, 0)  # green below it
    frame = np.ascontiguousarray(orientation.apply(upright))
    stage = stage_of(setting.plan, card=False)
    image = setting.plan.layout.image
    view = EyeView(replace(stage, room_lux=0.0), whole_window(setting.plan, 300), setting.plan.layout.eye)
    added = view.luminance(frame) - view.luminance(np.zeros_like(frame))
    for colour, (u, v) in {0: (0.25, 0.25), 1: (0.25, 0.75)}.items():
        corners = view.window.project(view.eye, image.corners())
        low, top = corners.min(axis=0), corners.max(axis=0)
        x, y = (low + (top - low) * (u, v)).round().astype(int)
        assert added[y, x].argmax() == colour
        assert added[y, x, colour] > 5


def test_one_repeat_of_a_file_full_of_repeats_is_shown(folder: Path, write_loop, numbered) -> None:
    write_loop(folder / "thrice.mp4", numbered(10) * 3)
    report = {"output": {"frames": 30, "sha256": sha256_of(folder / "thrice.mp4")}, "loop": {"frames": 10}}
    (folder / "thrice.json").write_text(json.dumps(report))
    assert write_page(Ask(loop=folder / "thrice.mp4"), folder / "thrice.html").frames == 10
    assert "30 with its repeats" in (folder / "thrice.html").read_text()


@pytest.mark.parametrize(
    "report",
    ["[1, 2", "[]", '{"output": {"sha256": "00"}}', '{"output": 5}', '{"loop": {"frames": 7}, "proofs": 3}'],
)
def test_a_report_of_another_file_is_not_believed(folder: Path, report: str) -> None:
    loop = folder / "plain.mp4"
    loop.write_bytes((folder / "loop.mp4").read_bytes())
    loop.with_suffix(".json").write_text(report)
    found, trouble = read_report(loop)
    assert found == {}
    assert trouble.startswith("plain.json")
    made = write_page(Ask(loop=loop, overwrite=True), folder / "plain.html")
    assert trouble in made.path.read_text()


def test_a_spoilt_report_with_the_right_sum_does_no_harm(folder: Path) -> None:
    loop = folder / "spoilt.mp4"
    loop.write_bytes((folder / "loop.mp4").read_bytes())
    report = {
        "output": {"sha256": sha256_of(loop), "frames": "x"},
        "loop": {"frames": -3, "join_steps": [9e9, "a"]},
    }
    report |= {
        "proofs": [{"name": 1}],
        "findings": ["x", {"level": "shout"}],
        "recipe": 3,
        "scene": {"scale": {}},
    }
    loop.with_suffix(".json").write_text(json.dumps(report))
    assert write_page(Ask(loop=loop), folder / "spoilt.html").frames == 45


def test_a_still_picture(folder: Path) -> None:
    shown = write_still(Ask(loop=folder / "loop.mp4", scene=folder / "hall.toml"), folder / "still.png")
    picture = cv2.imread(str(shown.path))
    assert picture.shape[0] == 800
    assert picture.std() > 20


def test_refusals(folder: Path) -> None:
    loop = folder / "loop.mp4"
    with pytest.raises(InputError, match="end it in"):
        write_still(Ask(loop=loop), folder / "still.txt")
    with pytest.raises(InputError, match=r"page.png: is no page that a browser opens; end it in \.html"):
        write_page(Ask(loop=loop), folder / "page.png")
    assert not (folder / "page.png").exists()
    theirs = folder / "theirs.html"
    theirs.write_text("a page of somebody else", encoding="utf-8")
    with pytest.raises(InputError, match="exists already"):
        write_page(Ask(loop=loop), theirs)
    with pytest.raises(InputError, match="--corners"):
        Ask(loop=loop, corners=((0, 0), (1, 0), (1, 1), (0, 1)))
    other = folder / "other.toml"
    other.write_text((folder / "hall.toml").read_text().replace("[320, 240]", "[480, 320]"))
    with pytest.raises(InputError, match="the loop has 320x240"):
        write_page(Ask(loop=loop, scene=other), folder / "x.html")
    assert not (folder / "x.html").exists()
