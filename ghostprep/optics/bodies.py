"""What stands in the box, as blocks with a name and a role: one list for sight, light, room and drawings."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from ghostprep.optics.sightlines import Rectangle, bounds
from ghostprep.optics.solids import Block, around, upright_block
from ghostprep.optics.vectors import AXES, Vector, vector
from ghostprep.scene import Scene
from ghostprep.scene.furniture import Divider, Mirror, Thing

Corner = tuple[float, float, float]
Role = Literal["wall", "front", "divider", "thing", "player", "holder", "baffle"]
_OURS: Final = (
    *("player", "holder", "baffle", "pane", "front"),
    *("left wall", "right wall", "floor", "ceiling", "opening", "back wall"),
)
"""What a thing of the builder's cannot be called, beside the names of dividers and mirrors."""
_FRONT_MM: Final = 0.01
"""Thickness of the front as a body: it lies in the opening's plane, and blocks."""


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """One block of something that stands in the box."""

    name: str
    """What a finding calls it: "divider 1", "player", "ticket counter". Blocks of one thing share it."""
    role: Role
    part: str
    """Which of its blocks it is; empty if it is the only one."""
    block: Block


def box_bodies(scene: Scene) -> Iterator[Body]:
    """Yield the box's own walls, outside its inner measures, and the front round the opening.

    The front is taken as bevelled towards the eye, so that only the opening's inner edge, in the
    plane z = 0, limits the sight: it is a thin sheet there.
    """
    box, t = scene.box, scene.box.wall
    w, h, d = box.width / 2, box.height, box.depth
    walls: tuple[tuple[str, Corner, Corner], ...] = (
        ("left wall", (-w - t, -t, 0), (-w, h + t, d + t)),
        ("right wall", (w, -t, 0), (w + t, h + t, d + t)),
        ("floor", (-w, -t, 0), (w, 0, d + t)),
        ("ceiling", (-w, h, 0), (w, h + t, d + t)),
        ("back wall", (-w, 0, d), (w, h, d + t)),
    )
    for name, low, high in walls:
        yield Body(name, "wall", "", upright_block(low, high))
    o = box.opening
    left, right, low_edge, high_edge = -o.width / 2, o.width / 2, o.sill, o.sill + o.height
    fronts: tuple[tuple[str, Corner, Corner], ...] = (
        ("left", (-w - t, -t, -_FRONT_MM), (left, h + t, 0)),
        ("right", (right, -t, -_FRONT_MM), (w + t, h + t, 0)),
        ("below", (left, -t, -_FRONT_MM), (right, low_edge, 0)),
        ("above", (left, high_edge, -_FRONT_MM), (right, h + t, 0)),
    )
    for part, low, high in fronts:
        if high[0] - low[0] > 1e-6 and high[1] - low[1] > 1e-6:
            yield Body("front", "front", part, upright_block(low, high))


def divider_names(scene: Scene) -> list[str]:
    """Return what findings call each divider."""
    return [f"divider {number}" for number, _ in enumerate(scene.divider, 1)]


def divider_bodies(scene: Scene) -> Iterator[Body]:
    """Yield the dividers, each cut into blocks round its doorways."""
    for name, divider in zip(divider_names(scene), scene.divider, strict=True):
        for part, block in _divider_blocks(scene, divider):
            yield Body(name, "divider", part, block)


def divider_sheet(scene: Scene, divider: Divider) -> tuple[Block, list[Rectangle]] | None:
    """Return the sheet that a divider is cut from, and its doorways from that sheet's lower left corner.

    A doorway as wide as the divider leaves a board that hangs, or stands, without a hole; None if one
    leaves nothing.
    """
    pieces = [block for _, block in _divider_blocks(scene, divider)]
    if not pieces:
        return None
    start, along, across = divider_frame(divider)
    sheet = around(pieces, np.array([along, AXES["up"], across]))
    corner = sheet.centre - sheet.half @ sheet.axes
    whole = Rectangle(0.0, 0.0, *(float(side) for side in 2 * sheet.half[:2]))
    doors = []
    for door in divider.doorways:
        ends = [(door.at + side * door.width / 2, door.sill + up) for side, up in ((-1, 0), (1, door.height))]
        points = np.array([start + x * along + y * np.array(AXES["up"]) for x, y in ends])
        place = bounds((points - corner) @ sheet.axes[:2].T).common(whole)
        if min(place.size) > 1e-6:
            doors.append(place)
    return sheet, doors


def divider_frame(divider: Divider) -> tuple[Vector, Vector, Vector]:
    """Return a divider's start on the floor, its direction, and the direction across it (3,) each."""
    start = vector((divider.start[0], 0.0, divider.start[1]))
    along = vector((divider.end[0], 0.0, divider.end[1])) - start
    along = along / np.linalg.norm(along)
    return start, along, np.cross(along, vector((0.0, 1.0, 0.0)))


def divider_height(scene: Scene, divider: Divider) -> float:
    """Return how high a divider stands: up to the ceiling unless the scene says otherwise."""
    return scene.box.height if divider.height is None else divider.height


def mirror_height(scene: Scene, mirror: Mirror) -> float:
    """Return how high a mirror is: from its sill up to the ceiling unless the scene says otherwise."""
    return scene.box.height - mirror.sill if mirror.height is None else mirror.height


def _divider_blocks(scene: Scene, divider: Divider) -> Iterator[tuple[str, Block]]:
    start, along, across = divider_frame(divider)
    height, at = divider_height(scene, divider), 0.0

    def piece(x0: float, x1: float, y0: float, y1: float) -> Block:
        middle = start + (x0 + x1) / 2 * along + vector((0.0, (y0 + y1) / 2, 0.0))
        half = np.array([x1 - x0, y1 - y0, divider.thickness]) / 2
        return Block(middle, np.array([along, AXES["up"], across]), half)

    for number, door in enumerate(sorted(divider.doorways, key=lambda d: d.at), 1):
        left, right, top = door.at - door.width / 2, door.at + door.width / 2, door.sill + door.height
        if left - at > 1e-6:
            yield f"before doorway {number}", piece(at, left, 0.0, height)
        if door.sill > 1e-6:
            yield f"below doorway {number}", piece(left, right, 0.0, min(door.sill, height))
        if height - top > 1e-6:
            yield f"above doorway {number}", piece(left, right, top, height)
        at = right
    if divider.length - at > 1e-6:
        last = f"after doorway {len(divider.doorways)}" if divider.doorways else ""
        yield last, piece(at, divider.length, 0.0, height)


def thing_bodies(scene: Scene) -> Iterator[Body]:
    """Yield the things; those of one name are numbered from the second on."""
    for name, thing in zip(thing_names(scene), scene.thing, strict=True):
        yield Body(name, "thing", "", thing_block(thing))


def thing_names(scene: Scene) -> list[str]:
    """Return what findings call each thing: its name, with a number where it was taken already."""
    taken = {*_OURS, *divider_names(scene), *(f"mirror {n}" for n, _ in enumerate(scene.mirror, 1))}
    names = list[str]()
    for thing in scene.thing:
        numbered = (f"{thing.name} {n}" for n in itertools.count(2))
        names.append(next(name for name in itertools.chain([thing.name], numbered) if name not in taken))
        taken.add(names[-1])
    return names


def thing_block(thing: Thing) -> Block:
    """Return a thing as a block: its own axes are across, up and deep."""
    turn = math.radians(thing.turn)
    across, deep = (math.cos(turn), 0.0, -math.sin(turn)), (math.sin(turn), 0.0, math.cos(turn))
    half = np.array(thing.size) / 2
    return Block(vector(thing.at) + vector((0.0, half[1], 0.0)), np.array([across, AXES["up"], deep]), half)


def named(bodies: tuple[Body, ...]) -> dict[str, list[Body]]:
    """Return the blocks of each thing by its name, in their order."""
    groups = itertools.groupby(bodies, key=lambda body: body.name)
    return {name: list(blocks) for name, blocks in groups}
