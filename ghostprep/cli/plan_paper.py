"""``ghostprep plan --drawing --template``: what is asked for on paper, checked first and written last."""

from __future__ import annotations

import contextlib
import gc
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ghostprep.deliver import check_destination
from ghostprep.errors import InputError

if TYPE_CHECKING:
    from rich.console import Console

    from ghostprep.optics import Plan


@contextlib.contextmanager
def unswept() -> Iterator[None]:
    """Hold back the search for dead cycles: a command of a second has none worth a tenth of its time."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


@dataclass(frozen=True, slots=True, kw_only=True)
class OnPaper:
    """What a plan is to be drawn as."""

    drawing: Path | None = None  # where to write
    template: Path | None = None
    paper: str | None = None  # for the template; None: letter for a scene in inches, else A4
    overwrite: bool = False

    def __post_init__(self) -> None:
        from ghostprep.paper.sheet_file import check_drawing
        from ghostprep.paper.template import check_template

        if self.paper and self.template is None:
            raise InputError("belongs to a template", where="--paper", remedy="add --template FILE.pdf")
        if self.drawing is not None:
            check_drawing(self.drawing)
            check_destination(self.drawing, overwrite=self.overwrite)
        if self.template is not None:
            check_template(self.template)
            check_destination(self.template, overwrite=self.overwrite)
        both = self.drawing is not None and self.template is not None
        if both and self.drawing.absolute() == self.template.absolute():  # type: ignore[union-attr]
            raise InputError(
                "would be drawing and template at once", where=str(self.drawing), remedy="name two files"
            )

    def write(self, plan: Plan, to: Console) -> None:
        """Write what was asked for, and say so."""
        from ghostprep.cli.show import print_line

        if self.drawing is not None:
            from ghostprep.paper.drawing import draw_plan

            draw_plan(plan, self.drawing, overwrite=self.overwrite)
            to.print()
            print_line(to, f"Drawing written to {self.drawing}")
        if self.template is not None:
            from ghostprep.paper.template import draw_template

            pages = draw_template(plan, self.template, paper=self.paper, overwrite=self.overwrite)
            to.print()
            print_line(
                to,
                f"Template written to {self.template}: {pages} pages; print them at 100 % "
                "and measure the ruler before you cut",
            )
