"""Which rectangle of the opening's plane a view shows, and in how many pixels.

A view has a fixed number of pixels a millimetre of that plane, so the box's front stands still in it while
the eye moves and all behind it shifts.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.optics import Plan
from ghostprep.optics.sightlines import opening_of
from ghostprep.optics.vectors import Vector

_MARGIN: Final = 0.06
"""Room around the opening, as a share of its height."""
_LARGE_ENOUGH: Final = 0.42
"""Share of the view's height that the figure has at least in the near view."""


@dataclass(frozen=True, slots=True)
class Window:
    """The rectangle of the opening's plane that is shown, and its pixels."""

    left: float
    top: float
    """mm."""
    scale: float
    """Pixels a millimetre."""
    size: tuple[int, int]
    """Width and height, px."""

    def project(self, eye: Vector, points: Vector) -> Vector:
        """Return where points (..., 3) of the scene are shown (..., 2) for an eye, px."""
        way = points - eye
        front = eye + way * (-eye[2] / way[..., 2:])
        flat: Vector = (front[..., :2] - (self.left, self.top)) * (self.scale, -self.scale)
        return flat

    def ways(self, eye: Vector) -> Vector:
        """Return the directions (h * w, 3) from an eye through the middles of all pixels, row by row."""
        columns, rows = self.size
        x = self.left + (np.arange(columns) + 0.5) / self.scale
        y = self.top - (np.arange(rows) + 0.5) / self.scale
        front = np.stack([*np.meshgrid(x, y), np.zeros((rows, columns))], axis=-1)
        return (front - eye).reshape(-1, 3)

    def as_dict(self) -> dict[str, object]:
        """Return plain numbers for the page's script."""
        columns, rows = self.size
        return {"left": self.left, "top": self.top, "scale": self.scale, "columns": columns, "rows": rows}


def whole_window(plan: Plan, height_px: int) -> Window:
    """Return the window that shows the opening with a rim of the box's front, `height_px` high."""
    o = opening_of(plan.scene)
    around = _MARGIN * (o.high - o.low)
    scale = height_px / (o.high - o.low + 2 * around)
    columns = max(round((o.right - o.left + 2 * around) * scale), 1)
    return Window((o.left + o.right - columns / scale) / 2, o.high + around, scale, (columns, height_px))


def near_window(plan: Plan, whole: Window) -> Window:
    """Return the window of the same size in which the figure is large; `whole` if it is large there."""
    x, _, z = plan.layout.ghost
    feet, tall = plan.figure.feet_mm, plan.figure.height_mm
    ends = whole.project(plan.layout.eye, np.array([(x, feet + tall, z), (x, feet, z)]))
    low, high = ends.min(axis=0), ends.max(axis=0)
    times = _LARGE_ENOUGH * whole.size[1] / (high[1] - low[1])
    if times <= 1:
        return whole
    scale = whole.scale * times
    size = np.array(whole.size)
    # the near view ends where the whole view ends
    corner = np.clip((low + high) / 2 - size / times / 2, 0, size - size / times) / whole.scale
    return Window(whole.left + float(corner[0]), whole.top - float(corner[1]), scale, whole.size)
