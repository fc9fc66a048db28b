"""Scenes as a remedy changes them: the one thing that it names, and nothing else."""

from __future__ import annotations

import pytest

from ghostprep.optics import changes
from ghostprep.optics.bodies import thing_block
from ghostprep.optics.sightlines import eye_corners


@pytest.mark.parametrize(
    ("side", "low", "high"),
    [
        ("left", (-100, 0), (-88, 300)),
        ("right", (88, 0), (100, 300)),
        ("bottom", (-150, 0), (150, 52)),
        ("top", (-150, 208), (150, 300)),
    ],
)
def test_a_curtain_hides_a_strip_along_one_side_of_the_opening(make_scene, side, low, high):
    """12 mm wide, beside an opening from -100 to 100 and from 40 to 220 in a box of 300 x 300."""
    opening = {"width": 200, "height": 180, "sill": 40}
    scene = make_scene(
        box={"width": 300, "height": 300, "depth": 400, "wall": 6, "opening": opening},
        thing=[{"name": "crate", "at": (0, 0, 300), "size": (10, 10, 10)}],
    )
    made = changes.with_curtain(scene, side, 12.0)
    assert made.thing[:1] == scene.thing
    corners = thing_block(made.thing[1]).corners()
    assert corners.min(axis=0) == pytest.approx([*low, 0])
    assert corners.max(axis=0) == pytest.approx([*high, 1])
    assert made.model_copy(update={"thing": scene.thing}) == scene


def test_dividers_and_things_change_alone(make_scene):
    dividers = [
        {"from": [-150, 40], "to": [150, 60], "doorways": [{"at": 50, "width": 20, "height": 30}]},
        {"from": [-150, 200], "to": [0, 200]},
    ]
    things = [{"name": n, "at": (x, 0, 300), "size": (10, 10, 10)} for n, x in (("crate", 0), ("chest", 50))]
    scene = make_scene(divider=dividers, thing=things)
    moved = changes.with_divider_moved(scene, 2, 15.0)
    assert moved.divider[0] == scene.divider[0]
    assert (moved.divider[1].start, moved.divider[1].end) == ((-150, 215), (0, 215))
    away = changes.with_thing(scene, 1, (-3.0, 4.0, 5.0))
    assert away.thing[0] == scene.thing[0]
    assert away.thing[1].at == (47, 4, 305)
    assert changes.with_keys(scene, "holder", out="up").holder.out == "up"


def test_the_eye_moves_over_a_rectangle(make_scene):
    scene = make_scene(viewer={"distance": 700, "height": 140, "across": 10, "sway": [60, 30]})
    assert sorted(map(tuple, eye_corners(scene))) == [
        (-50, 110, -700),
        (-50, 170, -700),
        (70, 110, -700),
        (70, 170, -700),
    ]
