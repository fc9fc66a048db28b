"""What the key of the drawing says of each thing, and of its kinds of lines."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from ghostprep.optics import Plan
from ghostprep.optics.advice.words import Words
from ghostprep.optics.bodies import thing_names
from ghostprep.optics.room import CORD_MM
from ghostprep.paper.look import (
    BLACKED,
    BODY,
    CORD,
    DASHED,
    DIVIDER,
    GHOST,
    HOLDER,
    LAMP,
    MIRROR,
    PANE,
    RAY,
    RAY_PALE,
    SCREEN,
    THING,
)
from ghostprep.paper.sheet import Dash
from ghostprep.paper.tags import Entry


def lines(plan: Plan) -> list[tuple[str, Dash, str]]:
    """Return the kinds of lines: colour, dashes, words."""
    words, viewer = Words(plan.scene.units), plan.scene.viewer
    across, up = viewer.sway
    return [
        (RAY, (), f"seen from the middle eye, {words(viewer.distance)} before the opening"),
        (RAY_PALE, (), f"from the ends of its range, {words(across)} aside, {words(up)} up and down"),
        (RAY, DASHED, "where the light seems to come from"),
    ]


def entries(plan: Plan) -> Iterator[Entry]:
    """Yield everything that the drawing tags."""
    words, scene, layout, figure = Words(plan.scene.units), plan.scene, plan.layout, plan.figure
    screen = scene.screen
    wide, high = np.ptp(layout.image.corners()[:, :2], axis=0).tolist()
    picture = f"picture {words(wide)} x {words(high)}"
    yield Entry("ghost", GHOST, f"middle at {words.point(layout.ghost)}, {picture}")
    ground = f"on ground {words(figure.feet_mm)} above the floor"
    yield Entry("figure", GHOST, f"{words(figure.height_mm)} tall, {ground}")
    size = f"{scene.pane.material} {words.size(plan.pane.cut)} x {words(scene.pane.thickness)}"
    face = f"front face through {words.point(layout.on_pane)}"
    yield Entry("pane", PANE, f"{size}, {layout.angle_deg:.1f}° to the opening, {face}")
    lit = f"lit {words(screen.active[0])} x {words(screen.active[1])}, on the {screen.wall}"
    top = f"to the {screen.top}" if screen.top in {"front", "back"} else screen.top
    middle = f"middle at {words.point(layout.screen.centre)}"
    yield Entry("screen", SCREEN, f"{lit}, {middle}; the picture's top points {top}")
    yield Entry("player", BODY, " x ".join(words(side) for side in screen.body))
    yield from _furniture(plan, words)
    if (baffle := plan.sight.baffle) is not None:
        stands = f"black, on the {baffle.wall}, {words(baffle.depth_mm)} behind the opening, stands out"
        reach = f"{words.cut(baffle.reach_mm)}, from {words(baffle.low_mm)} to {words(baffle.high_mm)}"
        wrong = "" if baffle.clear else "; it would cut the ghost"
        yield Entry("baffle", BLACKED, f"{stands} {reach}{wrong}")
    for side, width in plan.sight.trims().items():
        yield Entry(f"trim, {side}", BLACKED, f"black, {words.cut(width)} wide, hides the pane's edge")
    if count := len(scene.light.lamps):
        yield Entry("lamp", LAMP, f"{count} in the box" if count > 1 else "one in the box")
    yield Entry(
        "cord", CORD, f"{words(scene.shelf.cord if scene.shelf else CORD_MM)} kept free for plug and cord"
    )


def _furniture(plan: Plan, words: Words) -> Iterator[Entry]:
    scene, world = plan.scene, plan.world
    for number, divider in enumerate(scene.divider, 1):
        told = [f"{words(divider.length)} long, {words(divider.thickness)} thick"]
        for d in divider.doorways:
            sill = f" from {words(d.sill)} up" if d.sill else ""
            told.append(f"doorway {words(d.width)} x {words(d.height)}{sill}")
        yield Entry(f"divider {number}", DIVIDER, ", ".join(told))
    for name, thing in zip(thing_names(scene), scene.thing, strict=True):
        size = " x ".join(words(side) for side in thing.size)
        yield Entry(name, THING, f"{size}, underside at {words.point(thing.at)}")
    for mirror in world.mirrors:
        first = mirror.corners[0]
        size = " x ".join(words(float(np.linalg.norm(mirror.corners[k] - first))) for k in (1, 3))
        yield Entry(mirror.name, MIRROR, f"{size}, front-faced, from {words.point(first)}")
    if any(body.role == "holder" for body in world.bodies):
        sheet = words(plan.room.holder.sheet)
        yield Entry("holder", HOLDER, f"of {sheet} sheet; the player slides out {plan.room.out}")
    for number, strip in enumerate(scene.light.strips, 1):
        length = words(math.dist(strip.start, strip.end))
        yield Entry(f"strip {number}", LAMP, f"{length}, {strip.lumens:g} lumens, shines {strip.faces}")
