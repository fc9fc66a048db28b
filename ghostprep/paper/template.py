"""The template: the floor plan, the side wall and every sheet that is cut, at true size, for the wood."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np

from ghostprep.deliver import whole_file
from ghostprep.errors import InputError
from ghostprep.optics import Plan
from ghostprep.optics.advice.words import Words
from ghostprep.optics.bodies import named
from ghostprep.optics.sightlines import Rectangle, opening_of, outline
from ghostprep.optics.solids import Block
from ghostprep.optics.vectors import Vector
from ghostprep.paper.colours import BLACKED, CORD, DASHED, FAINT, GHOST, INK, MIRROR, PANE, SCREEN
from ghostprep.paper.cut_parts import CutPart, parts_to_cut
from ghostprep.paper.drawing_furniture import furniture
from ghostprep.paper.sheet import PAPERS, middle
from ghostprep.paper.sheet_file import write_pages
from ghostprep.paper.template_pages import TemplatePart, paged


def check_template(path: Path) -> None:
    """Refuse another ending than .pdf."""
    if path.suffix.lower() != ".pdf":
        raise InputError("a template is always a PDF", where=str(path), remedy="end it in .pdf")


def draw_template(plan: Plan, path: Path, *, paper: str | None = None, overwrite: bool = False) -> int:
    """Write the template as a PDF at 1:1 and return its number of pages.

    Parts larger than a page run over several, which overlap. Where no `paper` is named it is letter for a
    scene in inches, else A4.

    Raises
    ------
    InputError
        The ending is not .pdf, the paper is unknown, a part is too large for a template, or the
        file exists.
    """
    check_template(path)
    paper = paper or ("letter" if plan.scene.units == "in" else "a4")
    if paper not in PAPERS:
        raise InputError(f"unknown paper {paper!r}", where="--paper", remedy=f"use {' or '.join(PAPERS)}")
    title = plan.scene.title or "Scene"
    sheets = paged(template_parts(plan), paper, title)
    with whole_file(path, overwrite=overwrite) as part:
        write_pages(sheets, part, title=f"{title}: template at 1:1")
    return len(sheets)


def template_parts(plan: Plan) -> list[TemplatePart]:
    """Return all parts of a plan: where things stand first, then what is cut."""
    parts = [floor_part(plan)]
    if not plan.scene.screen.upright:
        parts.append(side_part(plan))
    words = Words(plan.scene.units)
    return [*parts, *(cut_part(part, words) for part in parts_to_cut(plan))]


_ON_FLOOR_MM: Final = 0.5
"""What hangs no higher stands on the floor."""


def floor_part(plan: Plan) -> TemplatePart:
    """Return the floor plan: walls, opening, pane, screen, holder and baffle; the front is below."""
    box, words, o = plan.scene.box, Words(plan.scene.units), opening_of(plan.scene)
    t = box.wall
    front = 0.0 if box.open_front else t
    size = (box.width + 2 * t, box.depth + t + front)
    shift = np.array([box.width / 2 + t, front])
    name = f"floor, inside {words(box.width)} x {words(box.depth)}, front below"
    part = TemplatePart(name, size)
    part.box(Rectangle(0, 0, *size), "none", INK, 0.2)
    part.box(Rectangle(t, front, t + box.width, front + box.depth), "none", INK, 0.35)
    if front:
        for x in (o.left, o.right):
            part.line(np.array([(x, -t), (x, 0.0)]) + shift, INK, 0.35)
    part.line(np.array([(0.0, -front), (0.0, box.depth + t)]) + shift, FAINT, 0.15, dash=(12, 3, 2, 3))
    _stand(part, plan, (0, 2), shift)
    x, y = np.array([plan.layout.ghost[0], plan.layout.ghost[2]]) + shift
    _cross(part, float(x), float(y), "the ghost stands here")
    _furniture(part, plan, shift)
    baffle = plan.sight.baffle
    if baffle is not None and baffle.clear:
        low, high = _span(plan, 0)
        ends = np.array([(low, baffle.depth_mm), (high, baffle.depth_mm)]) + shift
        upright = plan.scene.screen.upright
        part.line(ends, BLACKED, 0.5, dash=() if upright else DASHED)
        part.label(middle(ends), "back of the baffle" + ("" if upright else ", above"), BLACKED)
    return part


def side_part(plan: Plan) -> TemplatePart:
    """Return a side wall with the line on which a leaning pane stands; the front is at the left."""
    box, words = plan.scene.box, Words(plan.scene.units)

    name = f"right side wall from outside, {words(box.depth)} x {words(box.height)}, front at the left"
    part = TemplatePart(name, (box.depth, box.height))
    part.box(Rectangle(0, 0, *part.size), "none", INK, 0.35)
    _stand(part, plan, (2, 1), np.zeros(2))
    _cross(part, float(plan.layout.ghost[2]), float(plan.layout.ghost[1]), "middle of the ghost")
    baffle = plan.sight.baffle
    if baffle is not None and baffle.clear:
        low, high = _span(plan, 1)
        ends = np.array([(baffle.depth_mm, low), (baffle.depth_mm, high)])
        part.line(ends, BLACKED, 0.5)
        part.label(middle(ends), "back of the baffle", BLACKED)
    return part


def _span(plan: Plan, axis: int) -> tuple[float, float]:
    """Return from where to where the baffle reaches along an axis of the scene, mm."""
    along = named(plan.world.bodies)["baffle"][0].block.corners()[:, axis]
    return float(along.min()), float(along.max())


def _furniture(part: TemplatePart, plan: Plan, shift: Vector) -> None:
    """Draw where dividers, things and mirrors stand on the floor."""
    for name, blocks in furniture(plan).items():
        if blocks[0].role == "holder":
            continue
        for body in blocks:
            corners = body.block.corners()
            stands = corners[:, 1].min() < _ON_FLOOR_MM
            part.area(outline(corners[:, [0, 2]] + shift), "none", INK, 0.3, dash=() if stands else DASHED)
        part.label(middle(blocks[0].block.corners()[:, [0, 2]] + shift), name, INK)
    for mirror in plan.world.mirrors:
        line = mirror.corners[:2, [0, 2]] + shift
        part.line(line, MIRROR, 0.5)
        part.label(middle(line), f"{mirror.name}; its face on this line", MIRROR, turn=_along(line))


def _cross(part: TemplatePart, x: float, y: float, words: str) -> None:
    part.line([(x - 4, y), (x + 4, y)], GHOST, 0.25)
    part.line([(x, y - 4), (x, y + 4)], GHOST, 0.25)
    part.label((x, y), words, GHOST)


def _stand(part: TemplatePart, plan: Plan, axes: tuple[int, int], shift: Vector) -> None:
    """Draw pane, holder and screen as seen along the third axis."""

    def flat(points: Vector) -> Vector:
        return points[:, list(axes)] + shift

    scene, layout = plan.scene, plan.layout
    body = named(plan.world.bodies)["player"][0].block
    holder = Block(body.centre, body.axes, np.array([*plan.room.holder.inner[:2], 2 * body.half[2]]) / 2)
    part.area(outline(flat(holder.corners())), "none", CORD, 0.25, dash=DASHED)
    lit = flat(layout.screen.corners())
    part.area(lit, "none", SCREEN, 0.6)
    edge_on = outline(lit)
    part.label(middle(lit), "screen", SCREEN, turn=_along(edge_on) if len(edge_on) == 2 else 0.0)
    part.label(middle(flat(holder.corners()[:1])), "holder, inside", CORD)
    upright = scene.screen.upright
    if upright == (axes == (0, 2)):
        strip = outline(flat(np.vstack([plan.pane.corners, plan.pane.back_corners])))
        part.area(strip, "none", PANE, 0.3)
        front = flat(plan.pane.corners[[0, 1]])
        part.line(front, PANE, 0.5)
        part.label(middle(front), "pane; its front face on the thick line", PANE, turn=_along(front))
        return
    # a leaning pane from above: its lower edge stands on wood, the upper one is only above it
    pairs = sorted(([0, 3], [1, 2]), key=lambda pair: float(plan.pane.corners[pair, 1].mean()))
    for pair, style, words in (
        (pairs[0], (), "lower edge of the pane"),
        (pairs[1], DASHED, "upper edge of the pane, above"),
    ):
        strip = outline(flat(np.vstack([plan.pane.corners[pair], plan.pane.back_corners[pair]])))
        part.area(strip, "none", PANE, 0.3, dash=style)
        part.label(middle(strip), words, PANE)


def _along(line: Vector) -> float:
    """Return the direction of a line's longest stretch, so that words on it stand upright, degrees."""
    way = line[np.hypot(*(line - line[0]).T).argmax()] - line[0]
    turn = float(np.degrees(np.arctan2(way[1], way[0])))
    return (turn + 90) % 180 - 90


def cut_part(sheet: CutPart, words: Words) -> TemplatePart:
    """Return a sheet's outline with its holes."""
    wide, high = sheet.size
    thick = f" of {words(sheet.thickness_mm)}" if sheet.thickness_mm else ""
    part = TemplatePart(f"{sheet.name}, {words(wide)} x {words(high)}{thick}", sheet.size)
    part.box(Rectangle(0, 0, wide, high), "none", INK, 0.35)
    for hole in sheet.holes:
        w, h = hole.place.size
        if hole.round:
            part.disc(hole.place.centre, w / 2, "none", SCREEN, width_mm=0.35)
        else:
            part.box(hole.place, "none", SCREEN, 0.35)
        size = words(w) if hole.round else f"{words(w)} x {words(h)}"
        part.label(hole.place.centre, f"{hole.name}, {size}", SCREEN)
    for mark in sheet.marks:
        part.box(mark.place, "none", GHOST, 0.2, dash=DASHED)
        part.label(mark.place.centre, mark.name, GHOST)
    return part
