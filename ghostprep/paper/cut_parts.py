"""What is cut for a box: every sheet with its holes, and where it will stand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ghostprep.optics import Plan
from ghostprep.optics.bodies import divider_sheet, named
from ghostprep.optics.sightlines import Rectangle, bounds, opening_of
from ghostprep.optics.solids import Block, around, pane_block, upright_block
from ghostprep.optics.vectors import Vector
from ghostprep.paper.drawing_furniture import front_boards

PLUG_MM: Final = 15.0
"""Hole for the cord: the plug of a USB Type-C cable is at most 12.35 mm x 6.5 mm (from memory, its
specification's drawing of the overmould), 14 mm across its corners."""
_CLEAR_MM: Final = 20.0
"""Room that a plug's turn needs before the wall. Common practice, no source."""
_X, _Y, _Z = np.eye(3)


@dataclass(frozen=True, slots=True)
class Hole:
    """A hole in a sheet, from the sheet's lower left corner; a round one fills its square."""

    place: Rectangle
    name: str
    round: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class CutPart:
    """One sheet to cut."""

    name: str
    """With the side from which it is seen."""
    block: Block
    """The sheet where it stands: its axes are right and up on the template, and through the sheet."""
    holes: tuple[Hole, ...] = ()
    marks: tuple[Hole, ...] = ()
    """What is drawn on it and not cut."""

    @property
    def size(self) -> tuple[float, float]:
        """Width and height on the template, mm."""
        return float(2 * self.block.half[0]), float(2 * self.block.half[1])

    @property
    def thickness_mm(self) -> float:
        """Of the sheet."""
        return float(2 * self.block.half[2])

    def hole(self, points: Vector, name: str) -> Hole:
        """Return the upright hole round points of space (n, 3), as they lie on the sheet."""
        corner = self.block.centre - self.block.half[0] * self.block.axes[0]
        corner = corner - self.block.half[1] * self.block.axes[1]
        flat = (points - corner) @ self.block.axes[:2].T
        return Hole(bounds(flat), name)


def parts_to_cut(plan: Plan) -> list[CutPart]:
    """Return all sheets of a plan: the box's own, dividers, mirrors, pane, holder, baffle and trims."""
    parts = (_box, _dividers, _mirrors, _pane, _holder, _baffle, _trims)
    return [sheet for part in parts for sheet in part(plan)]


def _laid(block: Block, right: Vector, up: Vector) -> Block:
    """Return a block with its axes in the template's order."""
    axes = np.array([right, up, np.cross(right, up)])
    half = np.abs(axes @ block.axes.T) @ block.half
    return Block(block.centre, axes, half)


def _box(plan: Plan) -> Iterator[CutPart]:
    scene = plan.scene
    ways = {
        "left wall": ("outside", -_Z, _Y),
        "right wall": ("outside", _Z, _Y),
        "floor": ("above", _X, _Z),
        "ceiling": ("above", _X, _Z),
        "back wall": ("the front", _X, _Y),
    }
    out = next((way for way in plan.room.ways_out if way.direction == plan.room.out), None)
    for body in plan.world.bodies:
        if body.role != "wall":
            continue
        side, right, up = ways[body.name]
        part = CutPart(f"{body.name}, from {side}", _laid(body.block, right, up))
        holes = []
        if out is not None and out.surface == body.name:
            loose = named(plan.world.bodies)["player"][0].block
            slid = Block(loose.centre, loose.axes, loose.half + scene.holder.slack)
            holes.append(part.hole(slid.corners(), "slot for the player"))
        elif body.name == "back wall":
            holes.append(_cord(plan, part))
        yield replace(part, holes=tuple(holes))
    if not scene.box.open_front:
        part = CutPart("front, from the front", around(list(front_boards(plan).values()), np.eye(3)))
        corners = np.array([(x, y, 0.0) for x, y in opening_of(scene).corners()])
        yield replace(part, holes=(part.hole(corners, "opening"),))


def _cord(plan: Plan, back: CutPart) -> Hole:
    """Return the hole for the cord: behind the player, or where nothing stands before it."""
    box, player = plan.scene.box, plan.layout.screen.centre
    edge = PLUG_MM / 2 + 2
    x = float(np.clip(player[0], -box.width / 2 + edge, box.width / 2 - edge))
    heights = [float(np.clip(player[1], edge, box.height - edge)), edge, box.height - edge]
    free = next((y for y in heights if _is_free(plan, x, y)), heights[0])
    r = PLUG_MM / 2
    hole = back.hole(np.array([(x - r, free - r, box.depth), (x + r, free + r, box.depth)]), "cord")
    return replace(hole, round=True)


def _is_free(plan: Plan, x: float, y: float) -> bool:
    start, ahead = np.array([[x, y, plan.scene.box.depth - 1e-3]]), -_Z[None, :]
    _, far = plan.world.first_body(start, ahead)
    nearest = [float(mirror.meets(start, ahead)[0]) for mirror in plan.world.mirrors]
    return min([float(far[0]), *nearest]) > _CLEAR_MM


def _dividers(plan: Plan) -> Iterator[CutPart]:
    for number, divider in enumerate(plan.scene.divider, 1):
        if found := divider_sheet(plan.scene, divider):
            sheet, doors = found
            yield CutPart(f"divider {number}", sheet, tuple(Hole(place, "doorway") for place in doors))


def _mirrors(plan: Plan) -> Iterator[CutPart]:
    for mirror in plan.world.mirrors:
        yield CutPart(f"{mirror.name}, its face", mirror.block(0.0))


def _pane(plan: Plan) -> Iterator[CutPart]:
    n, p = plan.pane.needed_place, plan.pane.place
    needed = Hole(n.moved(-p.left, -p.low), "the ghost is seen through here")
    block = pane_block(plan.scene, plan.layout, plan.pane)
    yield CutPart(f"pane, {plan.scene.pane.material}, front edge at the left", block, marks=(needed,))


def _holder(plan: Plan) -> Iterator[CutPart]:
    """Yield the strips and plates, as they are checked; plates are seen by someone who faces the screen."""
    screen = plan.layout.screen
    holder = [body for body in plan.world.bodies if body.role == "holder"]
    card = [body.block for body in holder if body.part.startswith("card")]
    for body in (body for body in holder if body.block not in card):
        flat = body.part == "back plate"
        right = screen.up if body.part.split()[0] in {"right", "left"} else screen.right
        yield CutPart(f"holder, {body.part}", _laid(body.block, right, screen.up if flat else screen.normal))
    if card:
        axes = np.array([screen.right, screen.up, screen.normal])
        part = CutPart("holder, card before the player", around(card, axes))
        a, b = (side / 2 for side in plan.room.holder.window)
        window = screen.centre + np.array([(-a, -b), (a, b)]) @ axes[:2]
        yield replace(part, holes=(part.hole(window, "window"),))


def _baffle(plan: Plan) -> Iterator[CutPart]:
    baffle = plan.sight.baffle
    if baffle is not None and baffle.clear:
        yield CutPart("baffle, from the front", _laid(baffle.body(plan.scene).block, _X, _Y))


def _trims(plan: Plan) -> Iterator[CutPart]:
    for trim in plan.sight.trims():
        face = trim.face(plan.scene)
        block = upright_block((face.left, face.low, 0.0), (face.right, face.high, 0.0))
        yield CutPart(f"{trim.name}, from the front", _laid(block, _X, _Y))
