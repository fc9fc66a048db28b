"""``ghostprep inspect``: what a clip is and how it could loop."""

from __future__ import annotations

import string
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from rich.table import Table

from ghostprep.cli.options import recipe_options
from ghostprep.cli.show import console, facts_table, print_findings, print_json, progress_bars

if TYPE_CHECKING:
    from collections.abc import Sequence
    from fractions import Fraction

    from ghostprep.loop import Candidate


@click.command("inspect", epilog="Example: ghostprep inspect sample_media/purser_green.mp4")
@click.argument("clip", type=click.Path(path_type=Path))
@recipe_options("start", "end", "length", "backing", "plate", "cache")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object on stdout.")
def command(clip: Path, *, as_json: bool, **options: Any) -> None:
    """Say what CLIP is: size, rate, backing, the figure's box, the best loops."""
    from ghostprep.prepare.inspect import inspect
    from ghostprep.prepare.recipe import Recipe

    to = console(as_json=as_json)
    with progress_bars(to) as progress:
        found = inspect(clip, Recipe(**options), progress)
    if as_json:
        print_json(found.as_dict())
        print_findings(to, found.findings)
        return
    facts, backing, figure = found.seen.facts, found.seen.key.backing, found.figure
    turned = f", turned {facts.rotation} degrees by its tag" if facts.rotation else ""
    turned += ", mirrored by its tag" if facts.mirrored else ""
    box = "none" if figure is None else str(found.as_dict()["figure"]["box"])  # type: ignore[index]
    to.print(
        facts_table(
            "The clip",
            [
                ("file", facts.path.name),
                ("picture", f"{facts.size[0]}x{facts.size[1]}{turned}"),
                ("rate", f"{facts.rate} frames a second, {facts.frames} frames"),
                ("coding", f"{facts.codec}, {facts.pixel_format}, {facts.range} range, {facts.matrix}"),
                ("backing", f"{backing.kind} ({backing.confidence:.0%} sure): {backing.reason}"),
                ("figure", box if figure is None else f"{box}, {figure.height:.0f} px tall"),
            ],
        )
    )
    to.print(loops_table(found.loops, facts.rate))
    print_findings(to, found.findings)


def loops_table(loops: Sequence[Candidate], rate: Fraction) -> Table:
    """Return the loops found, each with the letter by which ``make --pick`` takes it."""
    table = Table(title="Loops, the best first", title_justify="left", box=None, pad_edge=False)
    for column in ("pick", "frames", "seconds", "blend", "score", "step", "double", "sharpness"):
        table.add_column(column, justify="left" if column in {"pick", "blend"} else "right")
    for letter, loop in zip(string.ascii_uppercase, loops, strict=False):
        table.add_row(
            letter,
            f"{loop.first}-{loop.last}",
            f"{float(loop.frames / rate):.2f}",
            f"{loop.method} {loop.blend}" if loop.blend else loop.method,
            f"{loop.score:.2f}",
            f"{loop.step:.2f}",
            f"{loop.double:.2f}",
            f"{loop.dip:.2f}",
        )
    return table
