"""The board before the player: what a second ray test sees of the player crosses it, up to its edges."""

from __future__ import annotations

import numpy as np
import pytest

from ghostprep.optics.baffle import SPARE_MM, outermost_lines
from ghostprep.optics.planning import measure
from ghostprep.optics.sight import ghost_bundles, kit_block
from ghostprep.optics.sightlines import eye_corners
from ghostprep.optics.solids import Block, gap, upright_block
from ghostprep.optics.visible import faces
from ghostprep.scene import Scene
from ghostprep.scene.lengths import ruler_step

from .oracle import bodies_of, front_of, hits
from .test_world import eyes_and_points, random_box

RAYS = 2500


@pytest.mark.parametrize("angle", [0.0, 0.6])
def test_a_blocks_faces_are_its_six_sides_and_look_outwards(angle):
    turn = np.array([[np.cos(angle), np.sin(angle), 0], [-np.sin(angle), np.cos(angle), 0], [0, 0, 1]])
    block = Block(np.array([10.0, 20, 30]), turn, np.array([1.0, 2, 3]))
    found = faces(block)
    assert len(found) == 6
    corners = block.corners()
    seen = []
    for face in found:
        middle = face.corners.mean(0) - block.centre
        along = np.abs(block.axes @ face.normal)
        assert np.sort(along) == pytest.approx([0, 0, 1])
        assert middle == pytest.approx(face.normal * (along @ block.half))
        seen += [int(np.argmin(np.linalg.norm(corners - corner, axis=1))) for corner in face.corners]
        assert np.linalg.norm(corners[seen[-4:]] - face.corners, axis=1).max() < 1e-9
        # in order round the rim: neighbours are as far apart as the block is wide that way
        rim = np.linalg.norm(face.corners - np.roll(face.corners, 1, axis=0), axis=1)
        assert np.sort(rim) == pytest.approx(np.sort(np.repeat(2 * block.half[along < 0.5], 2)))
    # each corner belongs to three of them
    assert np.bincount(seen).tolist() == [3] * 8


def past_the_board(number: int, *, furnished: bool):
    """Return how far beyond the board's three sides rays cross that see the player, mm; None without."""
    rng = np.random.default_rng(number)
    values = random_box(rng)
    if not furnished:
        values |= {"divider": [], "thing": []}
    scene = Scene.model_validate(values)
    try:
        plan = measure(scene)
    except ValueError:
        return None
    opaque = np.concatenate([*front_of(values), *bodies_of(values).values()])
    box, baffle, found = scene.box, plan.sight.baffle, [np.empty((0, 3))]
    for face in faces(kit_block(plan.layout, plan.world)):
        eyes, points, _ = eyes_and_points(rng, scene, face.corners, RAYS)
        seen = ((eyes - points) @ face.normal > 1e-6) & (abs(points[:, 0]) < box.width / 2)
        seen &= (points[:, 1] > 0) & (points[:, 1] < box.height)
        eyes, points = eyes[seen], points[seen]
        clear = ~hits(eyes, points + 1e-3 * face.normal, opaque)
        eyes, points = eyes[clear], points[clear]
        depth = 0.0 if baffle is None else baffle.depth_mm
        found.append(eyes + ((depth - eyes[:, 2]) / (points[:, 2] - eyes[:, 2]))[:, None] * (points - eyes))
    through = np.vstack(found)
    if baffle is None or len(through) == 0:
        assert baffle is not None or len(through) == 0, f"box {number}: {len(through)} rays see it"
        return None
    out = box.width / 2 + (through[:, 0] if baffle.wall == "left" else -through[:, 0])
    return np.array(
        [
            out.max() - baffle.reach_mm,
            baffle.low_mm - through[:, 1].min(),
            through[:, 1].max() - baffle.high_mm,
        ]
    )


@pytest.mark.parametrize("number", range(9000, 9012))
def test_in_an_empty_box_the_board_ends_at_the_outermost_ray(number):
    past = past_the_board(number, furnished=False)
    if past is not None:
        assert past.max() <= 0
        # rays from corners to corners come within 1 mm of the outermost, which is cut up to the next mark
        assert past.min() > -2


@pytest.mark.parametrize("number", range(9020, 9032))
def test_in_a_furnished_box_hardly_a_ray_passes_the_board(number):
    """What bodies cut off is found on a net: a sliver of a quarter of the spare is what it may miss."""
    past = past_the_board(number, furnished=True)
    if past is not None:
        assert past.max() <= SPARE_MM / 4


def test_the_outermost_lines_are_those_of_a_drawing(make_scene):
    """By hand: eyes at x = -80 to 80, 600 mm before an opening from -50 to 50; a block 100 to 140 mm deep.

    The leftmost line comes from the right end, 80, over the opening's left edge: at a depth of 60 it is at
    -50 - 130 * 60 / 600 = -63, and it meets the block's face at -71.67. The rightmost comes from there too
    and goes to the block's far right corner, (-60, 140): at 60 it is at -60 + 140 * 80 / 740 = -44.86, and
    it passes the opening at -33.5, inside.
    """
    scene = make_scene(
        box={"width": 300, "height": 300, "depth": 400, "opening": {"width": 100, "height": 300}},
        viewer={"distance": 600, "height": 150, "across": 0, "sway": [80, 0]},
    )
    block = upright_block((-90, 100, 100), (-60, 200, 140))
    lines = outermost_lines(scene, block, 60.0)
    through = lines.crossing(60.0)
    assert through[0, 0] == pytest.approx(-63, abs=1e-3)
    assert through[1, 0] == pytest.approx(-60 + 140 * 80 / 740, abs=1e-3)
    # in height nothing is in the way: eye at 150, the block's near edge at 100 and 200
    assert through[2:, 1] == pytest.approx([150 - 50 * 660 / 700, 150 + 50 * 660 / 700], abs=1e-3)


def test_a_block_beside_the_opening_is_seen_by_nobody(make_scene):
    scene = make_scene(
        box={"width": 300, "height": 300, "depth": 400, "opening": {"width": 100, "height": 300}},
        viewer={"distance": 600, "height": 150, "across": 0, "sway": [80, 0]},
    )
    # the hand's line above is at -71.67 at a depth of 100: beyond it nothing shows
    assert not outermost_lines(scene, upright_block((-90, 0, 60), (-71.7, 300, 100)), 40.0)
    assert outermost_lines(scene, upright_block((-90, 0, 60), (-71.6, 300, 100)), 40.0)


@pytest.mark.parametrize("units", ["mm", "in"])
def test_the_board_of_report_and_world_is_the_one_that_is_cut(make_scene, units):
    """Cut up to a mark of the ruler it reaches up to 1.6 mm farther, into the ghost's light."""
    scene = make_scene(viewer={"sway": [53.3, 27.7]}).model_copy(update={"units": units})
    plan = measure(scene)
    board, told = plan.sight.baffle, plan.as_dict()["sight"]["baffle"]
    marks = np.array([told[key] for key in ("reach", "from", "to")]) / ruler_step(units)
    assert marks == pytest.approx(np.round(marks), abs=1e-9)
    (body,) = (b.block.corners() for b in plan.world.bodies if b.role == "baffle")
    assert np.ptp(body[:, :2], axis=0) == pytest.approx([told["reach"], told["to"] - told["from"]])
    # no mark less would hide the player
    kit = kit_block(plan.layout, plan.world)
    ends = outermost_lines(scene, kit, board.depth_mm).crossing(board.depth_mm)
    out, low, high = ends[1, 0] + scene.box.width / 2, ends[2, 1], ends[3, 1]
    spare = np.array([told["reach"] - out, low - told["from"], told["to"] - high])
    assert np.all((spare > 0) & (spare < ruler_step(units)))
    legs = ghost_bundles(plan.layout, eye_corners(scene))
    assert told["clearance"] == pytest.approx(min(gap(leg, board.body(scene).block) for leg in legs))
