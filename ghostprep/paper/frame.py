"""Where the views stand on the sheet, and how the scene becomes paper."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import numpy as np

from ghostprep.optics import Plan
from ghostprep.optics.bodies import named
from ghostprep.optics.sightlines import Rectangle, bounds, outline
from ghostprep.optics.vectors import Vector
from ghostprep.paper.measures import FIRST_MM, STEP_MM
from ghostprep.paper.sheet import PAPERS
from ghostprep.paper.tags import KEY_MM

MARGIN_MM: Final = 10.0
HEAD_MM: Final = 11.0
"""Left white at each edge of the sheet, and taken by its head."""
EYE_MM: Final = 12.0
"""How long the lines from the eye are drawn before the opening."""
CAPTION_MM: Final = 6.0
"""Above each view."""
BOARD_MM: Final = 2.5
"""How thick the shelf is drawn, mm of paper."""
_GAP_MM: Final = 6.0
_WIDEST_GAP_MM: Final = 22.0
"""Between views at least, and at most where the sheet has more room."""
_CAPTION_WIDE_MM: Final = 40.0
"""What a view's caption takes; over the lines from the eye there is room for it too."""


def rows(count: int) -> float:
    """Return the room that rows of measures take beside a view, mm."""
    return FIRST_MM + STEP_MM * (count - 1) + 3.0


@dataclass(frozen=True, slots=True)
class DrawnView:
    """One view of the box on the sheet."""

    axes: tuple[int, int]
    """Which of x, y, z runs right on the paper, and which up."""
    origin: tuple[float, float]
    """Where the scene's origin lies on the sheet, mm."""
    factor: float
    """Millimetres of paper for one of the scene."""
    extent: Rectangle
    """What is shown, in the view's own plane, mm of the scene."""

    def on(self, points: Vector) -> Vector:
        """Return points of the scene (..., 3) on the sheet (..., 2), mm."""
        return self.flat(np.asarray(points, np.float64)[..., list(self.axes)])

    def flat(self, points: Vector) -> Vector:
        """Return points (..., 2) that already lie in the view's plane on the sheet, mm."""
        return np.asarray(points, np.float64) * self.factor + self.origin

    def hull(self, points: Vector) -> Vector:
        """Return the outline of a body's corners (n, 3) on the sheet, mm."""
        return outline(self.on(points))

    @property
    def room(self) -> Rectangle:
        """The extent on the sheet, mm."""
        return bounds(self.flat(self.extent.corners()))


@dataclass(frozen=True, slots=True)
class Arrangement:
    """Sheet, scale and the three views: the eye's above the plan, the side beside it."""

    paper: str
    size: tuple[float, float]
    """Of the sheet, mm."""
    scale: Fraction
    """Paper : scene."""
    above: DrawnView
    side: DrawnView
    front: DrawnView
    key: tuple[float, float, float]
    """Left edge, upper edge and width of the key, mm."""


def arrange(plan: Plan, key_height: Callable[[float], float]) -> Arrangement:
    """Return the largest usual scale at which the three views and the key stand on one sheet.

    `key_height` returns how high the key is at a width, mm.
    """
    inches = plan.scene.units == "in"
    paper = "letter" if inches else "a4"
    w, h = PAPERS[paper]
    extents = _extents(plan)
    for scale in _scales(inches):
        for size in ((h, w), (w, h)):
            made = _placed(extents, paper, size, scale, key_height)
            if made is not None:
                return made
    raise AssertionError("any box fits at some scale")


def scale_words(scale: Fraction) -> str:
    """Return a scale as "1:2.5" or "2:1"."""
    return f"{float(scale):g}:1" if scale > 1 else f"1:{float(1 / scale):g}"


def _scales(inches: bool) -> Iterator[Fraction]:
    """Give the usual scales of drawings, the largest first; ISO 5455, and some between them."""
    yield from (Fraction(n) for n in ((4, 2, 1) if inches else (5, 2, 1)))
    for power in range(12):
        if inches:
            yield from (Fraction(1, part * 2**power) for part in (2, 3))
        else:
            parts = ("2", "2.5", "3", "4", "5", "6", "8", "10")
            yield from (1 / (Fraction(part) * 10**power) for part in parts)


def _extents(plan: Plan) -> tuple[Rectangle, Rectangle, Rectangle]:
    """Return what the views from above, from the side and from the front must show, mm of the scene."""
    scene, layout = plan.scene, plan.layout
    box, t = scene.box, scene.box.wall
    half = box.width / 2 + t
    front = 0.0 if box.open_front else -t
    parts = np.vstack(
        [
            [(-half, -t, front), (half, box.height + t, box.depth + t)],
            plan.pane.corners,
            plan.pane.back_corners,
            layout.image.corners(),
            named(plan.world.bodies)["player"][0].block.corners(),
        ]
    )
    shelf = front + max(plan.room.shelf.depth_needed_mm, scene.shelf.depth if scene.shelf else 0.0)
    beside = bounds(parts[:, [2, 1]])
    beside = Rectangle(beside.left, beside.low, max(beside.right, shelf), beside.high)
    return bounds(parts[:, [0, 2]]), beside, Rectangle(-half, -t, half, box.height + t)


def _placed(
    extents: tuple[Rectangle, Rectangle, Rectangle],
    paper: str,
    size: tuple[float, float],
    scale: Fraction,
    key_height: Callable[[float], float],
) -> Arrangement | None:
    """Return the arrangement at a scale, or None if it does not fit."""
    k = float(scale)
    above, side, front = extents
    # the plan stands below the eye's view (same x), the side view beside it (same y)
    x0 = MARGIN_MM + rows(3) - k * min(above.left, front.left)
    column = max(x0 + k * max(above.right, front.right), x0 + k * front.left + _CAPTION_WIDE_MM - EYE_MM)
    z0 = column + _GAP_MM + EYE_MM - k * min(side.left, 0.0)
    right = z0 + max(k * side.right, _CAPTION_WIDE_MM) + rows(3)
    key_left = column + rows(2) + _GAP_MM
    spare_x = size[0] - MARGIN_MM - max(right, key_left + KEY_MM)
    y0 = size[1] - MARGIN_MM - HEAD_MM - CAPTION_MM - k * max(side.high, front.high)
    row = y0 + k * min(side.low, front.low) - BOARD_MM - rows(2) - _GAP_MM
    key_high = row - CAPTION_MM
    zf = key_high - k * above.high
    low = zf + min(k * above.low, -EYE_MM) - rows(2)
    if spare_x < 0.0:
        return None
    wider = min(spare_x * 0.4, _WIDEST_GAP_MM)
    key_left += wider
    key_width = size[0] - MARGIN_MM - key_left
    spare_y = min(low, key_high - key_height(key_width)) - MARGIN_MM
    if spare_y < 0.0:
        return None
    x0, z0 = x0 + wider * 0.3, z0 + wider
    down = min(spare_y * 0.25, _WIDEST_GAP_MM)
    between = min(spare_y * 0.3, _WIDEST_GAP_MM)
    y0, zf, key_high = y0 - down, zf - down - between, key_high - down - between
    return Arrangement(
        paper,
        size,
        scale,
        DrawnView((0, 2), (x0, zf), k, above),
        DrawnView((2, 1), (z0, y0), k, side),
        DrawnView((0, 1), (x0, y0), k, front),
        (key_left, key_high, key_width),
    )
