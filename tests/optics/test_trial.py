"""A layout of the search, laid out by the plan itself: it stands where the trial says."""

from __future__ import annotations

import numpy as np
import pytest

from ghostprep.optics.layout import lay_out
from ghostprep.optics.solids import player_block
from ghostprep.optics.trial import Trial, given, scene_of
from ghostprep.scene.model import TOPS

BODY, ACTIVE = (60.0, 44.0, 9.0), (40.8, 30.6)
ALL = frozenset({"screen.wall", "screen.centre", "screen.top", "screen.swivel", "pane.angle", "pane.size"})


def box(make_scene, **more):
    tables = {"screen": {"body": BODY, "active": ACTIVE}, "ghost": {"feet": 20}} | more
    return make_scene(**tables)


def off_the_wall(scene, wall):
    corners = player_block(lay_out(scene).screen, scene.screen.body).corners()
    half, high = scene.box.width / 2, scene.box.height
    return {
        "left": corners[:, 0].min() + half,
        "right": half - corners[:, 0].max(),
        "floor": corners[:, 1].min(),
        "ceiling": high - corners[:, 1].max(),
    }[wall]


@pytest.mark.parametrize("wall", ["left", "right", "floor", "ceiling"])
@pytest.mark.parametrize("angle", [40.0, 45.0, 52.0])
def test_a_trial_puts_ghost_and_player_where_it_says(make_scene, wall, angle):
    # under a ceiling of 300 mm the picture would hang before the opening
    height = 170 if wall == "ceiling" else 300
    scene = box(make_scene, box={"width": 300, "height": height, "depth": 400})
    for top in TOPS[wall]:
        for out, depth in ((0.0, 240.0), (7.0, 300.0)):
            made = scene_of(scene, Trial(wall, top, out, angle, depth, 0.0), frozenset(), ALL)
            assert made is not None, (top, out)
            layout = lay_out(made)
            assert layout.ghost[2] == pytest.approx(depth, abs=0.01)
            # square to the eye: its plane faces the opening
            assert np.abs(layout.image.normal) == pytest.approx([0, 0, 1], abs=1e-6)
            assert off_the_wall(made, wall) == pytest.approx(out, abs=0.01)
            assert layout.ghost[0] == pytest.approx(0, abs=0.01)
            # standing, its lower edge is 1 mm below the ground of 20 mm; but the player stands in the box
            upright = top in ({"up", "down"} if wall in {"left", "right"} else {"front", "back"})
            tall = ACTIVE[1] if upright else ACTIVE[0]
            body = BODY[1] if upright else BODY[0]
            middle = 19 + tall / 2
            if wall in {"left", "right"}:
                middle = max(middle, body / 2)
            assert layout.ghost[1] == pytest.approx(middle, abs=0.01)


@pytest.mark.parametrize(("wall", "x"), [("left", -128.0), ("right", 128.0)])
def test_a_screen_that_is_kept_gives_a_ghost_in_the_middle(make_scene, wall, x):
    scene = box(make_scene, screen={"body": BODY, "active": ACTIVE, "wall": wall, "centre": [x, 70, 130]})
    pinned = frozenset({"screen.centre", "screen.wall"})
    made = scene_of(scene, Trial(wall, "up", 0.0, 47.0, 0.0, 0.0), pinned, frozenset())
    assert made is not None
    assert made.screen.centre == (x, 70, 130)
    assert made.screen.swivel == pytest.approx(2 * 47 - 90)
    assert lay_out(made).ghost[:2] == pytest.approx([0, 70], abs=0.01)


@pytest.mark.parametrize(("wall", "centre"), [("floor", (30, 12, 130)), ("ceiling", (-10, 288, 130))])
def test_a_lying_screen_that_is_kept_gives_a_ghost_on_its_ground(make_scene, wall, centre):
    scene = box(make_scene, screen={"body": BODY, "active": ACTIVE, "wall": wall, "centre": centre})
    pinned = frozenset({"screen.centre", "screen.wall"})
    made = scene_of(scene, Trial(wall, "front", 0.0, 45.0, 0.0, 0.0), pinned, frozenset())
    assert made is not None
    ghost = lay_out(made).ghost
    assert ghost[:2] == pytest.approx([centre[0], 19 + ACTIVE[1] / 2], abs=0.01)


@pytest.mark.parametrize("wall", ["left", "right", "floor", "ceiling"])
def test_a_pane_that_is_kept_gives_a_screen_whose_ghost_stands_right(make_scene, wall):
    through = {
        "left": (-40, 60, 170),
        "right": (40, 60, 170),
        "floor": (0, 60, 170),
        "ceiling": (0, 90, 170),
    }
    size = {"width": 300, "height": 170 if wall == "ceiling" else 300, "depth": 400}
    scene = box(make_scene, box=size, pane={"through": through[wall], "angle": 45})
    pinned = frozenset({"pane.through", "pane.angle"})
    top = "up" if wall in {"left", "right"} else "front"
    made = scene_of(scene, Trial(wall, top, 4.0, 45.0, 0.0, 0.0), pinned, ALL)
    assert made is not None
    assert made.pane.through == through[wall]
    layout = lay_out(made)
    assert layout.ghost[0] == pytest.approx(0, abs=0.01)
    # the figure's ground is at 20 mm; the player needs half of its body, 22 mm, below the picture's middle
    assert layout.ghost[1] == pytest.approx(19 + ACTIVE[1] / 2, abs=0.01)
    assert off_the_wall(made, wall) == pytest.approx(4, abs=0.01)


def test_a_wished_ghost_stands_where_it_is_wished(make_scene):
    scene = box(make_scene, ghost={"at": (12, 80, 260), "feet": 20})
    made = scene_of(scene, Trial("left", "up", 0.0, 45.0, 100.0, 0.0), frozenset({"ghost.at"}), frozenset())
    assert made is not None
    assert lay_out(made).ghost == pytest.approx([12, 80, 260], abs=0.01)
    # set free it is forgotten, and stands in the middle at the trial's depth
    free = scene_of(scene, Trial("left", "up", 0.0, 45.0, 250.0, 0.0), frozenset(), frozenset({"ghost.at"}))
    assert free is not None
    assert lay_out(free).ghost[[0, 2]] == pytest.approx([0, 250], abs=0.01)


@pytest.mark.parametrize(
    ("angle", "pinned", "stands"), [(34.9, False, False), (55.1, False, False), (34.9, True, True)]
)
def test_the_pane_leans_no_more_than_from_35_to_55_degrees_unless_it_is_kept(
    make_scene, angle, pinned, stands
):
    trial = Trial("left", "up", 0.0, angle, 250.0, 0.0)
    keys = frozenset({"pane.angle"}) if pinned else frozenset()
    assert (scene_of(box(make_scene), trial, keys, ALL) is not None) is stands


@pytest.mark.parametrize(
    ("depth", "stands"),
    [(160.0, False), (171.5, False), (172.5, True), (399.0, True), (510.0, True), (512.0, False)],
)
def test_the_player_stands_between_the_opening_and_the_back_wall(make_scene, depth, stands):
    """Its image as far behind the pane: at 45 degrees the screen is 300 / 2 - 9 = 141 mm before the ghost.

    Half of the body's 60 mm lies before its middle: the ghost must be 141 + 30 + 1 = 172 mm deep, and at a
    depth of 400 mm the other half ends where the ghost is 400 - 30 + 141 = 511 mm deep.
    """
    made = scene_of(box(make_scene), Trial("left", "up", 0.0, 45.0, depth, 0.0), frozenset(), ALL)
    assert (made is not None) is stands


def test_a_divider_is_set_before_the_player_and_moved_with_the_trial(make_scene):
    scene = box(make_scene)
    for deeper in (0.0, -12.0):
        trial = Trial("left", "up", 0.0, 45.0, 280.0, deeper)
        made = scene_of(scene, trial, frozenset(), ALL | {"divider"})
        assert made is not None
        (divider,) = made.divider
        front = player_block(lay_out(made).screen, BODY).corners()[:, 2].min()
        # holder's sheet 3 and slack .5, its own 3, and 3 to spare
        assert divider.start == pytest.approx((-150, front - 9.5 + deeper))
        assert divider.end == pytest.approx((150, front - 9.5 + deeper))
        assert len(divider.doorways) == 1
    assert (
        scene_of(scene, Trial("left", "up", 0.0, 45.0, 280.0, -500.0), frozenset(), ALL | {"divider"}) is None
    )


def test_dividers_that_are_there_are_moved_and_keep_in_the_box(make_scene):
    scene = box(make_scene, divider=[{"from": [-150, 40], "to": [150, 60]}])
    free = ALL | {"divider"}
    made = scene_of(scene, Trial("left", "up", 0.0, 45.0, 280.0, 25.0), frozenset(), free)
    assert made is not None
    assert (made.divider[0].start, made.divider[0].end) == ((-150, 65), (150, 85))
    assert scene_of(scene, Trial("left", "up", 0.0, 45.0, 280.0, -41.0), frozenset(), free) is None
    assert scene_of(scene, Trial("left", "up", 0.0, 45.0, 280.0, 341.0), frozenset(), free) is None


def test_what_a_file_gives(make_scene):
    bare = make_scene()
    doors = [{"at": 150, "width": 80, "height": 90}]
    rich = make_scene(
        divider=[{"from": [-150, 40], "to": [150, 40], "doorways": doors}], pane={"through": (-40, 60, 170)}
    )
    keys = ("screen.wall", "screen.centre", "pane.through", "divider", "doorways")
    assert [given(bare, key) for key in keys] == [True, False, False, False, False]
    assert [given(rich, key) for key in keys] == [True, False, True, True, True]
