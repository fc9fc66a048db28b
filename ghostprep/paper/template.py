"""The template: the floor plan, the side wall and every sheet that is cut, at true size, for the wood."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ghostprep.deliver import whole_file
from ghostprep.errors import InputError
from ghostprep.optics import Plan
from ghostprep.optics.advice.words import Words
from ghostprep.optics.bodies import named
from ghostprep.optics.sightlines import opening_of, outline
from ghostprep.optics.solids import Block
from ghostprep.optics.vectors import Vector
from ghostprep.paper.cut_parts import CutPart, parts_to_cut
from ghostprep.paper.drawing_furniture import furniture
from ghostprep.paper.look import BLACKED, CORD, DASHED, FAINT, GHOST, INK, MIRROR, PANE, SCREEN
from ghostprep.paper.sheet import middle
from ghostprep.paper.sheet_file import write_pages
from ghostprep.paper.template_pages import Pen, TemplatePart, paged

PAPERS = ("a4", "letter")


def check_template(path: Path) -> None:
    """Refuse another ending than .pdf.

    Raises
    ------
    InputError
        It is another one.
    """
    if path.suffix.lower() != ".pdf":
        raise InputError("a template is always a PDF", where=str(path), remedy="end it in .pdf")


def draw_template(plan: Plan, path: Path, *, paper: str | None = None, overwrite: bool = False) -> int:
    """Write the template as a PDF at 1:1 and return its number of pages.

    Parts larger than a page run over several, which overlap.

    Parameters
    ----------
    paper : {"a4", "letter"}, optional
        What it will be printed on; None: letter for a scene in inches, else A4.

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
    if plan.scene.screen.wall in {"floor", "ceiling"}:
        parts.append(side_part(plan))
    words = Words(plan.scene.units)
    return [*parts, *(cut_part(part, words) for part in parts_to_cut(plan))]


_ON_FLOOR_MM = 0.5


def floor_part(plan: Plan) -> TemplatePart:
    """Return the floor plan: walls, opening, pane, screen, holder and baffle; the front is below."""
    box, words, o = plan.scene.box, Words(plan.scene.units), opening_of(plan.scene)
    t = box.wall
    front = 0.0 if box.open_front else t
    size = (box.width + 2 * t, box.depth + t + front)
    shift = np.array([box.width / 2 + t, front])

    def draw(pen: Pen) -> None:
        pen.box(0, 0, size, INK, width_mm=0.2)
        pen.box(t, front, (box.width, box.depth), INK, width_mm=0.35)
        if front:
            for x in (o.left, o.right):
                pen.line(np.array([(x, -t), (x, 0.0)]) + shift, INK, 0.35)
        pen.line(np.array([(0.0, -front), (0.0, box.depth + t)]) + shift, FAINT, 0.15, dash=(12, 3, 2, 3))
        _stand(pen, plan, (0, 2), shift)
        x, y = np.array([plan.layout.ghost[0], plan.layout.ghost[2]]) + shift
        _cross(pen, float(x), float(y), "the ghost stands here")
        _furniture(pen, plan, shift)
        baffle = plan.sight.baffle
        if baffle is not None and baffle.clear:
            low, high = _span(plan, 0)
            ends = np.array([(low, baffle.depth_mm), (high, baffle.depth_mm)]) + shift
            upright = baffle.wall in {"left", "right"}
            pen.line(ends, BLACKED, 0.5, dash=() if upright else DASHED)
            pen.label(middle(ends), "back of the baffle" + ("" if upright else ", above"), BLACKED)

    return TemplatePart(f"floor, inside {words(box.width)} x {words(box.depth)}, front below", size, draw)


def side_part(plan: Plan) -> TemplatePart:
    """Return a side wall with the line on which a leaning pane stands; the front is at the left."""
    box, words = plan.scene.box, Words(plan.scene.units)

    def draw(pen: Pen) -> None:
        pen.box(0, 0, (box.depth, box.height), INK, width_mm=0.35)
        _stand(pen, plan, (2, 1), np.zeros(2))
        _cross(pen, float(plan.layout.ghost[2]), float(plan.layout.ghost[1]), "middle of the ghost")
        baffle = plan.sight.baffle
        if baffle is not None and baffle.clear:
            low, high = _span(plan, 1)
            ends = np.array([(baffle.depth_mm, low), (baffle.depth_mm, high)])
            pen.line(ends, BLACKED, 0.5)
            pen.label(middle(ends), "back of the baffle", BLACKED)

    name = f"right side wall from outside, {words(box.depth)} x {words(box.height)}, front at the left"
    return TemplatePart(name, (box.depth, box.height), draw)


def _span(plan: Plan, axis: int) -> tuple[float, float]:
    """Return from where to where the baffle reaches along an axis of the scene, mm."""
    along = named(plan.world.bodies)["baffle"][0].block.corners()[:, axis]
    return float(along.min()), float(along.max())


def _furniture(pen: Pen, plan: Plan, shift: Vector) -> None:
    """Draw where dividers, things and mirrors stand on the floor."""
    for name, blocks in furniture(plan).items():
        if blocks[0].role == "holder":
            continue
        for body in blocks:
            corners = body.block.corners()
            stands = corners[:, 1].min() < _ON_FLOOR_MM
            pen.area(outline(corners[:, [0, 2]] + shift), INK, 0.3, dash=() if stands else DASHED)
        pen.label(middle(blocks[0].block.corners()[:, [0, 2]] + shift), name, INK)
    for mirror in plan.world.mirrors:
        line = mirror.corners[:2, [0, 2]] + shift
        pen.line(line, MIRROR, 0.5)
        pen.label(middle(line), f"{mirror.name}; its face on this line", MIRROR, turn=_along(line))


def _cross(pen: Pen, x: float, y: float, words: str) -> None:
    pen.line([(x - 4, y), (x + 4, y)], GHOST, 0.25)
    pen.line([(x, y - 4), (x, y + 4)], GHOST, 0.25)
    pen.label((x, y), words, GHOST)


def _stand(pen: Pen, plan: Plan, axes: tuple[int, int], shift: Vector) -> None:
    """Draw pane, holder and screen as seen along the third axis."""

    def flat(points: Vector) -> Vector:
        return points[:, list(axes)] + shift

    scene, layout = plan.scene, plan.layout
    body = named(plan.world.bodies)["player"][0].block
    holder = Block(body.centre, body.axes, np.array([*plan.room.holder.inner[:2], 2 * body.half[2]]) / 2)
    pen.area(outline(flat(holder.corners())), CORD, 0.25, dash=DASHED)
    lit = flat(layout.screen.corners())
    pen.area(lit, SCREEN, 0.6)
    edge_on = outline(lit)
    pen.label(middle(lit), "screen", SCREEN, turn=_along(edge_on) if len(edge_on) == 2 else 0.0)
    pen.label(middle(flat(holder.corners()[:1])), "holder, inside", CORD)
    upright = scene.screen.upright
    if upright == (axes == (0, 2)):
        strip = outline(flat(np.vstack([plan.pane.corners, plan.pane.back_corners])))
        pen.area(strip, PANE, 0.3)
        front = flat(plan.pane.corners[[0, 1]])
        pen.line(front, PANE, 0.5)
        pen.label(middle(front), "pane; its front face on the thick line", PANE, turn=_along(front))
        return
    # a leaning pane from above: its lower edge stands on wood, the upper one is only above it
    pairs = sorted(([0, 3], [1, 2]), key=lambda pair: float(plan.pane.corners[pair, 1].mean()))
    for pair, style, words in (
        (pairs[0], (), "lower edge of the pane"),
        (pairs[1], DASHED, "upper edge of the pane, above"),
    ):
        strip = outline(flat(np.vstack([plan.pane.corners[pair], plan.pane.back_corners[pair]])))
        pen.area(strip, PANE, 0.3, dash=style)
        pen.label(middle(strip), words, PANE)


def _along(line: Vector) -> float:
    """Return the direction of a line's longest stretch, so that words on it stand upright, degrees."""
    way = line[np.hypot(*(line - line[0]).T).argmax()] - line[0]
    turn = float(np.degrees(np.arctan2(way[1], way[0])))
    return (turn + 90) % 180 - 90


def cut_part(part: CutPart, words: Words) -> TemplatePart:
    """Return a sheet's outline with its holes."""
    wide, high = part.size

    def draw(pen: Pen) -> None:
        pen.box(0, 0, part.size, INK, width_mm=0.35)
        for hole in part.holes:
            w, h = hole.size
            if hole.round:
                pen.disc(hole.centre, w / 2, SCREEN)
            else:
                pen.box(hole.left, hole.low, hole.size, SCREEN, width_mm=0.35)
            size = words(w) if hole.round else f"{words(w)} x {words(h)}"
            pen.label(hole.centre, f"{hole.name}, {size}", SCREEN)
        for mark in part.marks:
            pen.box(mark.left, mark.low, mark.size, GHOST, width_mm=0.2, dash=DASHED)
            pen.label(mark.centre, mark.name, GHOST)

    thick = f" of {words(part.thickness_mm)}" if part.thickness_mm else ""
    return TemplatePart(f"{part.name}, {words(wide)} x {words(high)}{thick}", part.size, draw)
