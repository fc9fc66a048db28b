"""The box is closed but for its opening, and a doorway is cut where the ghost's light crosses a divider."""

from __future__ import annotations

import numpy as np
import pytest

from ghostprep.optics.planning import measure
from ghostprep.optics.trial import _recut, light_through
from ghostprep.optics.world import OUT

from .test_sight import hits_of, random_eyes


@pytest.mark.parametrize("opening", [None, {"width": 200, "height": 180, "sill": 40}])
def test_a_ray_leaves_the_box_through_the_opening_and_nowhere_else(make_scene, opening):
    box = {"width": 300, "height": 300, "depth": 400, "wall": 6} | ({"opening": opening} if opening else {})
    world = measure(make_scene(box=box)).world.of_role("wall", "front")
    rng = np.random.default_rng(1)
    starts = rng.uniform([-149, 1, 1], [149, 299, 399], (20_000, 3))
    # half of them aim at the edges along which two boards meet, to 3 mm
    ends = rng.uniform([-150, 0, 0], [150, 300, 400], (20_000, 3))
    snap = rng.integers(0, 3, 10_000)
    for axis, (low, high) in enumerate(((-150, 150), (0, 300), (0, 400))):
        rows = np.flatnonzero(snap != axis)
        near = rng.uniform(0, 3, len(rows))
        ends[rows, axis] = np.where(rng.random(len(rows)) < 0.5, low + near, high - near)
    ways = (ends - starts) / np.linalg.norm(ends - starts, axis=1)[:, None]
    end, _ = world.first_body(starts, ways)
    with np.errstate(divide="ignore", invalid="ignore"):
        front = starts - ways * (starts[:, 2] / ways[:, 2])[:, None]
    o = opening or {"width": 300, "height": 300, "sill": 0}
    inside = (np.abs(front[:, 0]) < o["width"] / 2) & (front[:, 1] > o["sill"])
    inside &= (front[:, 1] < o["sill"] + o["height"]) & (ways[:, 2] < 0)
    near = np.abs(np.abs(front[:, 0]) - o["width"] / 2) < 1
    near |= np.minimum(abs(front[:, 1] - o["sill"]), abs(front[:, 1] - o["sill"] - o["height"])) < 1
    assert ((end == OUT) == inside)[~near].all()
    assert 100 < inside.sum() < 19_000


def test_a_corner_between_walls_is_closed_to_their_full_thickness(make_scene):
    """A ray that grazes along a wall from outside, within its thickness, meets it whole."""
    world = measure(make_scene()).world.of_role("wall")
    named = {}
    for body in world.bodies:
        corners = body.block.corners()
        named[body.name] = (corners.min(axis=0).tolist(), corners.max(axis=0).tolist())
    # inside 300 x 300 x 400, of 6 mm sheet: side walls as high as floor and ceiling are wide outside
    assert named == {
        "left wall": ([-156, -6, 0], [-150, 306, 406]),
        "right wall": ([150, -6, 0], [156, 306, 406]),
        "floor": ([-150, -6, 0], [150, 0, 406]),
        "ceiling": ([-150, 300, 0], [150, 306, 406]),
        "back wall": ([-150, 0, 400], [150, 300, 406]),
    }


def light_at(plan, divider_z, rng):
    """Where random lines of the ghost, on both their ways, cross the middle of an even divider."""
    eyes, share = random_eyes(plan.scene, rng), rng.uniform(0, 1, (4000, 2))
    share[:2000] = np.round(share[:2000])
    share = rng.permutation(share) * plan.layout.image.raster
    ends, lit = plan.layout.image.at(share), plan.layout.screen.at(share)
    hits = hits_of(plan, eyes, ends)
    found = []
    for a, b in ((eyes, hits), (hits, lit)):
        crosses = (a[:, 2] - divider_z) * (b[:, 2] - divider_z) < 0
        share = ((divider_z - a[:, 2]) / (b[:, 2] - a[:, 2]))[crosses, None]
        found.append(a[crosses] + share * (b - a)[crosses])
    return np.vstack(found)


@pytest.mark.parametrize(("height", "z"), [(None, 60.0), (None, 110.0), (170.0, 60.0), (150.0, 110.0)])
def test_a_doorway_lets_all_of_the_ghosts_light_through_and_little_more(make_scene, height, z):
    divider = {"from": [-150, z], "to": [150, z], "thickness": 2}
    plan = measure(
        make_scene(
            screen={"centre": (-120, 150, 160)},
            pane={"through": (-20, 150, 230), "angle": 45},
            divider=[divider | ({"height": height} if height else {})],
        )
    )
    (door,) = _recut(plan.scene, plan.layout, plan.scene.divider[0]).doorways
    through = light_at(plan, z, np.random.default_rng(2))
    low, high = through[:, :2].min(axis=0), through[:, :2].max(axis=0)
    left, right = door.at - door.width / 2 - 150, door.at + door.width / 2 - 150
    top = door.sill + door.height
    assert left <= low[0]
    assert right >= min(high[0], 150)
    assert (left - low[0], right - high[0]) == pytest.approx((0, 0), abs=8)
    assert door.sill <= max(low[1], 0)
    tall = height or 300.0
    assert top <= tall + 1e-9
    assert top == pytest.approx(min(high[1], tall), abs=8)


@pytest.mark.parametrize(
    ("wall", "turned"), [("left", False), ("left", True), ("right", False), ("right", True)]
)
def test_what_rounding_adds_to_a_doorway_lies_away_from_the_player(make_scene, wall, turned):
    """On the player's side the doorway ends 1 mm beyond the light; whole millimetres are made up opposite."""
    side = -1 if wall == "left" else 1
    ends = [[-150, 60], [150, 60]]
    plan = measure(
        make_scene(
            screen={"wall": wall, "centre": (side * 120, 150, 160)},
            pane={"through": (side * 20, 150, 230), "angle": 45},
            divider=[{"from": ends[turned], "to": ends[not turned], "thickness": 2}],
        )
    )
    (door,) = _recut(plan.scene, plan.layout, plan.scene.divider[0]).doorways
    across = light_through(plan.scene, plan.layout, plan.scene.divider[0])[:, 0]
    ours = (door.at - door.width / 2, door.at + door.width / 2)
    towards = (wall == "left") == turned  # whether the player is where the divider ends
    near, far = (across.max() + 1, across.min() - 1) if towards else (across.min() - 1, across.max() + 1)
    assert ours[towards] == pytest.approx(near)
    assert abs(ours[not towards] - far) <= 1
    assert door.width == pytest.approx(round(door.width))
