"""``ghostprep chart --seen``: puts the questions about the chart and takes the answers."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from ghostprep.chart.layout import STEPS
from ghostprep.chart.questions import questions_about, signs_text
from ghostprep.chart.seen import SIGNS, Seen, corrections_for
from ghostprep.cli import YesOrNo
from ghostprep.cli.options import length_in
from ghostprep.errors import InputError


def ask_seen(scene: Path) -> Seen:
    """Ask for everything that the chart shows; an empty answer leaves a question out.

    An answer that cannot be right beside those before it is asked for again.
    """
    about = questions_about(scene)
    seen = Seen()

    def ask(name: str, question: str, kind: Any) -> None:
        nonlocal seen
        kind = click.types.convert_type(kind)

        def read(text: str) -> Seen:
            if not text.strip():
                return seen
            try:
                told = replace(seen, **{name: kind.convert(text.strip(), None, None)})
                corrections_for(scene, told)
            except InputError as error:
                raise click.BadParameter(str(error)) from None
            return told

        seen = click.prompt(question, default="", show_default=False, value_proc=read, err=True)

    def length(text: str) -> float:
        return length_in(text, about.units, where="the ruler")

    eight: Any = click.IntRange(1, len(SIGNS))
    signs = list(SIGNS)

    def sign(text: str) -> str:
        number: int = eight.convert(text, None, None)
        return signs[number - 1]

    click.echo("Answer what you see in the box; an empty answer leaves a question out.\n", err=True)
    click.echo("The letter F is seen like this:", err=True)
    click.echo(signs_text(), err=True)
    ask("sign", "Which of the eight", sign)
    lying, standing = (about.up, about.across) if seen.lies else (about.across, about.up)
    ask("across_mm", f"Length of the lying ruler (drawn as {lying})", length)
    ask("up_mm", f"Length of the standing ruler (drawn as {standing})", length)
    ask(
        "last_step",
        "With the lamps off: the lowest number of the grey steps that you can tell from black (0: none)",
        click.IntRange(0, len(STEPS)),
    )
    ask(
        "glow_step",
        "Which step is as much brighter than the picture's black as that black is brighter than the dark "
        "beside the picture (0: the black does not glow)",
        click.IntRange(0, len(STEPS)),
    )
    if about.has_range:
        ask("range_shows", "Is a square seen in the window R (yes, no)", YesOrNo())
    ask("whole", "Has the picture its bright line at all four edges (yes, no)", YesOrNo())
    return seen
