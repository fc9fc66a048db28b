"""Wood, boards, lamps, dividers, mirrors, things and holder on a drawing, each by its name."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np

from ghostprep.optics import Plan
from ghostprep.optics.bodies import Body, named
from ghostprep.optics.solids import Block, upright_block
from ghostprep.optics.vectors import Vector
from ghostprep.optics.visible import faces
from ghostprep.paper.colours import BLACKED, BODY, DIVIDER, HOLDER, INK, LAMP, LIT, MIRROR, THING, WOOD
from ghostprep.paper.frame import DrawnView
from ghostprep.paper.sheet import PaperSheet, middle
from ghostprep.paper.tags import Mark

_THICK_MM: Final = 2.0
"""How thick trims are drawn, in the scene."""


def draw_wood(sheet: PaperSheet, view: DrawnView, plan: Plan, cut: set[str]) -> None:
    """Draw a cut through those sheets of the box whose names are given, the front's pieces among them."""
    walls = {body.name: body.block for body in plan.world.bodies if body.role == "wall"}
    for name, block in (walls | front_boards(plan)).items():
        if name in cut:
            sheet.area(view.hull(block.corners()), WOOD, INK, 0.2, zorder=1.5)


def front_boards(plan: Plan) -> dict[str, Block]:
    """Return the front's pieces round the opening, as thick as they are; for the sight they are thin."""
    if plan.scene.box.open_front:
        return {}
    boards = {}
    for body in plan.world.bodies:
        if body.role == "front":
            (left, low, _), (right, high, back) = body.block.corners()[[0, -1]]
            boards[body.part] = upright_block((left, low, -plan.scene.box.wall), (right, high, back))
    return boards


def draw_boards(sheet: PaperSheet, view: DrawnView, plan: Plan, axis: int) -> list[Mark]:
    """Draw the baffle, and the trims that lie along an axis, into a view that shows it and depth."""
    scene = plan.scene
    marks: list[Mark] = []
    baffle = plan.sight.baffle
    if baffle is not None:
        stands = (baffle.wall in {"left", "right"}) == (axis == 0)
        at = view.hull(baffle.body(scene).block.corners())
        sheet.area(at, BLACKED, BLACKED, 0.2, zorder=5, alpha=1.0 if stands else 0.35)
        marks.append(("baffle", middle(at), 250.0 if axis == 0 else 160.0))
    for trim in plan.sight.trims():
        if (trim.side in {"left", "right"}) != (axis == 0):
            continue
        face = trim.face(scene)
        block = upright_block((face.left, face.low, -_THICK_MM), (face.right, face.high, 0.0))
        at = view.hull(block.corners())
        sheet.area(at, BLACKED, BLACKED, 0.2, zorder=5)
        marks.append((trim.name, middle(at), 270.0 if axis == 0 else 180.0))
    return marks


def draw_lamps(sheet: PaperSheet, view: DrawnView, plan: Plan) -> list[Mark]:
    """Draw the lamps; the first one gets the tag."""
    marks: list[Mark] = []
    for lamp in plan.scene.light.lamps:
        at = middle(view.on(np.array([lamp.at])))
        sheet.disc(at, 1.0, LIT, LAMP, width_mm=0.2, zorder=6)
        marks.append(("lamp", at, 90.0))
    return marks[:1]


_COLOURS = {"divider": DIVIDER, "thing": THING, "holder": HOLDER, "player": BODY}
_AWAY = {"divider": 210.0, "thing": 30.0, "holder": 170.0}
"""Where a tag is tried first."""


def furniture(plan: Plan) -> dict[str, list[Body]]:
    """Return the blocks of each divider and thing and of the holder, by name."""
    return {
        name: blocks
        for name, blocks in named(plan.world.bodies).items()
        if blocks[0].role in {"divider", "thing", "holder"}
    }


def draw_furniture(sheet: PaperSheet, view: DrawnView, plan: Plan) -> list[Mark]:
    """Draw all of it into a view from above or from the side."""
    marks: list[Mark] = []
    for name, blocks in furniture(plan).items():
        role = blocks[0].role
        for body in blocks:
            outline = view.hull(body.block.corners())
            sheet.area(outline, _COLOURS[role], INK, 0.12, zorder=2.6, alpha=0.55)
        marks.append((name, middle(view.hull(blocks[0].block.corners())), _AWAY[role]))
    for mirror in plan.world.mirrors:
        line = view.hull(mirror.corners)
        sheet.area(line, MIRROR, MIRROR, 0.7, zorder=3.5, alpha=0.6)
        marks.append((mirror.name, middle(line), 90.0))
    for number, strip in enumerate(plan.scene.light.strips, 1):
        ends = view.on(np.array([strip.start, strip.end]))
        if math.dist(*ends) < 0.5:
            ends = ends + np.array([(-0.5, 0.0), (0.5, 0.0)])
        sheet.line(ends, LAMP, 1.4, zorder=6)
        sheet.line(ends, LIT, 1.0, zorder=6.1)
        marks.append((f"strip {number}", middle(ends), 300.0))
    return marks


def faces_seen(plan: Plan) -> Iterator[tuple[str, str, float, Vector]]:
    """Yield the faces that the middle eye may see, the farthest first.

    Each is a name, a colour, how deep its middle lies and its corners (4, 3). Those that are nearer are
    painted over those behind them, which is right for blocks that do not stand within each other.
    """
    eye = plan.layout.eye
    found = []
    for body in plan.world.bodies:
        if body.role in _COLOURS:
            for face in faces(body.block):
                if (eye - face.centre) @ face.normal > 0:
                    far = float(np.linalg.norm(face.centre - eye))
                    found.append((far, body.name, _COLOURS[body.role], face.corners))
    for mirror in plan.world.mirrors:
        found.append((float(np.linalg.norm(mirror.centre - eye)), mirror.name, MIRROR, mirror.corners))
    for _, name, colour, corners in sorted(found, key=lambda face: -face[0]):
        yield name, colour, float(corners[:, 2].mean()), corners
