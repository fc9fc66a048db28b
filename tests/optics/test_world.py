"""The one world, against a second ray test, against mirrors unfolded by hand, against shapely."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import shapely

from ghostprep.errors import InputError
from ghostprep.optics import make_plan
from ghostprep.optics.bodies import named
from ghostprep.optics.planning import measure
from ghostprep.optics.solids import Block, Bundle, gap, pane_block, upright_block, way_out
from ghostprep.optics.world import MIRROR_BACK, OUT, SCREEN
from ghostprep.scene import Scene

from .boxes import mirror_box
from .oracle import bodies_of, front_of, hits

SAMPLE = Path(__file__).parent.parent.parent / "sample_media"
RAYS = 1500
ENOUGH = 3
"""So many rays of an oracle decide; fewer are too near to call."""
CASES, PARTS = 160, 4


def random_box(rng) -> dict:
    """A box of about 300 mm with a screen, a pane that follows, dividers, doorways and things."""
    width, height, depth = rng.uniform([200, 200, 300], [340, 320, 440])
    opening = {"width": rng.uniform(0.5, 1) * width, "sill": rng.uniform(0, 0.15) * height}
    opening["height"] = rng.uniform(0.6, 1) * (height - opening["sill"])
    wall = rng.choice(["left", "right"])
    side = -1 if wall == "left" else 1
    z = rng.uniform(70, 200)
    scene = {
        "box": {"width": width, "height": height, "depth": depth, "opening": opening},
        "viewer": {
            "distance": rng.uniform(400, 900),
            "height": height * rng.uniform(0.3, 0.8),
            "across": rng.uniform(-40, 40),
            "sway": [rng.uniform(0, 150), rng.uniform(0, 80)],
        },
        "screen": {
            "wall": str(wall),
            "raster": [320, 240],
            "active": [40.8, 30.6],
            "centre": [side * (width / 2 - rng.uniform(9, 30)), height * rng.uniform(0.3, 0.6), z],
        },
        "divider": [],
        "thing": [],
    }
    for _ in range(rng.integers(0, 3)):
        at = rng.uniform(15, 0.8 * depth)
        tilt = rng.uniform(-20, 20)
        line = {"from": [-width / 2, at - tilt], "to": [width / 2 * rng.uniform(-0.5, 1), at + tilt]}
        length = math.dist(line["from"], line["to"])
        doors = []
        if rng.random() < 0.8:
            wide = rng.uniform(0.3, 0.8) * length
            middle = rng.uniform(wide / 2, length - wide / 2)
            doors = [{"at": middle, "width": wide, "height": height * rng.uniform(0.5, 0.9), "sill": 5.0}]
        scene["divider"].append({**line, "thickness": rng.uniform(1, 8), "doorways": doors})
    for n in range(rng.integers(0, 4)):
        size = rng.uniform([5, 20, 2], [80, 150, 40])
        at = rng.uniform([-width / 2, 0, 10], [width / 2, 60, depth - 10])
        turn = rng.uniform(-90, 90)
        scene["thing"].append(
            {"name": f"crate {n}", "at": at.tolist(), "size": size.tolist(), "turn": float(turn)}
        )
    return scene


def eyes_and_points(rng, scene, panel_corners, count=RAYS):
    x, y, z = scene.eye
    sx, sy = scene.viewer.sway
    share = rng.uniform(-1, 1, (count, 2))
    share[: count // 2] = np.sign(share[: count // 2])
    eyes = np.column_stack([x + share[:, 0] * sx, y + share[:, 1] * sy, np.full(count, z)])
    uv = rng.uniform(0.001, 0.999, (count, 2))
    uv[: count // 4] = np.round(uv[: count // 4]).clip(0.001, 0.999)
    rng.shuffle(uv)
    a, b = panel_corners[1] - panel_corners[0], panel_corners[3] - panel_corners[0]
    return eyes, panel_corners[0] + uv[:, :1] * a + uv[:, 1:] * b, uv


@pytest.mark.slow
@pytest.mark.parametrize("part", range(PARTS))
def test_no_answer_differs_from_the_second_ray_test(part):
    """160 random boxes: is the screen seen, is the player seen, what stands in the ghost's light."""
    judged = {"seen": 0, "hidden": 0, "blocked": 0, "free": 0}
    for number in range(part, CASES, PARTS):
        rng = np.random.default_rng(number)
        values = random_box(rng)
        scene = Scene.model_validate(values)
        try:
            plan = measure(scene)
        except InputError:
            continue
        front, bodies = front_of(values), bodies_of(values)
        opaque = np.concatenate([*front, *bodies.values()])
        screen = plan.layout.screen
        # the lit screen
        eyes, points, _ = eyes_and_points(rng, scene, screen.corners())
        facing = (eyes - points) @ screen.normal > 1e-6
        seen = facing & ~hits(eyes, points + 1e-3 * screen.normal, opaque)
        judged[_agree(f"screen, box {number}", seen, plan.sight.screen, opaque)] += 1
        # the player's body: its sides are what an eye can see besides the lit face
        wide, high, thick = scene.screen.body
        for across, up in ((screen.right * wide, screen.up * high), (screen.up * high, screen.right * wide)):
            for sign in (-1, 1):
                middle = screen.centre + sign * across / 2 - screen.normal * thick / 2
                corner = middle - up / 2 - screen.normal * thick / 2
                side = np.array([corner, corner + up, corner, corner + screen.normal * thick])
                eyes, points, _ = eyes_and_points(rng, scene, side, RAYS // 3)
                out = sign * across / np.linalg.norm(across)
                clear = ((eyes - points) @ out > 1e-6) & ~hits(eyes, points + 1e-3 * out, opaque)
                if clear.sum() >= ENOUGH:
                    assert not plan.sight.player_hidden, f"player, box {number}"
        # the ghost's light on both its ways
        eyes, points, uv = eyes_and_points(rng, scene, plan.layout.image.corners())
        way, n = points - eyes, plan.layout.pane_normal
        turns = eyes + way * (((plan.layout.on_pane - eyes) @ n) / (way @ n))[:, None]
        a, b = screen.corners()[1] - screen.corners()[0], screen.corners()[3] - screen.corners()[0]
        lit = screen.corners()[0] + uv[:, :1] * a + uv[:, 1:] * b
        ours = {blocked.name: blocked.overlap_mm for blocked in plan.sight.blocked}
        for name, triangles in bodies.items():
            cut = hits(eyes, turns, triangles) | hits(turns, lit, triangles)
            if cut.sum() >= ENOUGH:
                assert name in ours, f"{name} in the light, box {number}: {cut.sum()} rays"
                judged["blocked"] += 1
            elif cut.sum() == 0:
                assert ours.get(name, 0) < 5, f"{name} free, box {number}: {ours}"
                judged["free"] += 1
    assert min(judged.values()) >= 5, judged


def _agree(what, seen, lines, opaque):
    """Hold an answer of ours to an oracle's rays, and our own rays to the oracle."""
    if seen.sum() >= ENOUGH:
        assert lines, f"{what}: {seen.sum()} rays of the oracle arrive"
        return "seen"
    if lines:
        # what we say is seen, the second test must let through too
        ends = lines.points + 1e-3 * (lines.eyes - lines.points) / 100
        assert not hits(lines.eyes, ends, opaque).all(), f"{what}: none of our lines arrives"
        return "seen"
    return "hidden"


def test_the_screen_in_a_back_mirror_is_where_unfolding_by_hand_puts_it():
    """The mirror at 260 puts a point that is z deep at 520 - z.

    So a line from the eye at x = e to the image at x = -60 crosses the mirror at
    e + (-60 - e) 860 / (600 + 520 - z): for the eye at 80 and the screen's front edge, z = 80, at
    80 - 140 * 860 / 1040 = -35.8 mm, farther right than any other.
    """
    edge = 80 - 140 * 860 / 1040
    for left, shows in ((edge - 3, True), (edge + 0.5, False)):
        plan = measure(mirror_box(mirror=[{"from": [left, 260], "to": [75, 260]}]))
        assert bool(plan.sight.in_mirrors) == shows, left
        assert plan.as_dict()["sight"]["screen_in_mirror"] is shows
    found = measure(mirror_box(mirror=[{"from": [-75, 260], "to": [75, 260]}])).sight.in_mirrors
    assert [seen.via for seen in found] == [("mirror 1",)]
    assert found[0].places[:, 0].max() == pytest.approx(edge, abs=0.5)
    # for the eye at -60 and beyond, the image turns its edge and then its back
    assert found[0].places[:, 0].min() > -60


def test_a_mirror_that_shows_the_screen_gets_a_length_that_does_not():
    plan = make_plan(mirror_box(mirror=[{"from": [-75, 260], "to": [75, 260]}]))
    (fault,) = [f for f in plan.findings if f.subject == "mirror 1"]
    assert fault.level == "fault"
    start = float(fault.remedy.split("[")[1].split(",")[0])
    assert start > -35.8
    assert not measure(mirror_box(mirror=[{"from": [start, 260], "to": [75, 260]}])).sight.in_mirrors


def test_a_divider_hides_the_screen_from_the_mirror():
    mirror = [{"from": [-75, 260], "to": [75, 260]}]
    divider = [{"from": [-75, 180], "to": [0, 180], "thickness": 3}]
    assert not measure(mirror_box(mirror=mirror, divider=divider)).sight.in_mirrors


def test_rays_turn_at_pane_and_mirror_by_the_law_of_reflection():
    """By hand: straight in at x = 20 a ray meets the 45 degree pane, x + z = 120, at z = 100.

    There it turns to the left, onto the screen; straight back from the mirror at 260 the pane's back
    face turns it to the right.
    """
    world = measure(
        mirror_box(
            pane={"through": [-20, 60, 140], "size": [150, 60]},
            mirror=[{"from": [-75, 260], "to": [75, 260]}],
        )
    ).world
    eye, ahead = np.array([[20.0, 60.0, -600.0]]), np.array([[0.0, 0.0, 1.0]])
    turned = world.trace(eye, ahead, (True,))
    assert turned.end[0] == SCREEN
    assert turned.point[0] == pytest.approx([-60, 60, 100])
    assert turned.length[0] == pytest.approx(700 + 80)
    back = world.trace(eye, ahead, (False, True))
    assert back.mirrors[0] == 1
    assert world.name_of(int(back.end[0])) == "right wall"
    assert back.point[0] == pytest.approx([75, 60, 100])
    assert back.way[0] == pytest.approx([1, 0, 0])
    assert back.length[0] == pytest.approx(860 + 160 + 55)
    assert back.passed[0, 0] == pytest.approx(math.sqrt(0.5))
    assert back.turned[0, 1] == pytest.approx(math.sqrt(0.5))
    home = world.trace(eye, ahead)
    assert home.end[0] == OUT
    lit = world.trace(np.array([[40.0, 60.0, 100.0]]), np.array([[-1.0, 0.0, 0.0]]), ())
    assert lit.end[0] == SCREEN
    behind = world.trace(np.array([[0.0, 60.0, 259.99]]), np.array([[0.0, 0.0, 1.0]]))
    assert behind.mirrors[0] == 1
    rear = measure(mirror_box(mirror=[{"from": [-75, 200], "to": [75, 200]}])).world
    assert rear.trace(np.array([[0.0, 60, 250]]), -ahead).end[0] == MIRROR_BACK


def test_two_mirrors_see_the_screen_round_a_corner():
    """A wing that hides the screen from the eye, and two mirrors: the screen's side is the second one's."""
    divider = [{"from": [-75, 70], "to": [-35, 70], "thickness": 2}, {"from": [-75, 180], "to": [0, 180]}]
    right = {"from": [74, 20], "to": [74, 175]}
    scene = mirror_box(
        divider=divider, mirror=[right], viewer={"distance": 600, "height": 60, "sway": [0, 0]}
    )
    # by hand: the screen's image in x = 74 lies at x = 208 and faces left; from x = 0 the line to its
    # middle, z = 100, crosses x = 74 at z = -600 + 700 * 74 / 208 = -351, before the box: not seen there
    assert not measure(scene).sight.in_mirrors
    near = scene.model_copy(
        update={"viewer": scene.viewer.model_copy(update={"distance": 60.0, "across": 20.0})}
    )
    # from 60 mm before the opening and x = 20: at z = -60 + 160 * 54 / 188 = -14, still before the box
    assert not measure(near).sight.in_mirrors


@pytest.mark.parametrize("seed", range(60))
def test_collisions_are_those_of_shapely(seed):
    """Upright things overlap if their outlines on the floor do (shapely) and their heights do."""
    rng = np.random.default_rng(1000 + seed)
    values = random_box(rng)
    scene = Scene.model_validate(values)
    try:
        plan = measure(scene)
    except InputError:
        return
    blocks = {
        name: [body.block for body in bodies]
        for name, bodies in named(plan.world.bodies).items()
        if bodies[0].role in {"divider", "thing", "player", "baffle", "holder"}
    }
    blocks["pane"] = [pane_block(scene, plan.layout, plan.pane)]
    ours = {frozenset((c.first, c.second)): c.overlap_mm for c in plan.collisions}
    names = list(blocks)
    for i, first in enumerate(names):
        for second in names[i + 1 :]:
            if {first, second} == {"player", "holder"}:
                continue
            depth = max(_overlap(a, b) for a in blocks[first] for b in blocks[second])
            found = ours.get(frozenset((first, second)), 0.0)
            if depth > 0.1:
                assert found > 0, (first, second, depth)
            elif depth < 0.01:
                assert found == 0, (first, second, found)


def _overlap(a: Block, b: Block) -> float:
    """Return how deep two upright blocks overlap: the least of their heights' and their outlines' overlap."""
    p, q = a.corners(), b.corners()
    high = min(p[:, 1].max(), q[:, 1].max()) - max(p[:, 1].min(), q[:, 1].min())
    common = shapely.MultiPoint(p[:, [0, 2]]).convex_hull.intersection(
        shapely.MultiPoint(q[:, [0, 2]]).convex_hull
    )
    if common.area <= 0 or high <= 0:
        return 0.0
    # as wide as the part in common is where it is narrowest
    return min(high, common.area / max(common.minimum_rotated_rectangle.length / 2, 1e-9))


@pytest.mark.parametrize("seed", range(30))
def test_the_way_out_is_just_long_enough(seed):
    """Moved by it a block touches, moved a little less it overlaps; a block and a bundle alike."""
    rng = np.random.default_rng(seed)
    turn, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    mover = Block(rng.uniform(-2, 2, 3), turn, rng.uniform(1, 4, 3))
    still = upright_block((-3, -3, -3), (3, 3, 3))
    square = np.array([(-1, -1, -9), (1, -1, -9), (1, 1, -9), (-1, 1, -9)], float)
    opposite = 2 * square * (1, 1, -1)
    bundle = Bundle.between(square, opposite, (opposite - square[:, None]).reshape(-1, 3))
    way = rng.normal(size=3)
    way /= np.linalg.norm(way)
    for far, apart in (
        (way_out(mover, still, way), lambda b: gap(b, still)),
        (way_out(mover, bundle, way), lambda b: gap(b, bundle)),
    ):
        assert far > 0
        moved = Block(mover.centre + far * way, mover.axes, mover.half)
        assert apart(moved) == pytest.approx(0, abs=1e-9)
        assert apart(Block(mover.centre + 0.98 * far * way, mover.axes, mover.half)) < 0
