"""``ghostprep chart --seen``: puts the questions about the chart and takes the answers."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import click
import numpy as np

from ghostprep.chart.draw import draw_chart
from ghostprep.chart.layout import STEPS
from ghostprep.chart.seen import SIGNS
from ghostprep.cli.values import length_in
from ghostprep.errors import InputError
from ghostprep.optics import make_plan
from ghostprep.optics.advice.words import Words
from ghostprep.prepare.setup import profile_of
from ghostprep.scene import load_scene

_LETTER: Final = ("#####", "#....", "###..", "#....", "#....")


def ask_seen(scene: Path) -> dict[str, Any]:
    """Ask for everything that the chart shows; an empty answer leaves a question out."""
    plan = make_plan(load_scene(scene))
    chart, words = draw_chart(plan), Words(plan.scene.units)

    def length(text: str) -> float:
        return length_in(text, plan.scene.units, where="the ruler")

    click.echo("Answer what you see in the box; an empty answer leaves a question out.\n", err=True)
    click.echo("The letter F is seen like this:", err=True)
    click.echo(signs_text(), err=True)
    number = _ask("Which of the eight", click.IntRange(1, len(SIGNS)))
    return {
        "sign": None if number is None else list(SIGNS)[number - 1],
        "across": _ask(f"Length of the lying ruler (drawn as {words(chart.across.length)})", length),
        "up": _ask(f"Length of the standing ruler (drawn as {words(chart.up.length)})", length),
        "last_step": _ask(
            "With the lamps off: the lowest number of the grey steps that you can tell from black (0: none)",
            click.IntRange(0, len(STEPS)),
        ),
        "glow_step": _ask(
            "Which step is as much brighter than the picture's black as that black is brighter than the dark "
            "beside the picture (0: the black does not glow)",
            click.IntRange(0, len(STEPS)),
        ),
        "range_shows": None
        if _lossless(plan.scene)
        else _ask("Is a square seen in the window R (yes, no)", bool),
        "whole": _ask("Has the picture its bright line at all four edges (yes, no)", bool),
    }


def signs_text() -> str:
    """Return the eight ways in which the sign may be seen, in two rows, numbered."""
    letter = np.array([[c == "#" for c in row] for row in _LETTER])
    rows = []
    names = list(SIGNS)
    for first in (0, 4):
        some = names[first : first + 4]
        rows.append("".join(f"{n:<14}" for n in range(first + 1, first + 5)))
        pictures = [SIGNS[name].apply(letter.astype(np.uint8)) for name in some]
        for line in range(len(_LETTER)):
            rows.append(
                "".join(f"{''.join('##' if v else '  ' for v in picture[line]):<14}" for picture in pictures)
            )
        rows.append("")
    return "\n".join(rows)


def _lossless(scene: Any) -> bool:
    return bool(profile_of(scene).codec == "ffv1")


def _ask(question: str, kind: Any) -> Any:
    kind = click.types.convert_type(kind)

    def read(text: str) -> Any:
        try:
            return None if not text.strip() else kind.convert(text.strip(), None, None)
        except InputError as error:
            raise click.BadParameter(str(error)) from None

    return click.prompt(question, default="", show_default=False, value_proc=read, err=True)
