"""``ghostprep make``: a clip becomes the loop that the player plays."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from ghostprep.cli import PATH, show
from ghostprep.cli.make_text import has_fault, show_outcomes, show_result
from ghostprep.cli.options import ReadBy, recipe_options
from ghostprep.cli.pictures import refuse_numbered
from ghostprep.prepare.recipe import Recipe
from ghostprep.prepare.values import time_range


@click.command(
    "make",
    epilog="Example: ghostprep make sample_media/purser_green.mp4 purser.mp4 --scene sample_media/scene.toml",
)
@click.argument("names", metavar="CLIP... [OUT]", nargs=-1, required=True, type=PATH)
@click.option("--out-dir", type=PATH, help="Make a loop of every CLIP into this folder.")
@click.option(
    "--appear",
    metavar="T or MIN-MAX",
    type=ReadBy(time_range, "T or MIN-MAX"),
    help="One file in which the clips' ghosts come out of the dark in turn; T, or a time between MIN and "
    "MAX, is from the beginning of one appearance to the beginning of the next. Needs --repeat-for.",
)
@click.option("--seed", type=int, help="Another number gives another order of --appear.  [0]")
@click.option("--out", "out_file", type=PATH, help="The file to write.")
@recipe_options()
@click.option("--all", "every_proof", is_flag=True, help="Print every proof.")
@click.option("--strict", is_flag=True, help="Leave with status 1 if a fault is found.")
@click.option("--json", "as_json", is_flag=True, help="Print the report on stdout.")
def command(
    names: tuple[Path, ...],
    *,
    out_dir: Path | None,
    appear: tuple[float, float] | None,
    seed: int | None,
    out_file: Path | None,
    every_proof: bool,
    strict: bool,
    as_json: bool,
    **options: Any,
) -> None:
    """Turn CLIP into the loop that the player plays, and prove it.

    OUT is CLIP's name with "_loop" in the current folder if left out; a report,
    OUT's name with .json, is written beside it. Several clips go with --out-dir
    (a loop of each) or with --appear (one file in which their ghosts take turns).
    """
    recipe = Recipe(**options)
    if out_dir is not None and (appear is not None or out_file is not None):
        raise click.UsageError("--out-dir goes neither with --appear nor with --out")
    if seed is not None and appear is None:
        raise click.UsageError("--seed belongs to --appear")
    if appear is not None and out_file is None and len(names) > 1 and not names[-1].exists():
        raise click.UsageError(f"{names[-1]} is no clip; the file to write goes after --out")
    to = show.console(as_json=as_json)
    if out_dir is not None:
        _make_all(names, out_dir, recipe, every_proof=every_proof, strict=strict, as_json=as_json)
        return
    with show.progress_bars(to) as progress:
        if appear is not None:
            from ghostprep.prepare.appear import make_appearances

            result = make_appearances(names, out_file, recipe, appear, seed=seed or 0, progress=progress)
        else:
            from ghostprep.prepare.make import make

            clip, out = _clip_and_out(names, out_file)
            result = make(clip, out, recipe, progress)
    show_result(result, every_proof=every_proof, as_json=as_json)
    if strict and has_fault(result):
        raise click.exceptions.Exit(1)


def _clip_and_out(names: tuple[Path, ...], out_file: Path | None) -> tuple[Path, Path | None]:
    if len(names) > 2 or (len(names) == 2 and out_file is not None):
        refuse_numbered(names)
        raise click.UsageError("several clips go with --out-dir FOLDER or with --appear EVERY")
    return names[0], out_file or (names[1] if len(names) == 2 else None)


def _make_all(
    clips: tuple[Path, ...], folder: Path, recipe: Recipe, *, every_proof: bool, strict: bool, as_json: bool
) -> None:
    """Make a loop of every clip; leave with the worst status of them all."""
    from ghostprep.prepare.batch import make_all

    to = show.console(as_json=as_json)
    with show.progress_bars(to) as progress:
        outcomes = make_all(clips, folder, recipe, progress=progress)
    if as_json:
        show.print_json(
            {
                "loops": [
                    {"clip": one.clip.name, "error": one.error.one_line() if one.error else None}
                    | ({"report": one.result.as_dict()} if one.result else {})
                    for one in outcomes
                ]
            }
        )
    for one in outcomes:
        if one.error is not None:
            click.echo(f"ghostprep: {one.error.one_line()}", err=True)
    if not as_json:
        show_outcomes(outcomes, every_proof=every_proof)
    status = max((one.error.exit_code for one in outcomes if one.error), default=0)
    if not status and strict and any(one.result and has_fault(one.result) for one in outcomes):
        status = 1
    if status:
        raise click.exceptions.Exit(status)
