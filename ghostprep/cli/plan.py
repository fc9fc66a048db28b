"""``ghostprep plan``: the optics of a scene, before anything is glued."""

from __future__ import annotations

import contextlib
import gc
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ghostprep.cli import PATH
from ghostprep.deliver import check_destination
from ghostprep.errors import InputError

if TYPE_CHECKING:
    from rich.console import Console

    from ghostprep.optics import Plan


@click.command(short_help="Compute the optics of a scene, with findings, cut list and drawing.")
@click.argument("scene", type=PATH)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object on stdout.")
@click.option("--strict", is_flag=True, help="Leave with status 1 if a fault is found.")
@click.option(
    "--drawing", type=PATH, help="Draw the box to scale, with sightlines and measures: .svg, .pdf or .png."
)
@click.option("--template", type=PATH, help="A .pdf of all parts at 1:1, to lay on the wood.")
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    help="What the template is printed on; letter if the scene is in inches, else a4.",
)
@click.option("--solve", "solving", is_flag=True, help="Search for the best three layouts and write one.")
@click.option(
    "--free",
    metavar="KEYS",
    help="What --solve may change though SCENE gives it: screen.wall,pane.angle,divider,doorways, ...",
)
@click.option("--pick", type=click.IntRange(1, 3), help="With --solve, which layout to write.  [1]")
@click.option(
    "--out", type=PATH, help="With --solve, the scene file to write.  [SCENE with -solved in its name]"
)
@click.option("--overwrite", is_flag=True, help="Replace files that ghostprep wrote.")
def command(
    *,
    scene: Path,
    as_json: bool,
    strict: bool,
    drawing: Path | None,
    template: Path | None,
    paper: str | None,
    solving: bool,
    free: str | None,
    pick: int | None,
    out: Path | None,
    overwrite: bool,
) -> None:
    """Compute geometry, sightlines and light of a SCENE file, and say what to change.

    --solve keeps what SCENE gives and looks for the rest; name in --free what it may change all the same.

    \b
    Example:
      ghostprep plan hall.toml --drawing hall.pdf --template hall-parts.pdf
      ghostprep plan hall.toml --solve --free screen.wall,screen.centre,screen.top --out better.toml
    """
    for option, given in (("--free", free), ("--pick", pick), ("--out", out)):
        if given is not None and not solving:
            raise click.UsageError(f"{option} belongs to --solve")
    if not solving:
        click.get_current_context().with_resource(_unswept())
    from ghostprep.cli import show
    from ghostprep.optics.advice.collect import faults_of
    from ghostprep.prepare.player_of import plan_with_player, raster_fault
    from ghostprep.scene import load_scene

    written, ways = scene, list[tuple[str, ...]]()
    on_paper = _OnPaper(drawing=drawing, template=template, paper=paper, overwrite=overwrite)
    loaded = load_scene(scene)
    refused = raster_fault(loaded)
    if solving:
        from ghostprep.cli.plan_solve import free_keys, print_solutions

        written = out or scene.with_name(f"{scene.stem}-solved.toml")
        found, ways = print_solutions(
            loaded,
            scene,
            free=free_keys(free),
            out=written,
            pick=pick or 1,
            overwrite=overwrite,
            as_json=as_json,
        )
        faults = min((s.faults for s in found), default=1)
        if refused is not None:
            show.print_findings(show.console(as_json=as_json), [refused])
            faults += 1
        plan = found[(pick or 1) - 1].plan if found else None
    else:
        from ghostprep.cli.plan_text import print_plan

        plan = plan_with_player(loaded)
        faults = plan.faults
        if as_json:
            show.print_findings(show.console(as_json=True), plan.findings)
            show.print_json(plan.as_dict())
        else:
            print_plan(show.console(), plan)
    if plan is not None:
        on_paper.write(plan, show.console(as_json=as_json))
    if not as_json and (ways or plan is not None):
        stuck = plan is not None and bool(faults_of(plan))
        told = _next_steps(
            written, solved=solving, mendable=stuck, refused=refused is not None, template=template
        )
        show.print_next(show.console(), *([_freed(scene, out, keys) for keys in ways] or told))
    if strict and faults:
        raise click.exceptions.Exit(1)


def _freed(scene: Path, out: Path | None, keys: tuple[str, ...]) -> tuple[str, str]:
    """Return the search to type next, with keys of the scene set free."""
    from ghostprep.words import typed

    to = () if out is None else ("--out", out)
    again = typed("plan", scene, "--solve", "--free", ",".join(keys), *to, "--overwrite")
    return again, "search with these let go"


def _next_steps(
    scene: Path, *, solved: bool, mendable: bool, refused: bool, template: Path | None
) -> list[tuple[str, str]]:
    """Return what to type next; `mendable`: another layout may mend a fault; `refused`: the raster is."""
    from ghostprep.words import typed

    if solved:
        return [(typed("plan", scene), "see this layout whole")]
    if mendable:
        return [(typed("plan", scene, "--solve"), "search for layouts without these faults")]
    if refused:
        return [(typed("players"), "see which players there are, and name yours as player.profile")]
    make = typed("make", "CLIP", "--scene", scene), "make the loop for this box"
    if template is not None:
        return [make]
    parts = scene.with_name(f"{scene.stem}-parts.pdf")
    return [(typed("plan", scene, "--template", parts), "the parts at 1:1, to lay on the wood"), make]


@contextlib.contextmanager
def _unswept() -> Iterator[None]:
    """Hold back the search for dead cycles: a command of a second has none worth a tenth of its time."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


@dataclass(frozen=True, slots=True, kw_only=True)
class _OnPaper:
    """What a plan is to be drawn as."""

    drawing: Path | None  # where to write
    template: Path | None
    paper: str | None  # for the template; None: letter for a scene in inches, else A4
    overwrite: bool

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
            if self.drawing is not None and self.drawing.absolute() == self.template.absolute():
                what = "would be drawing and template at once"
                raise InputError(what, where=str(self.drawing), remedy="name two files")

    def write(self, plan: Plan, to: Console) -> None:
        """Write what was asked for, and say so."""
        from ghostprep.cli import show

        if self.drawing is not None:
            from ghostprep.paper.drawing import draw_plan

            draw_plan(plan, self.drawing, overwrite=self.overwrite)
            to.print()
            show.print_line(to, f"Drawing written to {self.drawing}")
        if self.template is not None:
            from ghostprep.paper.template import draw_template

            pages = draw_template(plan, self.template, paper=self.paper, overwrite=self.overwrite)
            to.print()
            show.print_line(
                to,
                f"Template written to {self.template}: {pages} pages; print them at 100 % "
                "and measure the ruler before you cut",
            )
