"""Where a view stands on the sheet, and how the scene becomes paper."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import numpy as np

from ghostprep.optics.sightlines import outline
from ghostprep.optics.vectors import Vector
from ghostprep.page.sheet import PAPERS
from ghostprep.scene import Scene

_METRIC: Final = (
    Fraction(5),
    Fraction(2),
    Fraction(1),
    Fraction(1, 2),
    Fraction(2, 5),
    Fraction(1, 3),
    Fraction(1, 4),
)
_INCHES: Final = (
    Fraction(4),
    Fraction(2),
    Fraction(1),
    Fraction(1, 2),
    Fraction(3, 8),
    Fraction(1, 4),
    Fraction(1, 8),
)
MARGIN_MM: Final = 10.0
HEAD_MM: Final = 12.0
ROWS_MM: Final = 20.0
"""Beside a view: room for its rows of measures."""
KEY_MM: Final = 74.0
"""Least width of the key."""
EYE_MM: Final = 15.0
"""How long the lines from the eye are drawn before the opening."""


@dataclass(frozen=True, slots=True)
class View:
    """One view of the box on the sheet.

    Attributes
    ----------
    axes : tuple of int
        Which of x, y, z runs right on the paper, and which up.
    origin : tuple of float
        Where the scene's origin lies on the sheet, mm.
    factor : float
        Millimetres of paper for one of the scene.
    """

    axes: tuple[int, int]
    origin: tuple[float, float]
    factor: float

    def on(self, points: Vector) -> Vector:
        """Return points of the scene (..., 3) on the sheet (..., 2), mm."""
        placed: Vector = np.asarray(points, np.float64)[..., list(self.axes)] * self.factor + self.origin
        return placed

    def flat(self, points: Vector) -> Vector:
        """Return points (..., 2) that already lie in the view's plane on the sheet, mm."""
        placed: Vector = np.asarray(points, np.float64) * self.factor + self.origin
        return placed

    def hull(self, points: Vector) -> Vector:
        """Return the outline of a body's corners (n, 3) on the sheet, mm."""
        return outline(self.on(points))


@dataclass(frozen=True, slots=True)
class Arrangement:
    """Sheet, scale and the three views: the eye's above the plan, the side beside it.

    Attributes
    ----------
    paper : str
    size : tuple of float
        Of the sheet, mm.
    scale : Fraction
        Paper : scene.
    above, side, front : View
    key : tuple of float
        Left, lowest and highest of the key, mm.
    """

    paper: str
    size: tuple[float, float]
    scale: Fraction
    above: View
    side: View
    front: View
    key: tuple[float, float, float]


def arrange(scene: Scene) -> Arrangement:
    """Return the largest usual scale at which the three views and the key stand on a usual sheet."""
    inches = scene.units == "in"
    best: Arrangement | None = None
    for paper in ("letter", "tabloid") if inches else ("a4", "a3"):
        w, h = PAPERS[paper]
        for size in ((h, w), (w, h)):
            for scale in _scales(inches):
                made = _placed(scene, paper, size, scale)
                if made is not None and (
                    best is None or (made.paper == best.paper and made.scale > best.scale)
                ):
                    best = made
                if made is not None:
                    break
        if best is not None and best.scale * 4 >= 1:
            return best
    assert best is not None
    return best


def _scales(inches: bool) -> list[Fraction]:
    usual = list(_INCHES if inches else _METRIC)
    steps = (Fraction(1, 2),) if inches else (Fraction(1, 2), Fraction(2, 5), Fraction(1, 2))
    while usual[-1] > Fraction(1, 400):
        usual += [usual[-1] * steps[len(usual) % len(steps)]]
    return usual


def _placed(scene: Scene, paper: str, size: tuple[float, float], scale: Fraction) -> Arrangement | None:
    """Return the arrangement at a scale, or None if it does not fit."""
    box, k = scene.box, float(scale)
    t = box.wall
    wide, high, deep = (k * (side + 2 * t) for side in (box.width, box.height, box.depth))
    # what shows outside the box: the ghost may stand behind it
    left = MARGIN_MM + ROWS_MM
    base = MARGIN_MM + EYE_MM + 10.0
    top = base + deep + ROWS_MM
    beside = left + wide + EYE_MM + 10.0
    right = beside + deep + ROWS_MM
    if top + high + HEAD_MM + MARGIN_MM > size[1] or right + MARGIN_MM > size[0]:
        return None
    key_left = left + wide + ROWS_MM + 8.0
    if key_left + KEY_MM + MARGIN_MM > size[0]:
        return None
    # what is left over goes to all sides, so that the views do not huddle in a corner
    spare_x = size[0] - MARGIN_MM - max(right, key_left + KEY_MM)
    spare_y = size[1] - HEAD_MM - MARGIN_MM - top - high
    left, beside, key_left = left + spare_x * 0.2, beside + spare_x * 0.45, key_left + spare_x * 0.45
    base, top = base + spare_y * 0.3, top + spare_y * 0.7
    middle = left + wide / 2
    above = View((0, 2), (middle, base + k * t), k)
    front = View((0, 1), (middle, top + k * t), k)
    side = View((2, 1), (beside + k * t, top + k * t), k)
    return Arrangement(paper, size, scale, above, side, front, (key_left, MARGIN_MM, top - ROWS_MM))


def scale_words(scale: Fraction) -> str:
    """Return a scale as "1:2.5" or "2:1"."""
    return f"{float(scale):g}:1" if scale > 1 else f"1:{float(1 / scale):g}"
