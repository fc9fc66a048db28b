"""Where rays meet a rectangle, and bodies by their names."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ghostprep.optics.edges import _trims
from ghostprep.optics.planning import measure
from ghostprep.optics.room import towards
from ghostprep.optics.sightlines import Rectangle
from ghostprep.optics.vectors import vector
from ghostprep.optics.world import MIRROR_BACK, OUT, SCREEN, Sheet

from .boxes import mirror_box

SHEET = Sheet(
    "pane", np.array([(0, 0, 50), (40, 0, 50), (40, 30, 50), (0, 30, 50)], float), vector((0, 0, -1.0))
)


@pytest.mark.parametrize(
    ("x", "y", "hit"),
    [(0, 0, True), (40, 30, True), (0, 30, True), (20, 15, True), (-1e-5, 9, False), (40 + 1e-5, 9, False),
     (9, -1e-5, False), (9, 30 + 1e-5, False)],
)  # fmt: skip
def test_a_rectangle_is_met_up_to_its_edges(x: float, y: float, hit: bool) -> None:
    start, way = np.array([[x, y, -30.0]]), np.array([[0.0, 0.0, 1.0]])
    assert SHEET.meets(start, way)[0] == (pytest.approx(80) if hit else np.inf)
    # from the other side too, and never behind the start
    assert SHEET.meets(start + 100 * way, -way)[0] == (pytest.approx(20) if hit else np.inf)
    assert SHEET.meets(start, -way)[0] == np.inf


def test_a_mirror_image_is_as_far_behind() -> None:
    assert SHEET.centre == pytest.approx([20, 15, 50])
    assert SHEET.image(np.array([1.0, 2.0, 30.0])) == pytest.approx([1, 2, 70])


def test_bodies_are_found_and_left_out_by_name() -> None:
    crate = {"name": "crate", "at": [40, 10, 200], "size": [10, 10, 10]}
    world = measure(mirror_box(thing=[crate, {**crate, "at": [-40, 10, 200]}])).world
    names = [body.name for body in world.bodies]
    (first,), (second,) = world.indices("crate"), world.indices("crate 2")
    assert (names[first], names[second]) == ("crate", "crate 2")
    assert world.indices("crate", "crate 2") == [first, second]
    assert world.indices("player", "nobody") == [names.index("player")]
    rest = world.without("crate", "player")
    assert [body.name for body in rest.bodies] == [n for n in names if n not in {"crate", "player"}]
    assert {body.role for body in world.of_role("thing", "wall").bodies} == {"thing", "wall"}
    assert world.name_of(first) == "crate"
    assert [world.name_of(end) for end in (OUT, SCREEN, MIRROR_BACK)] == [
        "the room before the box",
        "the lit screen",
        "a mirror's back",
    ]


@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize("side", [-1, 1])
def test_the_normal_of_a_face_points_outwards(axis: int, side: int) -> None:
    crate = {"name": "crate", "at": [40, 10, 200], "size": [10, 20, 30], "turn": 30}
    world = measure(mirror_box(thing=[crate])).world
    (place,) = world.indices("crate")
    block = world.bodies[place].block
    point = block.centre + side * block.half[axis] * block.axes[axis] + 2 * block.axes[(axis + 1) % 3]
    assert world.normals_at(np.array([place]), point[None, :])[0] == pytest.approx(side * block.axes[axis])


def test_a_trim_reaches_from_its_side_over_all_that_is_seen() -> None:
    """In an opening of 100 x 80, its sill at 20, an edge shows from 30 to 40 and 50 to 60; by hand."""
    opening, seen = Rectangle(-50, 20, 50, 100), Rectangle(30, 50, 40, 60)
    ghost = Rectangle(-20, 65, 25, 95)
    trims = {trim.side: (trim.width_mm, trim.clear) for trim in _trims(opening, seen, ghost)}
    # the ghost leaves 30 mm free at the left, 25 at the right, 45 below and 5 above
    assert trims == {"left": (90, False), "right": (20, True), "bottom": (40, True), "top": (50, False)}


@given(
    a=st.tuples(*[st.integers(-6, 6)] * 2),
    b=st.tuples(*[st.integers(-6, 6)] * 2),
    spare=st.sampled_from([0.0, 1.5, 4.0]),
)
def test_rectangles_meet_that_are_nearer_than_what_is_to_be_spared(a, b, spare) -> None:
    """By how far one must be moved to the side, or up, to be clear of the other."""
    one, other = (Rectangle(x, y, x + 3, y + 2) for x, y in (a, b))
    across = max(other.left - one.right, one.left - other.right)
    up = max(other.low - one.high, one.low - other.high)
    assert one.meets(other, spare) == (max(across, up) < spare)
    assert one.meets(other) == (across < 0 and up < 0)


def test_ways_stand_in_a_sentence_as_they_are_said() -> None:
    said = [towards(way) for way in ("up", "down", "left", "right", "front", "back")]
    assert said == ["up", "down", "to the left", "to the right", "to the front", "to the back"]
