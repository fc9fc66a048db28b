"""How much room words take on a sheet, from the letters' own widths."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING, Final

from ghostprep.optics.sightlines import Rectangle
from ghostprep.scene import MM_PER

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont

INCH_MM: Final = MM_PER["in"]
POINT_MM: Final = INCH_MM / 72
"""A point of typography: a 72nd of an inch."""
_EM: Final = 1000
"""Letters are measured at this size, so that no width is rounded to the raster of a screen."""
_ABOVE: Final = 0.78
_BELOW: Final = 0.24
"""How far letters rise above and hang below their line, in sizes of the letters."""


def width_of(words: str, size_pt: float, *, bold: bool = False) -> float:
    """Return how long words are when written, mm.

    Letters are not drawn closer here, so that the true length is this or a little less.
    """
    return sum(_advance(letter, bold) for letter in words) * size_pt * POINT_MM


def room_of(
    at: tuple[float, float], words: str, size_pt: float, *, bold: bool, ha: str, va: str, turn: float
) -> Rectangle:
    """Return the room that one line of words takes, mm.

    Parameters
    ----------
    at : tuple of float
        Where it is anchored, mm.
    ha : {"left", "center", "right"}
        Which end of the line lies there.
    va : {"baseline", "middle"}
        Whether its base line or the middle of its capitals lies there.
    turn : float
        Degrees anticlockwise about the anchor.
    """
    long, size = width_of(words, size_pt, bold=bold), size_pt * POINT_MM
    start = -long * {"left": 0.0, "center": 0.5, "right": 1.0}[ha]
    down = MIDDLE * size if va == "middle" else 0.0
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    xs, ys = [], []
    for x in (start, start + long):
        for y in (-_BELOW * size - down, _ABOVE * size - down):
            xs.append(at[0] + x * cos - y * sin)
            ys.append(at[1] + x * sin + y * cos)
    return Rectangle(min(xs), min(ys), max(xs), max(ys))


MIDDLE: Final = 0.36
"""Half the height of capitals and figures, in sizes of the letters."""


@lru_cache(maxsize=2)
def _font(bold: bool) -> FreeTypeFont:
    from matplotlib.font_manager import FontProperties, findfont
    from PIL import ImageFont

    font = findfont(FontProperties(family="DejaVu Sans", weight="bold" if bold else "normal"))
    return ImageFont.truetype(font, _EM)


@lru_cache(maxsize=1024)
def _advance(letter: str, bold: bool) -> float:
    """Return a letter's width in sizes of the letters; a letter that the font lacks has its box's width."""
    return _font(bold).getlength(letter) / _EM
