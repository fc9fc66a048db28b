"""``ghostprep inspect``: what a clip is and how it could loop."""

from __future__ import annotations

import string
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click
from rich.table import Table

from ghostprep.cli import PATH, show
from ghostprep.cli.options import recipe_options
from ghostprep.cli.pictures import refuse_numbered
from ghostprep.words import counted, seconds_words, typed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ghostprep.loop import LoopCandidate
    from ghostprep.picture import Swatch
    from ghostprep.prepare.inspect import Inspection
    from ghostprep.prepare.recipe import Recipe
    from ghostprep.prepare.survey import Survey

_CLOTHS: Final = 0.02
"""Share of the figure from which a cloth is shown."""
_LETTERS: Final = string.ascii_uppercase
_FOR: Final = ("scene", "raster", "player", "fps")
"""What the loop is made for: its frame rate decides which loops are offered."""
_ASKED: Final = (*_FOR, "start", "end", "length", "backing", "plate", "mix", "solid", "sheer", "cache")


@click.command("inspect", epilog="Example: ghostprep inspect sample_media/purser_green.mp4")
@click.argument("names", metavar="CLIP", nargs=-1, required=True, type=PATH)
@recipe_options(*_ASKED)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object on stdout.")
def command(names: tuple[Path, ...], *, as_json: bool, **options: Any) -> None:
    """Say what CLIP is: size, rate, backing, the figure's box, the best loops."""
    from ghostprep.prepare.inspect import inspect
    from ghostprep.prepare.recipe import Recipe

    if len(names) > 1:
        refuse_numbered(names)
        raise click.UsageError(f"one CLIP at a time is looked at, and {len(names)} are named")
    to, recipe, clip = show.console(as_json=as_json), Recipe(**options), names[0]
    with show.progress_bars(to) as progress:
        found = inspect(clip, recipe, progress)
    if as_json:
        show.print_json(found.as_dict())
        show.print_findings(to, found.findings)
        return
    to.print(show.facts_table("", _rows(found)))
    if found.loops:
        to.print()
        show.print_line(to, f"Loops, the best first; make takes {_LETTERS[0]}, or another by --pick")
        to.print(loops_table(found.loops, found.seen))
    if found.findings:
        to.print()
    show.print_findings(to, found.findings)
    fits = "" if recipe.scene else "; --scene FILE fits it to your box"
    show.print_next(to, (_make_command(clip, recipe), f"make the loop{fits}"))


def _rows(found: Inspection) -> list[tuple[str, str]]:
    facts, backing, figure = found.seen.facts, found.seen.key.backing, found.figure
    turned = f", turned {facts.rotation} degrees by its tag" if facts.rotation else ""
    turned += ", mirrored by its tag" if facts.mirrored else ""
    count = "" if facts.still else f", {counted(facts.frames or 0, 'frame')}"
    fields = ", interlaced" if facts.interlaced else ""
    stands = "none"
    if figure is not None:
        stands = f"{figure.height:.0f} px tall, always within --crop {figure.reach}"
    return [
        ("clip", show.clip_words(facts, found.seen.lasts_s, turned) + count),
        ("coding", f"{facts.codec}, {facts.pixel_format}, {facts.range} range, {facts.matrix}{fields}"),
        ("backing", f"{backing.kind} ({backing.confidence:.0%} sure): {backing.found}"),
        ("figure", stands),
        *([("cloths", _cloths(found.seen.key.cloths))] if found.seen.key.cloths else []),
    ]


def _cloths(cloths: Sequence[Swatch]) -> str:
    """Return the largest cloths of the figure in words."""
    return ", ".join(
        f"{cloth.colour} {cloth.part:.0%}" + (f" (sheer: {cloth.through:.0%})" if cloth.through else "")
        for cloth in cloths
        if cloth.part >= _CLOTHS
    )


def loops_table(loops: Sequence[LoopCandidate], seen: Survey) -> Table:
    """Return the loops found, each with the letter by which ``make --pick`` takes it."""
    table = Table(box=None, pad_edge=False)
    for column in ("pick", "frames of the clip", "length", "join", "looks"):
        table.add_column(column)
    for letter, loop in zip(_LETTERS, loops, strict=False):
        join = f"blend over {counted(loop.blend, 'frame')}" if loop.blend else "plain cut"
        join = f"cut, slowed over {counted(loop.slow, 'step')}" if loop.slow else join
        table.add_row(
            letter, seen.named(loop), seconds_words(float(loop.shown / seen.rate)), join, loop.looks
        )
    return table


def _make_command(clip: Path, recipe: Recipe) -> str:
    """Return how the clip is made into a loop, with what was asked of this command."""
    words: list[str | Path] = ["make", clip]
    for name in (*_FOR, "start", "end", "length", "plate"):
        value = getattr(recipe, name)
        if value is not None:
            told = f"{float(value):g}" if name in {"start", "end"} else str(recipe.told(name))
            words += [f"--{name}", value if isinstance(value, Path) else told]
    for name in ("backing", "mix", "solid", "sheer"):
        if getattr(recipe, name) not in ("auto", ()):
            words += [f"--{name}", str(recipe.told(name))]
    return typed(*words)
