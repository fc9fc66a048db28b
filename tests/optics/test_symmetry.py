"""A box seen in a mirror is a box: all that is planned for it must be the mirror image, in any scene."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, reject, settings
from hypothesis import strategies as st

from ghostprep.errors import InputError
from ghostprep.optics import Plan, make_plan
from ghostprep.scene import Scene
from ghostprep.scene.model import TOPS

SIDES = {"left": "right", "right": "left"}


def seen_in_a_mirror(tables: dict[str, Any]) -> dict[str, Any]:
    """Return a scene's tables with left and right exchanged."""

    def turned(name: str, value: Any) -> Any:
        if isinstance(value, dict):
            return {key: turned(key, one) for key, one in value.items()}
        if isinstance(value, list) and value and isinstance(value[0], dict):
            return [turned(name, one) for one in value]
        if name in {"at", "centre", "through", "from", "to"} and isinstance(value, list | tuple):
            return [-value[0], *value[1:]]
        if name in {"wall", "top", "faces", "out"} and isinstance(value, str):
            return SIDES.get(value, value)
        return -value if name in {"across", "turn"} else value

    return turned("", tables)


GRAZED: dict[str, Any] = {
    "box": {
        "width": 213,
        "height": 213,
        "depth": 310,
        "opening": {"width": 181, "height": 170, "sill": 5},
    },
    "viewer": {"distance": 300, "across": 1, "sway": [0, 0]},
    "screen": {"wall": "floor", "top": "front", "swivel": 7, "raster": [320, 240], "active": [49.9, 37.4]},
}
"""In its mirror image one single line of sight meets the floor by way of the pane."""

ALIKE: dict[str, Any] = {
    "box": {
        "width": 306,
        "height": 140,
        "depth": 180,
        "opening": {"width": 260, "height": 112, "sill": 5},
    },
    "viewer": {"distance": 324, "across": 0, "sway": [0, 13]},
    "screen": {"wall": "left", "top": "up", "swivel": 0, "raster": [320, 240], "active": [35.0, 26.2]},
    "holder": {"out": "front"},
}
"""An edge of the pane shows as far beyond the opening's lower side as beyond its upper one."""


@st.composite
def boxes(draw: Any) -> dict[str, Any]:
    """Return the tables of a furnished box of any side."""
    width, height, depth = (draw(st.integers(*ends)) for ends in ((120, 320), (110, 300), (180, 420)))
    wall = draw(st.sampled_from(sorted(TOPS)))
    lit = round(draw(st.floats(0.15, 0.45)) * min(width, height, depth), 1)
    things = [
        {
            "name": "counter",
            "at": [draw(st.integers(-width // 3, width // 3)), 0, round(depth * 0.8)],
            "size": [20, 30, 12],
            "turn": draw(st.sampled_from([0, 15, -30])),
        }
    ]
    tables: dict[str, Any] = {
        "box": {
            "width": width,
            "height": height,
            "depth": depth,
            "opening": {"width": round(0.85 * width), "height": round(0.8 * height), "sill": 5},
        },
        "viewer": {
            "distance": draw(st.integers(300, 900)),
            "across": draw(st.integers(-30, 30)),
            "sway": [draw(st.integers(0, 80)), draw(st.integers(0, 40))],
        },
        "screen": {
            "wall": wall,
            "top": draw(st.sampled_from(TOPS[wall])),
            "swivel": draw(st.sampled_from([0, 0, 7, -5])),
            "raster": [320, 240],
            "active": [lit, round(lit * 0.75, 1)],
            "polarisation": draw(st.sampled_from(["unknown", "width", "height"])),
        },
        # left out, the player would come out on the right in either
        "holder": {"out": draw(st.sampled_from(["front", "back"] if wall in SIDES else ["left", "right"]))},
        "thing": things,
        "light": {
            "lamps": [{"at": [round(0.2 * width), round(0.9 * height), round(0.7 * depth)], "lumens": 4}],
            "strips": [
                {
                    "from": [-20, height - 4, depth - 30],
                    "to": [30, height - 4, depth - 30],
                    "lumens": 9,
                    "faces": draw(st.sampled_from(["down", "left"])),
                }
            ],
        },
    }
    if draw(st.booleans()):
        door = {"at": round(width / 2 + 11), "width": round(width * 0.6), "height": round(height * 0.7)}
        tables["divider"] = [{"from": [-width / 2, 40], "to": [width / 2, 48], "doorways": [door]}]
    if draw(st.booleans()):
        tables["mirror"] = [{"from": [10, depth - 2], "to": [50, depth - 6], "height": 60, "sill": 10}]
    return tables


def planned(tables: dict[str, Any]) -> Plan:
    try:
        return make_plan(Scene.model_validate(tables))
    except InputError:
        reject()


def swapped(name: str) -> str:
    return " ".join(SIDES.get(word, word) for word in name.split())


@settings(max_examples=8, deadline=None, suppress_health_check=list(HealthCheck))
@example(tables=GRAZED)
@example(tables=ALIKE)
@given(tables=boxes())
def test_a_plan_of_the_mirrored_box_is_the_mirrored_plan(tables: dict[str, Any]) -> None:
    here, there = planned(tables), planned(seen_in_a_mirror(tables))
    flip = np.array([-1.0, 1.0, 1.0])
    near = {"rel": 1e-6, "abs": 1e-6}
    assert here.layout.ghost * flip == pytest.approx(there.layout.ghost, **near)
    assert here.layout.on_pane * flip == pytest.approx(there.layout.on_pane, **near)
    assert here.layout.pane_normal * flip == pytest.approx(there.layout.pane_normal, **near)
    assert here.layout.image.centre * flip == pytest.approx(there.layout.image.centre, **near)
    assert here.mount.keystone_px == pytest.approx(there.mount.keystone_px, **near)
    assert sorted(here.mount.pitch_mm) == pytest.approx(sorted(there.mount.pitch_mm), **near)
    assert here.mount.mirrored == there.mount.mirrored
    for name in ("height_mm", "height_px", "largest_mm", "fits", "feet_mm"):
        assert getattr(here.figure, name) == pytest.approx(getattr(there.figure, name), **near)
    assert here.pane.needed == pytest.approx(there.pane.needed, **near)
    assert here.pane.cut == pytest.approx(there.pane.cut, abs=1e-6)
    assert here.light.as_dict() == pytest.approx(there.light.as_dict(), **near)
    assert here.light.incidence_deg == pytest.approx(there.light.incidence_deg, **near)
    assert [v.share for v in here.light.veils] == pytest.approx([v.share for v in there.light.veils], **near)
    assert here.doubling.as_dict() == pytest.approx(there.doubling.as_dict(), **near)
    edges = {edge.name: edge for edge in there.sight.edges}
    side = tables["screen"]["wall"] in SIDES
    for edge in here.sight.edges:
        other = edges[edge.name if side else swapped(edge.name)]
        assert (swapped(edge.against), edge.seen, swapped(edge.seen_at)) == (
            other.against,
            other.seen,
            other.seen_at,
        )
        assert edge.from_mm == pytest.approx(other.from_mm, **near)
        if edge.trim is not None:
            assert other.trim is not None
            assert edge.trim.width_mm == pytest.approx(other.trim.width_mm, **near)
            assert edge.trim.clear == other.trim.clear
    a, b = here.sight.baffle, there.sight.baffle
    assert (a is None) == (b is None)
    if a is not None and b is not None:
        assert swapped(a.wall) == b.wall
        for name in ("depth_mm", "reach_mm", "clearance_mm"):
            assert getattr(a, name) == pytest.approx(getattr(b, name), **near)
        # its ends follow lines of sight on a grid
        assert a.high_mm - a.low_mm == pytest.approx(b.high_mm - b.low_mm, abs=0.5)
    names = ("seen_from_everywhere", "screen_hidden", "player_hidden")
    assert [getattr(here.sight, n) for n in names] == [getattr(there.sight, n) for n in names]
    assert {swapped(c.first + " & " + c.second): c.overlap_mm for c in here.collisions} == pytest.approx(
        {c.first + " & " + c.second: c.overlap_mm for c in there.collisions}, **near
    )
    assert sorted((f.level, f.subject) for f in here.findings) == sorted(
        (f.level, swapped(f.subject)) for f in there.findings
    )
