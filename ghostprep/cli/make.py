"""``ghostprep make``: a clip becomes the loop that the player plays."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from rich.table import Table
from rich.text import Text

from ghostprep.cli.show import console, facts_table, print_findings, print_json, progress_bars, proofs_table
from ghostprep.cli.values import AutoOr, CropBox, Rate, Size, Time, TimeRange

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ghostprep.loop import Schedule
    from ghostprep.prepare.recipe import Recipe
    from ghostprep.prepare.report import Result, Take


@click.command(
    "make",
    epilog="Example: ghostprep make sample_media/purser_green.mp4 purser.mp4 --scene sample_media/scene.toml",
)
@click.argument("names", metavar="CLIP... [OUT]", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--out-dir", type=click.Path(path_type=Path), help="Make a loop of every CLIP into this folder."
)
@click.option("--appear", type=TimeRange(), help="Let the clips' ghosts appear in turn, every so often.")
@click.option(
    "--seed", type=int, default=0, show_default=True, help="Another seed, another order of --appear."
)
@click.option("--out", "out_file", type=click.Path(path_type=Path), help="The file to write, with --appear.")
@click.option("--scene", type=click.Path(path_type=Path), help="Scene file: raster, mount, size, player.")
@click.option("--raster", type=Size(), help="Without a scene: the screen's pixels.  [the profile's]")
@click.option("--reflections", type=int, default=1, show_default=True, help="Mirrors between screen and eye.")
@click.option(
    "--turn", type=int, default=0, show_default=True, help="How far the player is turned clockwise."
)
@click.option("--player", metavar="NAME", help="A profile's name or file.  [h264-baseline-qvga]")
@click.option("--start", type=Time(), help="Use the clip from here, seconds or h:mm:ss.")
@click.option("--end", type=Time(), help="Use the clip up to here.")
@click.option("--length", type=TimeRange(), help="Wanted length of the loop.  [chosen by the search]")
@click.option(
    "--join",
    type=click.Choice(["search", "ends", "there-and-back", "fades", "none"]),
    default="search",
    show_default=True,
    help="How the end meets the start.",
)
@click.option(
    "--pick", default="best", show_default=True, help="A loop that inspect lists: A, B ... or FIRST-LAST."
)
@click.option("--crossfade", type=Time(), help="Length of the blend.  [chosen by the search]")
@click.option("--backing", default="auto", show_default=True, help="What is behind the figure, or #rrggbb.")
@click.option("--plate", type=click.Path(path_type=Path), help="A picture of the backing alone.")
@click.option("--crop", type=CropBox(), default="auto", show_default=True, help="The part that is shown.")
@click.option("--tint", metavar="#rrggbb", help="Colour of the whole figure.")
@click.option("--gain", type=AutoOr(float, "G"), default="auto", show_default=True, help="Brightness.")
@click.option(
    "--edge", type=AutoOr(int, "PX"), default="auto", show_default=True, help="Softness at the border."
)
@click.option("--fps", type=Rate(), help="Output rate.  [the source's, if the player takes it]")
@click.option("--repeat-for", type=Time(), help="Fill the file with exact repeats up to this length.")
@click.option("--sound", type=click.Choice(["none", "keep"]), default="none", show_default=True)
@click.option("--calm", is_flag=True, help="Soften flashes until the flash proof passes.")
@click.option(
    "--cache/--no-cache",
    default=True,
    show_default=True,
    help="Recall what an earlier run saw in the clip, or look anew.",
)
@click.option("--overwrite", is_flag=True, help="Replace OUT if it exists.")
@click.option("--strict", is_flag=True, help="Leave with status 1 if a fault is found.")
@click.option("--json", "as_json", is_flag=True, help="Print the report on stdout.")
def command(
    names: tuple[Path, ...],
    *,
    out_dir: Path | None,
    appear: tuple[float, float] | None,
    seed: int,
    out_file: Path | None,
    strict: bool,
    as_json: bool,
    **options: Any,
) -> None:
    """Turn CLIP into the loop that the player plays, and prove it.

    OUT is CLIP's name with "_loop" in the current folder if left out; a report,
    OUT's name with .json, is written beside it. Several clips go with --out-dir
    (a loop of each) or with --appear (one file in which their ghosts take turns).
    """
    from ghostprep.prepare.recipe import Recipe

    crossfade = options.pop("crossfade")
    recipe = Recipe(crossfade=None if crossfade is None else float(crossfade), **options)
    if out_dir is not None and (appear is not None or out_file is not None):
        raise click.UsageError("--out-dir goes neither with --appear nor with --out")
    to = console(as_json=as_json)
    if out_dir is not None:
        _make_all(names, out_dir, recipe, strict=strict, as_json=as_json)
        return
    with progress_bars(to) as progress:
        if appear is not None:
            from ghostprep.prepare.appear import make_appearances

            result = make_appearances(names, out_file, recipe, appear, seed=seed, progress=progress)
        else:
            from ghostprep.prepare.make import make

            clip, out = _clip_and_out(names, out_file)
            result = make(clip, out, recipe, progress)
    show_result(result, as_json=as_json)
    if strict and has_fault(result):
        raise click.exceptions.Exit(1)


def _clip_and_out(names: tuple[Path, ...], out_file: Path | None) -> tuple[Path, Path | None]:
    if len(names) > 2 or (len(names) == 2 and out_file is not None):
        raise click.UsageError("several clips go with --out-dir FOLDER or with --appear EVERY")
    return names[0], out_file or (names[1] if len(names) == 2 else None)


def _make_all(clips: tuple[Path, ...], folder: Path, recipe: Recipe, *, strict: bool, as_json: bool) -> None:
    """Make a loop of every clip; leave with the worst status of them all."""
    from ghostprep.prepare.batch import make_all

    to = console(as_json=as_json)
    with progress_bars(to) as progress:
        outcomes = make_all(clips, folder, recipe, progress=progress)
    if as_json:
        print_json(
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
        elif one.result is not None and not as_json:
            to.print(
                facts_table(
                    one.clip.name,
                    [
                        ("file", str(one.result.output.path)),
                        (
                            "proofs",
                            f"{sum(p.passed for p in one.result.proofs)} of {len(one.result.proofs)} passed",
                        ),
                    ],
                )
            )
            print_findings(to, [f for f in one.result.findings if f.level != "note"])
    status = max((one.error.exit_code for one in outcomes if one.error), default=0)
    if not status and strict and any(one.result and has_fault(one.result) for one in outcomes):
        status = 1
    if status:
        raise click.exceptions.Exit(status)


def has_fault(result: Result) -> bool:
    """Return whether a finding of the run is a fault."""
    return any(finding.level == "fault" for finding in result.findings)


def show_result(result: Result, *, as_json: bool) -> None:
    """Print what was made: the report on stdout with `as_json`, tables for people otherwise."""
    to = console(as_json=as_json)
    if as_json:
        print_json(result.as_dict())
        print_findings(to, result.findings)
        return
    for take in result.takes:
        to.print(take_table(take))
    if result.schedule is not None:
        to.print(schedule_table(result.schedule, [take.facts.path.name for take in result.takes]))
    output = result.output
    to.print(
        facts_table(
            "The file",
            [
                ("file", str(output.path)),
                ("raster", f"{output.raster[0]}x{output.raster[1]} at {rate_text(output.rate)}"),
                ("coding", f"{output.codec} {output.profile} {output.level}".strip()),
                ("length", f"{output.frames} frames, {float(output.frames / output.rate):.2f} s"),
                ("size", f"{output.bytes / 1000:,.0f} kB"),
            ],
        )
    )
    to.print(proofs_table(result.proofs))
    print_findings(to, result.findings)


def take_table(take: Take) -> Table:
    """Return what a clip was and what loop was made of it."""
    facts, plan, backing = take.facts, take.plan, take.backing
    blend = f"{plan.method} over {plan.blend} frames" if plan.blend else "plain cut"
    return facts_table(
        "The clip and its loop",
        [
            ("clip", facts.path.name),
            ("picture", f"{facts.size[0]}x{facts.size[1]} at {rate_text(facts.rate)}, {facts.frames} frames"),
            ("backing", f"{backing.kind}: {backing.reason}"),
            ("loop", f"{len(plan)} frames ({float(len(plan) / take.rate):.2f} s), {plan.join}, {blend}"),
            ("from", f"source frames {take.source_frames[0]} to {take.source_frames[1]}"),
        ],
    )


def schedule_table(schedule: Schedule, names: Sequence[str]) -> Table:
    """Return when which ghost appears, with a line that shows its place in the file."""
    table = Table(title="The appearances", title_justify="left", box=None, pad_edge=False)
    for column in ("from", "to", "ghost", ""):
        table.add_column(column, justify="right" if column in {"from", "to"} else "left", no_wrap=True)
    width = 40
    for one in schedule.appearances:
        begin, end = (round(frame * width / schedule.frames) for frame in (one.start, one.stop))
        bar = "." * begin + "#" * max(end - begin, 1)
        seconds = [f"{float(frame / schedule.rate):.1f} s" for frame in (one.start, one.stop)]
        table.add_row(*seconds, Text(names[one.ghost]), Text(bar.ljust(width, ".")[:width]))
    return table


def rate_text(rate: Fraction) -> str:
    """Return a rate as people write it.

    >>> rate_text(Fraction(30000, 1001))
    '29.97 fps'
    """
    return f"{float(rate):.4g} fps"
