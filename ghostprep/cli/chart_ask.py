"""``ghostprep chart --seen``: puts the questions about the chart and takes the answers."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from ghostprep.chart.layout import STEPS
from ghostprep.chart.seen import SIGNS, questions_about, signs_text
from ghostprep.cli.options import length_in
from ghostprep.errors import InputError


def ask_seen(scene: Path) -> dict[str, Any]:
    """Ask for everything that the chart shows; an empty answer leaves a question out."""
    about = questions_about(scene)

    def length(text: str) -> float:
        return length_in(text, about.units, where="the ruler")

    click.echo("Answer what you see in the box; an empty answer leaves a question out.\n", err=True)
    click.echo("The letter F is seen like this:", err=True)
    click.echo(signs_text(), err=True)
    number = _ask("Which of the eight", click.IntRange(1, len(SIGNS)))
    return {
        "sign": None if number is None else list(SIGNS)[number - 1],
        "across": _ask(f"Length of the lying ruler (drawn as {about.across})", length),
        "up": _ask(f"Length of the standing ruler (drawn as {about.up})", length),
        "last_step": _ask(
            "With the lamps off: the lowest number of the grey steps that you can tell from black (0: none)",
            click.IntRange(0, len(STEPS)),
        ),
        "glow_step": _ask(
            "Which step is as much brighter than the picture's black as that black is brighter than the dark "
            "beside the picture (0: the black does not glow)",
            click.IntRange(0, len(STEPS)),
        ),
        "range_shows": _ask("Is a square seen in the window R (yes, no)", bool) if about.has_range else None,
        "whole": _ask("Has the picture its bright line at all four edges (yes, no)", bool),
    }


def _ask(question: str, kind: Any) -> Any:
    kind = click.types.convert_type(kind)

    def read(text: str) -> Any:
        try:
            return None if not text.strip() else kind.convert(text.strip(), None, None)
        except InputError as error:
            raise click.BadParameter(str(error)) from None

    return click.prompt(question, default="", show_default=False, value_proc=read, err=True)
