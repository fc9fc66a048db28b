"""What is asked of someone who looks at the chart."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from ghostprep.chart.draw import draw_chart
from ghostprep.chart.seen import SIGNS
from ghostprep.optics import make_plan
from ghostprep.optics.advice.words import Words
from ghostprep.prepare.player_of import profile_of
from ghostprep.scene import load_scene

_LETTER: Final = ("#####", "#....", "###..", "#....", "#....")
"""The chart's sign, as rows of text."""


@dataclass(frozen=True, slots=True)
class Questions:
    """What the questions about one scene's chart depend on."""

    units: str
    """Of the scene file."""
    across: str
    up: str
    """Lengths of the drawn rulers, in words."""
    has_range: bool
    """Whether the chart has a window that shows a wrong range: a lossless file has none."""


def questions_about(path: Path) -> Questions:
    """Return what the questions about a scene file's chart depend on."""
    scene = load_scene(path)
    chart, words = draw_chart(make_plan(scene)), Words(scene.units)
    return Questions(
        scene.units, words(chart.across.length), words(chart.up.length), profile_of(scene).codec != "ffv1"
    )


def signs_text() -> str:
    """Return the eight ways in which the sign may be seen, in two rows, numbered."""
    letter = np.array([[c == "#" for c in row] for row in _LETTER], np.uint8)
    rows = []
    names = list(SIGNS)
    for first in (0, 4):
        rows.append("".join(f"{n:<14}" for n in range(first + 1, first + 5)))
        pictures = [SIGNS[name].apply(letter) for name in names[first : first + 4]]
        for line in zip(*pictures, strict=True):
            rows.append("".join(f"{''.join('##' if v else '  ' for v in row):<14}" for row in line))
        rows.append("")
    return "\n".join(rows)
