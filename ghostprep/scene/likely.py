"""What a builder is likely to answer: a box in proportion to the answers so far, in its own unit."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from ghostprep.scene.lengths import MM_PER, parse_length
from ghostprep.scene.model import CORD_MM, standing_side


@dataclass(frozen=True, slots=True)
class Answers:
    """The answers so far, read as millimetres, numbers and words."""

    given: Mapping[str, Any]
    """Question keys to answers."""

    @property
    def units(self) -> str:
        """The builder's unit."""
        return str(self.given.get("units", "mm"))

    @property
    def inches(self) -> bool:
        """Whether the ruler is in inches."""
        return self.units == "in"

    def mm(self, key: str, otherwise: float = 0.0) -> float:
        """Return a length in mm; `otherwise` where it was left out or not asked yet."""
        value = self.given.get(key)
        return otherwise if value is None else parse_length(value, self.units)

    def text(self, key: str) -> str:
        """Return a word."""
        return str(self.given.get(key, ""))

    def rounded(self, length_mm: float) -> float:
        """Return a length as a ruler shows it: whole millimetres, or inches by the quarter or the 16th."""
        step = 1.0
        if self.inches:
            step = MM_PER["in"] / (4 if abs(length_mm) >= 2 * MM_PER["in"] else 16)
        return round(length_mm / step) * step

    @property
    def upright(self) -> bool:
        """Whether the screen hangs on a side wall."""
        return self.text("screen.wall") in {"left", "right"}

    @property
    def opening_height(self) -> float:
        """The opening's height, or the box's where the front is open."""
        return self.mm("box.opening.height", self.mm("box.height"))

    @property
    def tall(self) -> int:
        """Which side of the raster stands upright in the ghost: 0 its width, 1 its height."""
        return standing_side(self.text("screen.wall"), self.text("screen.top"))


def _lit_width(a: Answers) -> float:
    # as large as has room beside the ghost, and at most as wide as a panel of 4.3 inches
    longest = min(0.55 * a.mm("box.height"), 0.4 * a.mm("box.depth"), 96.0)
    w, h = float(a.given["screen.raster.0"]), float(a.given["screen.raster.1"])
    return longest * min(1.0, w / h)


def _top(a: Answers) -> str:
    wide = a.mm("screen.active.0") > a.mm("screen.active.1")
    if a.upright:
        return "front" if wide else "up"
    return "left" if wide else "front"


def _along(a: Answers) -> float:
    if not a.upright:
        return 0.0
    half_lit, half_body = (a.mm(f"screen.{what}.{a.tall}") / 2 for what in ("active", "body"))
    # a millimetre of the picture below the figure's feet, but the player stays above the floor
    return max(a.mm("ghost.feet") - 1 + half_lit, half_body + 4)


def _deep(a: Answers) -> float:
    width, height, deep = a.mm("box.width"), a.mm("box.height"), a.mm("box.depth")
    half_body = a.mm(f"screen.body.{a.tall if not a.upright else 1 - a.tall}") / 2
    lit = a.mm(f"screen.active.{a.tall}")
    middle = {
        "left": width / 2,
        "right": width / 2,
        "floor": a.mm("ghost.feet") + lit / 2,
        "ceiling": height - a.mm("ghost.feet") - lit / 2,
    }[a.text("screen.wall")]
    # the ghost stands as far behind the screen as the middle of the box is from its face
    return min(max(0.77 * deep - (middle - a.mm("lit.out")), half_body + 8), deep - half_body - 2)


LIKELY: Final[dict[str, str | float | Callable[[Answers], str | float]]] = {
    "units": "mm",
    "title": "My box",
    "scale": "1:24",
    "box.width": 152.4,
    "box.height": lambda a: 0.87 * a.mm("box.width"),
    "box.depth": lambda a: 1.33 * a.mm("box.width"),
    "box.wall": lambda a: 6.35 if a.inches else 6.0,
    "box.opening.width": lambda a: 0.92 * a.mm("box.width"),
    "box.opening.height": lambda a: 0.86 * a.mm("box.height"),
    "box.opening.sill": lambda a: 0.06 * a.mm("box.height"),
    "shelf.depth": lambda a: a.mm("box.depth") + 2 * a.mm("box.wall") + 48,
    "shelf.cord": CORD_MM,
    "viewer.distance": lambda a: 24 * MM_PER["in"] if a.inches else 600.0,
    "viewer.height": lambda a: a.mm("box.opening.sill") + 0.6 * a.opening_height,
    "viewer.sway.0": lambda a: 0.5 * a.mm("box.width"),
    "viewer.sway.1": lambda a: 0.3 * a.mm("box.height"),
    "ghost.figure": lambda a: "5 ft 7 in" if a.inches else "1.7 m",
    "ghost.feet": lambda a: a.mm("box.opening.sill") + 6,
    "screen.wall": "left",
    "screen.raster.0": 320,
    "screen.raster.1": 240,
    "screen.active.0": _lit_width,
    "screen.active.1": lambda a: (
        a.mm("screen.active.0") * a.given["screen.raster.1"] / a.given["screen.raster.0"]
    ),
    "screen.body.0": lambda a: a.mm("screen.active.0") + 16,
    "screen.body.1": lambda a: a.mm("screen.active.1") + 14,
    "screen.body.2": 12.0,
    "screen.top": _top,
    "lit.out": lambda a: a.mm("screen.body.2"),
    "lit.along": _along,
    "lit.deep": _deep,
    "screen.polarisation": "unknown",
    "pane.material": "acrylic",
    "pane.thickness": lambda a: MM_PER["in"] / 16 if a.inches else 2.0,
    "light.scene": 5,
}
"""A value in mm, a number or a word, or how to find one; common practice, no source, where it is a figure."""
