"""``ghostprep make``: a clip becomes the loop that the player plays."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ghostprep.cli.show import console, facts_table, print_findings, print_json, progress_bars, proofs_table
from ghostprep.cli.values import AutoOr, CropBox, Rate, Size, Time, TimeRange

if TYPE_CHECKING:
    from ghostprep.prepare.report import Result


@click.command(
    "make",
    epilog="Example: ghostprep make sample_media/purser_green.mp4 purser.mp4 --scene sample_media/scene.toml",
)
@click.argument("clip", type=click.Path(path_type=Path))
@click.argument("out", type=click.Path(path_type=Path), required=False)
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
@click.option("--overwrite", is_flag=True, help="Replace OUT if it exists.")
@click.option("--strict", is_flag=True, help="Leave with status 1 if a fault is found.")
@click.option("--json", "as_json", is_flag=True, help="Print the report on stdout.")
def command(clip: Path, out: Path | None, *, strict: bool, as_json: bool, **options: Any) -> None:
    """Turn CLIP into the loop that the player plays, and prove it.

    OUT is CLIP's name with "_loop" in the current folder if left out; a report,
    OUT's name with .json, is written beside it.
    """
    from ghostprep.prepare.make import make
    from ghostprep.prepare.recipe import Recipe

    crossfade = options.pop("crossfade")
    recipe = Recipe(crossfade=None if crossfade is None else float(crossfade), **options)
    to = console(as_json=as_json)
    with progress_bars(to) as progress:
        result = make(clip, out, recipe, progress)
    show_result(result, as_json=as_json)
    if strict and any(finding.level == "fault" for finding in result.findings):
        raise click.exceptions.Exit(1)


def show_result(result: Result, *, as_json: bool) -> None:
    """Print what was made: the report on stdout with `as_json`, tables for people otherwise."""
    to = console(as_json=as_json)
    if as_json:
        print_json(result.as_dict())
        print_findings(to, result.findings)
        return
    facts, plan, output = result.facts, result.plan, result.output
    to.print(
        facts_table(
            "The clip",
            [
                ("file", facts.path.name),
                (
                    "picture",
                    f"{facts.size[0]}x{facts.size[1]} at {rate_text(facts.rate)}, {facts.frames} frames",
                ),
                ("backing", f"{result.backing.kind}: {result.backing.reason}"),
            ],
        )
    )
    blend = f"{plan.method} over {plan.blend} frames" if plan.blend else "plain cut"
    to.print(
        facts_table(
            "The loop",
            [
                ("file", str(output.path)),
                ("frames", f"{len(plan)} ({float(len(plan) / result.loop_rate):.2f} s), {blend}"),
                ("from", f"source frames {result.source_frames[0]} to {result.source_frames[1]}"),
                ("raster", f"{output.raster[0]}x{output.raster[1]} at {rate_text(output.rate)}"),
                ("coding", f"{output.codec} {output.profile} {output.level}".strip()),
                ("size", f"{output.bytes / 1000:,.0f} kB in {output.frames} frames"),
            ],
        )
    )
    to.print(proofs_table(result.proofs))
    print_findings(to, result.findings)


def rate_text(rate: Fraction) -> str:
    """Return a rate as people write it.

    >>> rate_text(Fraction(30000, 1001))
    '29.97 fps'
    """
    return f"{float(rate):.4g} fps"
