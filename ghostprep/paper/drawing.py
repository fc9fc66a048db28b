"""The drawing of a plan, to scale: from above, from the side, and as the eye sees it; and its key."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from ghostprep.optics import Plan
from ghostprep.optics.advice.words import Words
from ghostprep.optics.bodies import thing_names
from ghostprep.optics.sightlines import Rectangle
from ghostprep.paper.colours import (
    BLACKED,
    BODY,
    CORD,
    DASHED,
    DIVIDER,
    GHOST,
    HOLDER,
    INK,
    LAMP,
    MIRROR,
    PANE,
    RAY,
    RAY_PALE,
    SCREEN,
    THING,
)
from ghostprep.paper.drawing_views import draw_above, draw_eye, draw_side
from ghostprep.paper.frame import MARGIN_MM, Arrangement, arrange, scale_words
from ghostprep.paper.sheet import Dash, PaperSheet, fitted
from ghostprep.paper.sheet_file import svg_text, write_sheet
from ghostprep.paper.tags import Entry, Tags
from ghostprep.scene import MM_PER
from ghostprep.scene.model import CORD_MM


def draw_plan(plan: Plan, path: Path, *, overwrite: bool = False) -> None:
    """Draw a plan to scale as .svg, .pdf or .png; InputError: it has another ending, or exists."""
    sheet = compose(plan)
    write_sheet(sheet, path, title=_title(plan), words=describe(plan), overwrite=overwrite)


def drawing_svg(plan: Plan) -> str:
    """Return the drawing as one SVG element on white paper, to stand inside a page."""
    return svg_text(compose(plan), title=_title(plan), words=describe(plan))


def compose(plan: Plan) -> PaperSheet:
    """Return the drawing as a sheet."""
    tags = Tags(list(entries(plan)), lines(plan))
    frame = arrange(plan, tags.height)
    sheet = PaperSheet(frame.size)
    _head(sheet, plan, frame)
    tags.key(sheet, *frame.key)
    # all measures first: tags then look for the room that is left
    marks = [
        *draw_eye(sheet, frame.front, plan),
        *draw_side(sheet, frame.side, plan),
        *draw_above(sheet, frame.above, plan),
    ]
    tags.put_all(sheet, marks)
    return sheet


def describe(plan: Plan) -> str:
    """Return what the drawing shows, for people who do not see it."""
    words, scene, layout = Words(plan.scene.units), plan.scene, plan.layout
    baffle = plan.sight.baffle
    parts = [
        "Three views to scale, from above, from the right side and as the eye sees it.",
        f"The box is {words(scene.box.width)} wide, {words(scene.box.height)} high and "
        f"{words(scene.box.depth)} deep inside.",
        f"The screen is on the {scene.screen.wall}; a pane at {layout.angle_deg:.1f} degrees to the opening "
        f"shows it as a ghost {words(float(layout.ghost[2]))} behind the opening, "
        f"{words(plan.figure.height_mm)} tall.",
        "The eye sees the whole ghost from everywhere."
        if plan.sight.seen_from_everywhere
        else "Opening or pane cut the ghost off from some places.",
        "The screen is hidden."
        if baffle is None
        else f"A baffle {words(baffle.reach_mm)} wide hides the screen.",
    ]
    return " ".join(parts)


def _title(plan: Plan) -> str:
    return plan.scene.title or "Scene"


def _head(sheet: PaperSheet, plan: Plan, frame: Arrangement) -> None:
    w, h = frame.size
    y = h - MARGIN_MM - 2
    paper = frame.paper.upper() if frame.paper == "a4" else frame.paper.title()
    said = sheet.text(w - MARGIN_MM, y, f"drawn {scale_words(frame.scale)} on {paper}", size_pt=8, ha="right")
    title = fitted(_title(plan), said.left - MARGIN_MM - 5, 11)
    sheet.text(MARGIN_MM, y, title, size_pt=11, bold=True)
    sheet.line([(MARGIN_MM, y - 4), (w - MARGIN_MM, y - 4)], INK, 0.3)
    # words of a low box's measures find their room below it
    sheet.taken.append(Rectangle(MARGIN_MM, y - 4, w - MARGIN_MM, h))
    _scale_bar(sheet, plan.scene.units, float(frame.scale), (w - MARGIN_MM, y - 8))


def _scale_bar(sheet: PaperSheet, units: str, k: float, right: tuple[float, float]) -> None:
    """Draw a bar of a round length, so that a print at another size can be told."""
    unit = MM_PER[units]
    steps = [n * 10.0**power for power in range(-2, 6) for n in (1, 2, 5)]
    length = max(step for step in steps if step * unit * k <= 50)
    long = length * unit * k
    edges = np.linspace(right[0] - long, right[0], 3)
    for left, end, fill in zip(edges, edges[1:], (INK, "white"), strict=False):
        sheet.box(Rectangle(float(left), right[1] - 0.6, float(end), right[1] + 0.6), fill, INK, 0.15)
    sheet.text(right[0] - long - 1.5, right[1], f"{length:g} {units}", size_pt=6.5, ha="right")


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
    wide, (low, high) = float(np.ptp(layout.image.corners()[:, 0])), figure.lit_mm
    picture = f"picture {words(wide)} x {words(high - low)}"
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
        reach = f"{words(baffle.reach_mm)}, from {words(baffle.low_mm)} to {words(baffle.high_mm)}"
        wrong = "" if baffle.clear else "; it would cut the ghost"
        yield Entry("baffle", BLACKED, f"{stands} {reach}{wrong}")
    for trim in plan.sight.trims():
        off = f", {words(trim.off_mm)} from the opening's side" if trim.off_mm else ""
        yield Entry(trim.name, BLACKED, f"black, {words.cut(trim.width_mm)} wide{off}, hides the pane's edge")
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
        size = " x ".join(words(float(np.linalg.norm(side))) for side in mirror.sides)
        yield Entry(mirror.name, MIRROR, f"{size}, front-faced, from {words.point(mirror.corners[0])}")
    if any(body.role == "holder" for body in world.bodies):
        sheet = words(plan.room.holder.sheet)
        yield Entry("holder", HOLDER, f"of {sheet} sheet; the player slides out {plan.room.out}")
    for number, strip in enumerate(scene.light.strips, 1):
        length = words(math.dist(strip.start, strip.end))
        yield Entry(f"strip {number}", LAMP, f"{length}, {strip.lumens:g} lumens, shines {strip.faces}")
