"""``ghostprep chart``: a test loop for the real box, and what was seen of it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ghostprep.cli import PATH, YesOrNo

if TYPE_CHECKING:
    from ghostprep.chart.seen import Corrected


@click.command(short_help="Make a test loop for the real box, or take in what was seen.")
@click.argument("out", type=PATH, required=False)
@click.option("--scene", type=PATH, required=True, help="Scene file.")
@click.option("--seen", "look", is_flag=True, help="Ask what was seen and correct the scene file.")
@click.option("--sign", metavar="HOW", help="How the letter F was seen; --seen shows the eight ways.")
@click.option("--across", metavar="LENGTH", help="Measured length of the ruler seen lying, as '15/16 in'.")
@click.option("--up", metavar="LENGTH", help="Measured length of the ruler seen standing.")
@click.option(
    "--last-step", type=int, metavar="N", help="The lowest grey step that can be told from black; 0: none."
)
@click.option(
    "--glow-step",
    type=int,
    metavar="N",
    help="The grey step that is as much brighter than the chart's black as that black is brighter than the "
    "dark around it; 0: no glow.",
)
@click.option(
    "--range-shows", type=YesOrNo(), metavar="yes|no", help="Whether a square is seen in the window R."
)
@click.option(
    "--whole", type=YesOrNo(), metavar="yes|no", help="Whether all four edges have their bright line."
)
@click.option("--yes", is_flag=True, help="Correct the scene file without a question.")
@click.option("--overwrite", is_flag=True, help="Replace OUT if ghostprep wrote it.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object on stdout.")
def command(
    out: Path | None, *, scene: Path, look: bool, yes: bool, overwrite: bool, as_json: bool, **answers: Any
) -> None:
    """Write the chart of a scene to OUT (chart.mp4, or the player's own ending).

    Put it on the player, look into the box, then tell what was seen: --seen asks for
    everything, or give the answers as options. It shows what would change in the scene
    file and asks; comments stay, and the old file is kept beside the new one. A length
    without a unit is in the scene's own.

    \b
    Examples:
      ghostprep chart --scene scene.toml
      ghostprep chart --scene scene.toml --seen
      ghostprep chart --scene scene.toml --seen --sign mirrored --across "1 9/16 in"
    """
    told = any(value is not None for value in answers.values())
    if look or told:
        if out is not None:
            raise click.UsageError("OUT is for a new chart; what was seen goes into the scene file")
        _take_in(scene, answers if told else None, yes=yes, as_json=as_json)
        return
    if yes:
        raise click.UsageError("--yes belongs to --seen")
    from ghostprep.chart.write import write_chart
    from ghostprep.cli import show
    from ghostprep.words import counted, typed

    to = show.console(as_json=as_json)
    with show.progress_bars(to) as progress:
        made = write_chart(scene, out, overwrite=overwrite, progress=progress)
    if as_json:
        show.print_json(made.as_dict())
    show.print_line(to, f"{made.path} written for {made.profile}: {counted(made.frames, 'frame')}")
    show.print_line(
        to,
        "put it on the player and look into the box: its rulers are "
        f"{made.length(made.across_mm)} across and {made.length(made.up_mm)} up",
    )
    show.print_next(to, (typed("chart", "--scene", scene, "--seen"), "tell what you saw"))


def _take_in(scene: Path, answers: dict[str, Any] | None, *, yes: bool, as_json: bool) -> None:
    from ghostprep.chart.seen import Seen, corrections_for
    from ghostprep.cli.chart_ask import ask_seen
    from ghostprep.cli.options import length_in
    from ghostprep.scene import load_scene

    if answers is None:
        seen = ask_seen(scene)
    else:
        units = load_scene(scene).units
        for name in ("across", "up"):
            told = answers.pop(name)
            answers[f"{name}_mm"] = None if told is None else length_in(told, units, where=f"--{name}")
        seen = Seen(**answers)
    _show(scene, corrections_for(scene, seen), yes=yes, as_json=as_json)


def _show(scene: Path, corrected: Corrected, *, yes: bool, as_json: bool) -> None:
    """Show what would change, ask, and write; without a terminal to ask, only `yes` writes."""
    from ghostprep.cli import show
    from ghostprep.words import typed

    to = show.console(as_json=as_json)
    show.print_findings(to, corrected.findings)
    if not corrected.corrections:
        show.print_line(to, f"{scene} is right as it is; nothing was changed")
        show.print_next(to, (typed("make", "CLIP", "--scene", scene), "make the loop for this box"))
    for change in corrected.corrections:
        show.print_line(to, f"{change.key}: {change.before} -> {change.after}")
    old = None
    if corrected.corrections and (yes or (not as_json and _agreed(scene))):
        old = corrected.write()
        show.print_line(to, f"{scene} is corrected; as it was it lies in {old}")
        show.print_next(
            to, (typed("chart", "--scene", scene, "--overwrite"), "make the chart again and look once more")
        )
    elif corrected.corrections:
        show.print_line(to, f"{scene} was not changed; --yes corrects it")
    if as_json:
        show.print_json(
            {**corrected.as_dict(), "changed": old is not None, "old": None if old is None else str(old)}
        )


def _agreed(scene: Path) -> bool:
    try:
        return click.confirm(f"Correct {scene}", err=True)
    except click.Abort:
        click.echo(err=True)
        return False  # nobody is there to answer
