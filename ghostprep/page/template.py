"""The template: every part of the box at its true size, to lay on the wood."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from ghostprep.errors import InputError
from ghostprep.optics import Plan
from ghostprep.page.sheet import saved
from ghostprep.page.template_holder import holder_parts
from ghostprep.page.template_pages import Part, paged
from ghostprep.page.template_parts import board_parts, floor_part, pane_part, side_part

TEMPLATE_PAPERS: Final = ("a4", "letter")


def draw_template(plan: Plan, path: Path, *, paper: str = "a4", overwrite: bool = False) -> int:
    """Write the template as a PDF at 1:1 and return its number of pages.

    Parameters
    ----------
    plan : Plan
    path : Path
        Where to write; .pdf.
    paper : {"a4", "letter"}
        What it will be printed on. Parts larger than a page run over several, with marks where
        the pages overlap.
    overwrite : bool
        Whether a file that is there may be replaced.

    Raises
    ------
    InputError
        The ending is not .pdf, the paper is unknown, or the file exists.
    """
    from matplotlib.backends.backend_pdf import PdfPages

    if path.suffix.lower() != ".pdf":
        raise InputError("a template is always a PDF", where=str(path), remedy="give it the ending .pdf")
    if paper not in TEMPLATE_PAPERS:
        raise InputError(f"unknown paper {paper!r}", where="--paper", remedy=f"use {' or '.join(TEMPLATE_PAPERS)}")
    sheets = paged(template_parts(plan), paper, plan.scene.title or "Scene")
    with saved(path, overwrite=overwrite) as (part, metadata), PdfPages(part, metadata=metadata) as book:
        for sheet in sheets:
            book.savefig(sheet.figure)
    return len(sheets)


def template_parts(plan: Plan) -> list[Part]:
    """Return all parts of a plan."""
    parts = [floor_part(plan)]
    if plan.scene.screen.wall in {"floor", "ceiling"}:
        parts.append(side_part(plan))
    return [*parts, pane_part(plan), *holder_parts(plan), *board_parts(plan)]
