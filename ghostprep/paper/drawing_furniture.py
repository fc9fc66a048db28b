"""Dividers, mirrors, things, holder and strips on a drawing, each by its name."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from ghostprep.optics import Plan
from ghostprep.optics.advice.words import Words
from ghostprep.optics.bodies import Body, named, thing_names
from ghostprep.optics.vectors import Vector
from ghostprep.optics.visible import faces
from ghostprep.paper.frame import DrawnView
from ghostprep.paper.look import BODY, DIVIDER, HOLDER, INK, LAMP, LIT, MIRROR, THING
from ghostprep.paper.sheet import PaperSheet
from ghostprep.paper.tags import Entry, Mark

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
        marks.append((name, _middle(view.hull(blocks[0].block.corners())), _AWAY[role]))
    for mirror in plan.world.mirrors:
        line = view.hull(mirror.corners)
        sheet.area(line, MIRROR, MIRROR, 0.7, zorder=3.5, alpha=0.6)
        marks.append((mirror.name, _middle(line), 90.0))
    for number, strip in enumerate(plan.scene.light.strips, 1):
        ends = view.on(np.array([strip.start, strip.end]))
        if math.dist(*ends) < 0.5:
            ends = ends + np.array([(-0.5, 0.0), (0.5, 0.0)])
        sheet.line(ends, LAMP, 1.4, zorder=6)
        sheet.line(ends, LIT, 1.0, zorder=6.1)
        marks.append((f"strip {number}", _middle(ends), 300.0))
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


def enter_furniture(plan: Plan, words: Words, entries: list[Entry]) -> None:
    """Enter all of it into the key."""
    scene, world = plan.scene, plan.world
    for number, divider in enumerate(scene.divider, 1):
        doors = [
            f"doorway {words(d.width)} x {words(d.height)}" + (f" from {words(d.sill)} up" if d.sill else "")
            for d in divider.doorways
        ]
        told = ", ".join([f"{words(divider.length)} long, {words(divider.thickness)} thick", *doors])
        entries.append(Entry(f"divider {number}", DIVIDER, told))
    for name, thing in zip(thing_names(scene), scene.thing, strict=True):
        size = " x ".join(words(side) for side in thing.size)
        entries.append(Entry(name, THING, f"{size}, underside at {words.point(thing.at)}"))
    for mirror in world.mirrors:
        a, b = mirror.corners[1] - mirror.corners[0], mirror.corners[3] - mirror.corners[0]
        size = " x ".join(words(float(np.linalg.norm(side))) for side in (a, b))
        entries.append(
            Entry(mirror.name, MIRROR, f"{size}, front-faced, from {words.point(mirror.corners[0])}")
        )
    if any(body.role == "holder" for body in world.bodies):
        sheet = words(plan.room.holder.sheet)
        entries.append(Entry("holder", HOLDER, f"of {sheet} sheet; the player slides out {plan.room.out}"))
    for number, strip in enumerate(scene.light.strips, 1):
        length = words(math.dist(strip.start, strip.end))
        entries.append(
            Entry(f"strip {number}", LAMP, f"{length}, {strip.lumens:g} lumens, shines {strip.faces}")
        )


def _middle(points: Vector) -> tuple[float, float]:
    x, y = points.mean(axis=0)
    return float(x), float(y)
