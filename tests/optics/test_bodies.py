"""Where dividers, things and the holder are solid, asked point by point from the file's own values."""

from __future__ import annotations

import math

import numpy as np
import pytest

from ghostprep.optics.bodies import divider_bodies, thing_bodies, thing_names
from ghostprep.optics.holder import fit_holder
from ghostprep.optics.layout import lay_out
from ghostprep.optics.planning import make_plan
from ghostprep.optics.solids import player_block
from ghostprep.scene import Scene, parse_scene
from ghostprep.scene.starter import starter_text

from .test_world import random_box


def filled(bodies, points):
    """Whether points lie in any of the blocks."""
    found = np.zeros(len(points), bool)
    for body in bodies:
        block = getattr(body, "block", body)
        found |= (np.abs((points - block.centre) @ block.axes.T) < block.half).all(axis=1)
    return found


@pytest.mark.parametrize("number", range(40))
def test_dividers_and_things_are_solid_where_the_file_says(number):
    rng = np.random.default_rng(number + 300)
    values = random_box(rng)
    scene = Scene.model_validate(values)
    box = values["box"]
    points = rng.uniform(
        [-box["width"] / 2, 0, 0], [box["width"] / 2, box["height"], box["depth"]], (6000, 3)
    )
    ours = {}
    for body in (*divider_bodies(scene), *thing_bodies(scene)):
        ours.setdefault(body.name, []).append(body)
    for n, d in enumerate(values["divider"], 1):
        (x0, z0), (x1, z1) = d["from"], d["to"]
        length = math.hypot(x1 - x0, z1 - z0)
        # points near to it, since it is thin: along it, up, and across
        u = rng.uniform([-5, -5, -d["thickness"]], [length + 5, box["height"] + 5, d["thickness"]], (3000, 3))
        way = np.array([x1 - x0, z1 - z0]) / length
        near = np.column_stack(
            [x0 + u[:, 0] * way[0] - u[:, 2] * way[1], u[:, 1], z0 + u[:, 0] * way[1] + u[:, 2] * way[0]]
        )
        solid = (u[:, 0] > 0) & (u[:, 0] < length) & (u[:, 1] > 0) & (u[:, 1] < box["height"])
        solid &= np.abs(u[:, 2]) < d["thickness"] / 2
        for door in d["doorways"]:
            through = (np.abs(u[:, 0] - door["at"]) < door["width"] / 2) & (u[:, 1] > door["sill"])
            solid &= ~(through & (u[:, 1] < door["sill"] + door["height"]))
        assert (filled(ours[f"divider {n}"], near) == solid).all()
    for t in values["thing"]:
        (x, y, z), (w, h, deep), turn = t["at"], t["size"], math.radians(t["turn"])
        dx, dz = points[:, 0] - x, points[:, 2] - z
        # turned clockwise seen from above: its right side goes towards the opening
        right, back = dx * math.cos(turn) - dz * math.sin(turn), dx * math.sin(turn) + dz * math.cos(turn)
        solid = (
            (np.abs(right) < w / 2) & (np.abs(back) < deep / 2) & (points[:, 1] > y) & (points[:, 1] < y + h)
        )
        assert (filled(ours[t["name"]], points) == solid).all()


@pytest.mark.parametrize(("height", "high"), [(None, 300.0), (120.0, 120.0)])
def test_a_divider_reaches_the_ceiling_or_its_height(make_scene, height, high):
    doors = [{"at": 80, "width": 40, "height": 90, "sill": 10}, {"at": 220, "width": 60, "height": 200}]
    more = {"height": height} if height else {}
    scene = make_scene(
        divider=[{"from": [-150, 90], "to": [150, 90], "thickness": 4, "doorways": doors, **more}]
    )
    blocks = {body.part: body.block for body in divider_bodies(scene)}
    assert max(block.corners()[:, 1].max() for block in blocks.values()) == pytest.approx(high)
    # no lintel above a doorway that is higher than the divider
    assert ("above doorway 2" in blocks) is (height is None)
    assert blocks["below doorway 1"].corners()[:, 1].max() == pytest.approx(10)
    assert blocks["before doorway 2"].corners()[:, 0].min() == pytest.approx(-150 + 100)
    assert blocks["after doorway 2"].corners()[:, 0].min() == pytest.approx(-150 + 250)


@pytest.mark.parametrize("out", ["up", "down", "front", "back"])
@pytest.mark.parametrize("free", [True, False])
def test_the_holder_is_a_tray_round_the_player_with_one_open_side(make_scene, out, free):
    """Sheet 3, slack .5: room of 61 x 45 for a body of 60 x 44 x 9; walls on three sides, a card before."""
    # hung 20 mm off the left wall it has a back plate; with its back on the wall the strips stand on that
    x = -150 + 9 + (20 if free else 0)
    scene = make_scene(
        screen={"centre": (x, 150, 160), "body": (60, 44, 9), "top": "up"}, holder={"sheet": 3, "slack": 0.5}
    )
    screen = lay_out(scene).screen
    holder = fit_holder(scene, screen, out)
    blocks = dict(holder.blocks(screen))
    rng = np.random.default_rng(6)
    points = screen.centre + rng.uniform([-20, -40, -50], [8, 40, 50], (30_000, 3))
    local = (points - screen.centre) @ np.array([screen.right, screen.up, screen.normal]).T
    a, b, c = local.T
    deep = 9.5 if free else 9.0
    away = {"up": (0, 1, 0), "down": (0, -1, 0), "front": (0, 0, -1), "back": (0, 0, 1)}[out]
    inner = (np.abs(a) < 30.5) & (np.abs(b) < 22.5)
    open_side = np.array([np.dot(away, screen.right), np.dot(away, screen.up)])
    # where it is open it ends flush with the player
    reach = [30 + 3.5 * (open_side[0] < 0.5), 30 + 3.5 * (open_side[0] > -0.5)]
    rise = [22 + 3.5 * (open_side[1] < 0.5), 22 + 3.5 * (open_side[1] > -0.5)]
    outer = (a < reach[0]) & (a > -reach[1]) & (b < rise[0]) & (b > -rise[1])
    window = (np.abs(a) < 40.8 / 2 + 0.5) & (np.abs(b) < 30.6 / 2 + 0.5)
    solid = outer & ~inner & (c < 0) & (c > -deep)
    solid |= outer & ~window & (c > 0) & (c < 0.5)
    if free:
        solid |= outer & (c < -deep) & (c > -deep - 3)
    assert (filled(blocks.values(), points) == solid).all()
    assert holder.back is free
    player = player_block(screen, scene.screen.body)
    assert not filled(blocks.values(), player.centre[None])[0]


@pytest.mark.parametrize("name", ["divider 5", "player", "pane", "left wall", "chair"])
def test_a_thing_called_like_a_part_of_the_box_is_told_from_it(name):
    """Two of one name stand in the ghost's light; what to do about each is said of it alone."""
    thing = f'\n[[thing]]\nname = "{name}"\nat = [{{}}, 5, 40]\nsize = [30, 90, 10]\n'
    scene = parse_scene(starter_text() + thing.format(-16) + thing.format(16))
    first, second = thing_names(scene)
    assert first == (name if name in {"divider 5", "chair"} else f"{name} 2")
    assert second == f"{name} {2 if first == name else 3}"
    faults = {finding.subject for finding in make_plan(scene).findings if finding.level == "fault"}
    assert {first, second} <= faults
