"""``ghostprep chart``: a test loop for the real box, and what was seen of it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from ghostprep.chart.seen import Corrected


@click.command(short_help="Make a test loop for the real box, or take in what was seen.")
@click.argument("out", type=click.Path(path_type=Path), required=False)
@click.option("--scene", type=click.Path(path_type=Path), required=True, help="Scene file.")
@click.option("--seen", "look", is_flag=True, help="Ask what was seen and correct the scene file.")
@click.option("--sign", metavar="HOW", help="How the letter F was seen; --seen shows the eight ways.")
@click.option("--across", type=float, metavar="MM", help="Measured length of the lying ruler.")
@click.option("--up", type=float, metavar="MM", help="Measured length of the standing ruler.")
@click.option("--last-step", type=int, metavar="N", help="Lowest step told from black; 0: none.")
@click.option(
    "--glow-step", type=int, metavar="N", help="Step that adds as much as the black glows; 0: no glow."
)
@click.option("--range-shows", type=bool, metavar="yes|no", help="Whether window R shows a square.")
@click.option("--whole", type=bool, metavar="yes|no", help="Whether all four edges have their bright line.")
@click.option("--overwrite", is_flag=True, help="Replace OUT if it exists.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object on stdout.")
def command(
    out: Path | None, *, scene: Path, look: bool, overwrite: bool, as_json: bool, **answers: Any
) -> None:
    """Write the chart of a scene to OUT (chart.mp4, or the player's own ending).

    Put it on the player, look into the box, then tell what was seen: --seen asks for
    everything, or give the answers as options. The scene file is corrected and keeps
    its comments.

    \b
    Examples:
      ghostprep chart --scene scene.toml
      ghostprep chart --scene scene.toml --seen
      ghostprep chart --scene scene.toml --seen --sign mirrored --across 39.2
    """
    if look or any(value is not None for value in answers.values()):
        if out is not None:
            raise click.UsageError("OUT is for a new chart; what was seen goes into the scene file")
        _take_in(scene, answers, as_json=as_json)
        return
    from ghostprep.chart.write import write_chart
    from ghostprep.cli.show import console, print_json, print_line, progress_bars

    to = console(as_json=as_json)
    with progress_bars(to) as progress:
        made = write_chart(scene, out, overwrite=overwrite, progress=progress)
    if as_json:
        print_json(made.as_dict())
    print_line(to, f"{made.path} written for {made.profile}: {made.frames} frames")
    print_line(
        to,
        f"its rulers are {made.across_mm:g} mm across and {made.up_mm:g} mm up; look, then: "
        f"ghostprep chart --scene {scene} --seen",
    )


def _take_in(scene: Path, answers: dict[str, Any], *, as_json: bool) -> None:
    from ghostprep.chart.seen import Seen, correct_scene
    from ghostprep.cli.chart_ask import ask_seen

    if all(value is None for value in answers.values()):
        answers = ask_seen(scene)
    seen = Seen(
        sign=answers["sign"],
        across_mm=answers["across"],
        up_mm=answers["up"],
        last_step=answers["last_step"],
        glow_step=answers["glow_step"],
        range_shows=answers["range_shows"],
        whole=answers["whole"],
    )
    _show(scene, correct_scene(scene, seen), as_json=as_json)


def _show(scene: Path, corrected: Corrected, *, as_json: bool) -> None:
    from ghostprep.cli.show import console, print_findings, print_json, print_line

    to = console(as_json=as_json)
    if as_json:
        print_json(corrected.as_dict())
    print_findings(to, corrected.findings)
    if not corrected.corrections:
        print_line(to, f"{scene} is right as it is; nothing was changed")
        return
    for change in corrected.corrections:
        print_line(to, f"{change.key}: {change.before} -> {change.after}")
    print_line(to, f"{scene} corrected; make the chart again and look once more, then make the loop")
