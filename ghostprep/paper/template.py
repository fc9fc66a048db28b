"""The template: every part at its true size, to lay on the wood."""

from __future__ import annotations

from pathlib import Path

from ghostprep.deliver import whole_file
from ghostprep.errors import InputError
from ghostprep.optics import Plan
from ghostprep.optics.advice.words import Words
from ghostprep.paper.cut_parts import parts_to_cut
from ghostprep.paper.sheet_file import write_pages
from ghostprep.paper.template_pages import TemplatePart, paged
from ghostprep.paper.template_parts import cut_part, floor_part, side_part

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

    Parameters
    ----------
    path : Path
        Where to write; .pdf.
    paper : {"a4", "letter"}, optional
        What it will be printed on; None: letter for a scene in inches, else A4. Parts larger than
        a page run over several, which overlap.
    overwrite : bool
        Whether a file that is there may be replaced.

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
