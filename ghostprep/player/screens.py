"""What the shape of a screen tells of the device that it is part of."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from ghostprep.finding import Finding

_LONG: Final = Fraction(37, 20)
"""Long over short side from which a screen is a phone's: others end at 16:9 (common practice)."""
_LEAST: Final = 1000
"""Pixels along the long side: players of few pixels have no such corners."""


def about_screen(raster: tuple[int, int]) -> list[Finding]:
    """Return what to look out for on a screen of a raster (width, height).

    A phone's corners are round, a camera stands in its picture, and its system lays bars over it; none of
    that is known from the raster, so the builder is told where to look.

    Examples
    --------
    >>> [finding.subject for finding in about_screen((2400, 1080))], about_screen((3840, 2160))
    (['screen'], [])
    """
    long, short = max(raster), min(raster)
    if long < _LEAST or Fraction(long, short) < _LONG:
        return []
    return [
        Finding(
            "caution",
            "screen",
            f"{raster[0]}x{raster[1]} is a phone's screen: its round corners, the camera in it and the "
            "system's bars cut the picture",
            "play the chart in full screen and look whether all of its border is seen; keep the figure away "
            "from what is cut",
        )
    ]
