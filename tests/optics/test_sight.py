"""Sightlines, against random lines of sight that are followed one by one."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from ghostprep.errors import InputError
from ghostprep.optics.panefit import face_points, on_face
from ghostprep.optics.planning import measure
from ghostprep.optics.sightlines import Rectangle, clipped, opening_of, outline

RAYS = 4000

SCENES = st.fixed_dictionaries(
    {
        "wall": st.sampled_from(["left", "right", "floor", "ceiling"]),
        "sway": st.tuples(st.floats(0, 150), st.floats(0, 80)),
        "across": st.floats(-60, 60),
        "swivel": st.floats(-20, 20),
        "angle": st.floats(35, 55),
        "deep": st.floats(90, 240),
        "opening": st.tuples(st.floats(120, 300), st.floats(120, 280)),
    }
)


def scene_from(make_scene, drawn, **more):
    wall, deep = drawn["wall"], drawn["deep"]
    centre = {
        "left": (-135, 150, deep),
        "right": (135, 150, deep),
        "floor": (0, 20, deep),
        "ceiling": (0, 280, deep),
    }[wall]
    way = {"left": (1, 0), "right": (-1, 0), "floor": (0, 1), "ceiling": (0, -1)}[wall]
    through = (centre[0] + 65 * way[0], centre[1] + 65 * way[1], deep + 65)
    width, height = drawn["opening"]
    return make_scene(
        box={
            "width": 300,
            "height": 300,
            "depth": 420,
            "opening": {"width": width, "height": height, "sill": 300 - height},
        },
        viewer={"across": drawn["across"], "sway": drawn["sway"]},
        screen={"wall": wall, "centre": centre, "swivel": drawn["swivel"]},
        pane={"through": through, "angle": drawn["angle"], **more},
    )


def planned(scene):
    try:
        return measure(scene)
    except InputError:
        assume(False)


def random_eyes(scene, rng, count=RAYS):
    x, y, z = scene.eye
    sx, sy = scene.viewer.sway
    # half of them in the corners, where the bounds are
    share = rng.uniform(-1, 1, (count, 2))
    share[: count // 2] = np.sign(share[: count // 2])
    return np.column_stack([x + share[:, 0] * sx, y + share[:, 1] * sy, np.full(count, z)])


def random_on(panel, rng, count=RAYS):
    share = rng.uniform(0, 1, (count, 2))
    share[: count // 2] = np.round(share[: count // 2])
    share = rng.permutation(share)
    return panel.at(share * panel.raster)


def at_depth(a, b, depth):
    return a + (b - a) * ((depth - a[:, 2]) / (b[:, 2] - a[:, 2]))[:, None]


def within(points, r, slack=1e-6):
    inside = (points[:, 0] >= r.left - slack) & (points[:, 0] <= r.right + slack)
    return inside & (points[:, 1] >= r.low - slack) & (points[:, 1] <= r.high + slack)


def hits_of(plan, eyes, points):
    n, way = plan.layout.pane_normal, points - eyes
    return eyes + way * (((plan.layout.on_pane - eyes) @ n) / (way @ n))[:, None]


@settings(deadline=None, max_examples=40)
@given(drawn=SCENES, seed=st.integers(0, 2**32 - 1))
def test_needed_pane_holds_every_ray_and_no_more(make_scene, drawn, seed):
    scene, rng = scene_from(make_scene, drawn), np.random.default_rng(seed)
    plan = planned(scene)
    places = on_face(plan.layout, hits_of(plan, random_eyes(scene, rng), random_on(plan.layout.image, rng)))
    needed = plan.pane.needed_place
    assert within(places, needed).all()
    low, high = places.min(axis=0), places.max(axis=0)
    # half the rays run from corners to corners, so the bounds are met
    assert low == pytest.approx(np.array([needed.left, needed.low]), abs=0.5)
    assert high == pytest.approx(np.array([needed.right, needed.high]), abs=0.5)


@settings(deadline=None, max_examples=40)
@given(drawn=SCENES, seed=st.integers(0, 2**32 - 1))
def test_ghost_seen_from_everywhere_means_every_ray_passes(make_scene, drawn, seed):
    scene, rng = scene_from(make_scene, drawn), np.random.default_rng(seed)
    plan = planned(scene)
    eyes, points = random_eyes(scene, rng), random_on(plan.layout.image, rng)
    free = within(at_depth(eyes, points, 0.0), opening_of(scene))
    free &= within(on_face(plan.layout, hits_of(plan, eyes, points)), plan.pane.place)
    assert free.all() == plan.sight.seen_from_everywhere


@settings(deadline=None, max_examples=40)
@given(drawn=SCENES, seed=st.integers(0, 2**32 - 1))
def test_baffle_hides_the_screen_and_is_no_larger_than_it_must_be(make_scene, drawn, seed):
    scene, rng = scene_from(make_scene, drawn), np.random.default_rng(seed)
    plan = planned(scene)
    screen = plan.layout.screen
    eyes, points = random_eyes(scene, rng), random_on(screen, rng)
    direct = ((eyes - points) @ screen.normal > 1e-6) & within(at_depth(eyes, points, 0.0), opening_of(scene))
    baffle = plan.sight.baffle
    if baffle is None:
        assert not direct.any()
        return
    if not direct.any():
        return  # a sliver that no random ray met
    through = at_depth(eyes[direct], points[direct], baffle.depth_mm)
    box = scene.box
    out, along = {
        "left": (through[:, 0] + box.width / 2, through[:, 1]),
        "right": (box.width / 2 - through[:, 0], through[:, 1]),
        "floor": (through[:, 1], through[:, 0]),
        "ceiling": (box.height - through[:, 1], through[:, 0]),
    }[baffle.wall]
    assert (out <= baffle.reach_mm + 1e-6).all()
    assert ((along >= baffle.low_mm - 1e-6) & (along <= baffle.high_mm + 1e-6)).all()


@settings(deadline=None, max_examples=40)
@given(drawn=SCENES, seed=st.integers(0, 2**32 - 1))
def test_a_clear_baffle_cuts_no_ray_of_the_ghost(make_scene, drawn, seed):
    scene, rng = scene_from(make_scene, drawn), np.random.default_rng(seed)
    plan = planned(scene)
    baffle = plan.sight.baffle
    assume(baffle is not None)
    share = rng.uniform(0, 1, (RAYS, 2))
    share[: RAYS // 2] = np.round(share[: RAYS // 2])
    share = rng.permutation(share) * plan.layout.image.raster
    eyes, ends, lit = random_eyes(scene, rng), plan.layout.image.at(share), plan.layout.screen.at(share)
    hits = hits_of(plan, eyes, ends)
    corners = baffle.body(scene).block.corners()
    (left, low, near), (right, high, far) = corners.min(axis=0), corners.max(axis=0)
    cut = False
    for a, b in ((eyes, hits), (hits, lit)):
        for depth in (near, far):
            passes = (a[:, 2] - depth) * (b[:, 2] - depth) < 0
            at = at_depth(a[passes], b[passes], depth)
            cut |= bool(within(at, Rectangle(left, low, right, high), slack=-1e-6).any())
    if baffle.clear:
        assert not cut
    elif baffle.clearance_mm < -3:
        assert cut


@settings(deadline=None, max_examples=40)
@given(drawn=SCENES, seed=st.integers(0, 2**32 - 1), size=st.tuples(st.floats(60, 200), st.floats(50, 200)))
def test_a_trim_hides_its_edge_and_a_narrower_one_does_not(make_scene, drawn, seed, size):
    scene, rng = scene_from(make_scene, drawn, size=size), np.random.default_rng(seed)
    plan = planned(scene)
    opening = opening_of(scene)
    for edge in plan.sight.edges:
        if edge.against:
            continue
        a, b = edge.ends
        behind = plan.layout.pane_normal * scene.pane.thickness * rng.integers(0, 2, (RAYS, 1))
        points = a + (b - a) * np.round(rng.uniform(-0.2, 1.2, (RAYS, 1)).clip(0, 1), 2) - behind
        through = at_depth(random_eyes(scene, rng), points, 0.0)
        seen = within(through, opening, slack=-1e-6)
        if not edge.seen:
            assert not seen.any()
            continue
        side, width = edge.trim.side, edge.trim.width_mm
        inwards = {
            "left": through[:, 0] - opening.left,
            "right": opening.right - through[:, 0],
            "bottom": through[:, 1] - opening.low,
            "top": opening.high - through[:, 1],
        }[side]
        assert (inwards[seen] <= edge.trim.off_mm + width + 1e-6).all()
        if edge.trim.off_mm:
            assert (inwards[seen] >= edge.trim.off_mm - 1e-6).all()
        elif seen.sum() > RAYS / 10:
            assert (inwards[seen] > width - 0.1 * max(opening.size)).any()


@settings(deadline=None, max_examples=40)
@given(
    drawn=SCENES,
    size=st.tuples(st.floats(60, 200), st.floats(50, 200)),
    seed=st.integers(0, 2**32 - 1),
)
def test_edges_show_only_beyond_the_eye_position_told(make_scene, drawn, size, seed):
    """An eye just beyond it sees the edge, an eye just before it does not: both are looked for."""
    scene, rng = scene_from(make_scene, drawn, size=size), np.random.default_rng(seed)
    plan = planned(scene)
    opening = opening_of(scene)
    for edge in plan.sight.edges:
        if not edge.seen:
            continue
        axis = 0 if edge.towards in {"left", "right"} else 1
        sign = 1 if edge.towards in {"right", "up"} else -1
        eyes = random_eyes(scene, rng)
        before = sign * (eyes[:, axis] - scene.eye[axis]) < edge.from_mm - 1e-6
        a, b = edge.ends
        points = a + (b - a) * rng.uniform(0, 1, (RAYS, 1))
        assert not within(at_depth(eyes[before], points[before], 0.0), opening, slack=-1e-6).any()
        # at the end of the sway on the side told, some eye sees some point of the edge on a face
        outer = random_eyes(scene, rng)
        outer[:, axis] = scene.eye[axis] + sign * scene.viewer.sway[axis]
        behind = plan.layout.pane_normal * scene.pane.thickness * rng.integers(0, 2, (RAYS, 1))
        ends = a + (b - a) * np.round(rng.uniform(-0.2, 1.2, (RAYS, 1)).clip(0, 1), 2) - behind
        crossed = at_depth(outer, ends, 0.0)
        near = within(crossed, opening, slack=1.0)
        assert near.any(), (edge.name, edge.from_mm)


def test_a_front_edge_gives_the_trim_that_a_drawing_gives(make_scene):
    """By hand: eye 600 mm before the opening, the edge at x = -40, 100 mm deep, opening 100 mm wide.

    From x = +100 the line crosses the opening at 100 + (-140) 600 / 700 = -20: a trim 30 mm wide on
    the left hides it. It first shows where e / 7 - 40 * 6 / 7 = -50, so from e = -110.
    """
    scene = make_scene(
        box={"width": 300, "height": 300, "depth": 400, "opening": {"width": 100, "height": 300}},
        viewer={"sway": [100, 0]},
        screen={"wall": "right", "centre": (135, 150, 200), "swivel": 0},
        pane={"through": (-40, 150, 100), "angle": 45, "size": (400, 300), "thickness": 1e-6},
    )
    plan = measure(scene)
    front = plan.sight.edges[0]
    # the sheet is 400 mm long in a plane that has room for 368: move the edge there by hand
    shift = face_points(plan.layout, np.array([[plan.pane.place.left, 0.0]]))[0]
    assert front.name == "front"
    assert shift[2] < 100
    from ghostprep.optics.edges import find_edges
    from ghostprep.optics.panefit import placed_pane

    place = on_face(plan.layout, np.array([[-40.0, 150.0, 100.0]]))[0]
    moved = placed_pane(
        scene,
        plan.layout,
        plan.pane.needed_place,
        Rectangle(place[0], -140.0, place[0] + 200, 140.0),
        given=True,
    )
    edge = find_edges(scene, plan.layout, moved, plan.world)[0]
    assert edge.seen
    assert edge.seen_at == "left"
    assert edge.trim.width_mm == pytest.approx(30, abs=0.01)
    assert edge.from_mm == pytest.approx(-100)
    assert edge.towards == "right"


def test_lamp_before_the_pane_is_seen_mirrored_and_moved_behind_it_is_not(make_scene):
    screen = {"centre": (-120, 150, 160)}
    pane = {"through": (-20, 150, 230), "angle": 45}

    def lamp(at):
        scene = make_scene(screen=screen, pane=pane, light={"lamps": [{"at": at, "lumens": 5}]})
        return measure(scene).sight.lamps[0]

    assert not lamp((-140, 150, 160)).mirrored  # the player stands before it
    beside = lamp((-140, 150, 250))
    assert beside.mirrored
    assert not lamp((0, 150, 390)).mirrored
    assert lamp((40, 150, 160)).in_the_way
    assert lamp((0, 290, 20)).direct
    hidden = make_scene(
        box={"width": 300, "height": 300, "depth": 400, "opening": {"width": 300, "height": 200, "sill": 0}},
        screen=screen,
        pane=pane,
        light={"lamps": [{"at": (0, 290, 20), "lumens": 5}]},
    )
    assert not measure(hidden).sight.lamps[0].direct


def test_what_the_pane_mirrors_is_where_single_rays_land(make_scene, ray_tracer):
    scene = make_scene(screen={"centre": (-120, 150, 160)}, pane={"through": (-20, 150, 230), "angle": 45})
    plan = measure(scene)
    wall = next(p for p in plan.sight.patches if p.surface == "left wall")
    # straight in from the middle eye and off the pane's middle to the left: about as deep as the pane
    hit = np.array([-20.0, 150.0, 230.0])
    way = hit - np.array(scene.eye)
    back = np.array([-way[2], way[1], -way[0]])
    land = hit + back * (-150 - hit[0]) / back[0]
    assert wall.low[2] <= land[2] <= wall.high[2]
    assert wall.low[1] <= land[1] <= wall.high[1]
    assert (wall.low[0], wall.high[0]) == pytest.approx((-150, -150))


@settings(deadline=None, max_examples=60)
@given(
    points=st.lists(st.tuples(st.floats(-5, 5), st.floats(-5, 5)), min_size=3, max_size=9),
    probe=st.tuples(st.floats(-5, 5), st.floats(-5, 5)),
)
def test_clipping_keeps_what_lies_in_both(points, probe):
    polygon, to = outline(np.array(points)), Rectangle(-2.0, -1.0, 3.0, 2.0)
    assume(len(polygon) >= 3)
    part = clipped(polygon, to)

    def depth(shape, p):
        edge = np.roll(shape, -1, axis=0) - shape
        gap = p - shape
        length = np.linalg.norm(edge, axis=1)
        kept = length > 1e-9
        if kept.sum() < 3:
            return -np.inf
        cross = edge[:, 0] * gap[:, 1] - edge[:, 1] * gap[:, 0]
        return (cross[kept] / length[kept]).min()

    p = np.array(probe)
    both = min(depth(polygon, p), p[0] - to.left, to.right - p[0], p[1] - to.low, to.high - p[1])
    if both > 1e-6:
        assert depth(part, p) > -1e-6
    elif both < -1e-6 and len(part) >= 3:
        assert depth(part, p) < 1e-6
