"""The board and the player's room on each wall, by hand: as on the left, seen from another side."""

from __future__ import annotations

import pytest

from ghostprep.optics import lay_out
from ghostprep.optics.baffle import Baffle
from ghostprep.optics.holder import _room_behind


@pytest.mark.parametrize(
    ("wall", "low", "high"),
    [
        ("left", (-150, -20, 47), (-110, 70, 50)),
        ("right", (110, -20, 47), (150, 70, 50)),
        ("floor", (-20, 0, 47), (70, 40, 50)),
        ("ceiling", (-20, 260, 47), (70, 300, 50)),
    ],
)
def test_a_board_stands_on_its_wall_and_reaches_into_the_box(make_scene, wall, low, high):
    """In a box of 300 x 300: 40 mm out, from -20 to 70 along the wall, its back 50 mm behind the opening."""
    board = Baffle(wall, 50, 3, reach_mm=40, low_mm=-20, high_mm=70, clearance_mm=1)
    corners = board.body(make_scene()).block.corners()
    assert corners.min(axis=0) == pytest.approx(low)
    assert corners.max(axis=0) == pytest.approx(high)
    assert board.size == (40, 90)


@pytest.mark.parametrize(
    ("wall", "centre"),
    [
        ("left", (-130, 150, 150)),
        ("right", (130, 150, 150)),
        ("floor", (0, 20, 150)),
        ("ceiling", (0, 280, 150)),
    ],
)
@pytest.mark.parametrize("thick", [6, 12])
def test_the_room_behind_the_player_is_what_its_thickness_leaves_to_the_wall(make_scene, wall, centre, thick):
    """The lit face is 20 mm before the wall, and the player's body behind it."""
    # the ghost stands as high as the screen, or as far across
    ghost = {"at": (0, 150, 280)}
    scene = make_scene(screen={"wall": wall, "centre": centre, "body": (52, 44, thick)}, ghost=ghost)
    assert _room_behind(scene, lay_out(scene).screen) == pytest.approx(20 - thick)
