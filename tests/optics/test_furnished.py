"""A furnished box planned whole: units, remedies, forced perspective, what is impossible."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from ghostprep.optics import make_plan
from ghostprep.optics.advice.scales import seemings
from ghostprep.optics.planning import measure
from ghostprep.scene import Scene, parse_scene

from .boxes import mirror_box

SAMPLE = Path(__file__).parent.parent.parent / "sample_media"


def test_a_furnished_box_is_planned_whole(furnished):
    plan = make_plan(furnished)
    assert [f.text for f in plan.findings if f.level == "fault"] == []
    report = json.loads(json.dumps(plan.as_dict(), allow_nan=False))
    assert report["collisions"] == []
    assert report["sight"]["player_hidden"]
    assert not report["sight"]["screen_in_mirror"]
    assert [t["name"] for t in report["things"]] == ["door", "curtain"]
    assert report["things"][0]["scale"] == pytest.approx(30)
    assert report["shelf"]["fits"]
    # the report's scene is a scene file's values again, and plans alike
    again = measure(Scene.model_validate(report["scene"]))
    assert again.layout.ghost == pytest.approx(plan.layout.ghost)
    assert [b.name for b in again.world.bodies] == [b.name for b in plan.world.bodies]
    assert again.light.scenery == pytest.approx(plan.light.scenery)


def test_the_sample_box_in_inches_and_in_millimetres_gives_the_same():
    text = (SAMPLE / "scene.toml").read_text(encoding="utf-8")
    metric = parse_scene(text)
    inches = parse_scene(in_inches(text))
    assert inches.units == "in"
    first, second = measure(metric), measure(inches)
    for ours, theirs in zip(first.world.bodies, second.world.bodies, strict=True):
        assert ours.name == theirs.name
        assert ours.block.corners() == pytest.approx(theirs.block.corners(), abs=1e-6)
    assert first.layout.image.corners() == pytest.approx(second.layout.image.corners(), abs=1e-6)
    assert first.light.contrast == pytest.approx(second.light.contrast)
    for key in ("seen_from_everywhere", "screen_hidden", "player_hidden", "screen_in_mirror"):
        assert first.sight.as_dict()[key] == second.sight.as_dict()[key]
    # the pane is cut by each builder's own ruler
    assert first.pane.needed == pytest.approx(second.pane.needed, abs=1e-6)
    found = make_plan(inches).findings
    assert [f.text for f in found if f.level == "fault"] == []
    assert not [f for f in found if re.search(r"\d mm\b", f.text + f.remedy)]


def in_inches(text: str) -> str:
    """Return a scene file of millimetres with each length as an inch text."""

    def turned(match):
        return f"{float(match[0]) / 25.4!r}"

    lines = []
    for line in text.splitlines():
        key, _, rest = line.partition("=")
        value = rest.split("#")[0]
        bare = key.strip() in {"raster", "luminance", "contrast", "angle", "scene", "reflectance", "turn"}
        if key.strip() == "scale":
            lines.append('scale = { reference = "85 mm", real = "2040 mm" }')
        elif "=" in line and not line.lstrip().startswith("#") and not bare and '"' not in value:
            lines.append(f"{key}={re.sub(r'-?[0-9]+(?:[.][0-9]+)?', turned, value)}")
        else:
            lines.append(line)
    return "\n".join(lines).replace('units = "mm"', 'units = "in"')


def test_a_remedy_that_brings_a_new_fault_is_not_told():
    """A divider in the ghost's light: each remedy told is tried here again, by its own words."""
    scene = mirror_box(
        divider=[{"from": [-75, 60], "to": [75, 60], "doorways": [{"at": 75, "width": 20, "height": 60}]}]
    )
    plan = make_plan(scene)
    told = next(f for f in plan.findings if f.subject == "divider 1")
    assert told.level == "fault"
    width, height, at, sill = (float(v) for v in re.findall(r"(\d+(?:\.\d+)?) mm", told.remedy)[:4])
    door = [{"at": at, "width": width, "height": height, "sill": sill}]
    assert told.remedy.count("; then also leave pane.size out") == 1
    pane, divider = {"through": [-20, 60, 140]}, {"from": [-75, 60], "to": [75, 60], "doorways": door}
    mended = make_plan(mirror_box(divider=[divider], pane=pane))
    assert mended.sight.seen_from_everywhere or not [b for b in mended.sight.blocked if b.name == "divider 1"]
    assert mended.faults < plan.faults


def test_things_in_each_others_way_are_told_with_a_move_that_helps():
    things = [
        {"name": "crate", "at": [50, 0, 200], "size": [30, 30, 30]},
        {"name": "counter", "at": [40, 0, 205], "size": [30, 30, 30]},
    ]
    plan = make_plan(mirror_box(thing=things))
    assert plan.as_dict()["collisions"] == [["crate", "counter", pytest.approx(20)]]
    told = next(f for f in plan.findings if "into each other" in f.text)
    assert "20 mm into each other" in told.text
    assert "21 mm to the left" in told.remedy
    moved = [things[0], {**things[1], "at": [40 - 21, 0, 205]}]
    assert make_plan(mirror_box(thing=moved)).as_dict()["collisions"] == []


def test_forced_perspective_by_hand():
    """A door 1:24 at 150 mm depth looks (600 + 150) 24 = 18 m away; at 250 mm, to look 34 m away, 1:40."""
    doors = [
        {"name": "near", "at": [40, 0, 150], "size": [34, 85, 3], "real": "2040 mm"},
        {"name": "far", "at": [-40, 0, 250], "size": [30, 60, 3], "real": "2040 mm", "seems": "34 m"},
    ]
    plan = make_plan(mirror_box(thing=doors))
    near, far = seemings(plan)
    assert near.away_mm == pytest.approx(18_000)
    assert far.scale == pytest.approx(34)
    told = next(f for f in plan.findings if f.subject == "far")
    assert told.level == "caution"
    assert told.remedy.startswith("make the far 51 mm high, 1:40; or count on 29 m")
    fitting = [doors[0], {**doors[1], "size": [25, 51, 3]}]
    assert (
        next(f for f in make_plan(mirror_box(thing=fitting)).findings if f.subject == "far").level == "note"
    )
    # the ghost, 70.8 mm tall at 180 mm: beside the far door the eye takes it for 2.94 m
    ghost = plan.figure.height_mm / (600 + plan.layout.ghost[2]) * 850 * 34
    assert far.ghost_mm == pytest.approx(ghost)


def test_an_impossible_box_tells_the_first_cause_once():
    """A player of 2.2 in in a box one inch high: one fault, nothing negative anywhere."""
    text = """
    units = "in"
    [box]
    width = 3
    height = 1
    depth = 9.5
    [screen]
    raster = [320, 240]
    active = [2, 1.5]
    centre = [-1.2, 0.9, 4]
    body = [2.2, 1.7, 0.4]
    top = "front"
    """
    plan = make_plan(parse_scene(text))
    (fault,) = [f for f in plan.findings if f.level == "fault"]
    assert "between floor and ceiling, where there are 1 in" in fault.text
    assert min(plan.pane.cut) > 0
    assert not re.search(r"-\d", json.dumps(plan.as_dict()["pane"]["cut"]))


@pytest.mark.parametrize(("high", "level"), [(133, "fault"), (125, "caution")])
def test_a_player_taller_than_the_box_has_no_room_wherever_it_is_set(high, level):
    """Set on the floor it meets the ceiling alone; a recess there is no deeper than the wall of 6 mm."""
    text = f"""
    [box]
    width = 80
    height = 120
    depth = 100
    wall = 6
    [screen]
    raster = [240, 320]
    active = [50, 90]
    body = [60, {high}, 9]
    centre = [-30, {high / 2}, 45]
    """
    found = [
        f for f in make_plan(parse_scene(text)).findings if f.subject == "player" and "ceiling" in f.text
    ]
    assert found[0].level == level


def test_a_door_that_would_be_higher_than_the_box_is_no_remedy():
    """At 5 m its scale would be 1:5.9, 346 mm in a box of 120."""
    door = {"name": "far", "at": [-40, 0, 250], "size": [30, 60, 3], "real": "2040 mm", "seems": "5 m"}
    plan = make_plan(mirror_box(thing=[door]))
    told = next(f for f in plan.findings if f.subject == "far" and "wished" in f.text)
    assert told.remedy == "count on 29 m (thing.seems)"
