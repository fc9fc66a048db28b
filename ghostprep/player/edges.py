"""How hard a rim the figure keeps, and the laws by which bits and black follow the encoder's settings.

The laws were measured on the sample clips with x264 at 320x240; they only have to be near enough that the
second or third encoding hits, since every figure that counts is measured on the file.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from ghostprep.player.attempt import Setting
from ghostprep.player.guard import Guard


@dataclass(frozen=True, slots=True)
class Edge:
    """One way to treat the figure's rim.

    Attributes
    ----------
    guard : Guard
    hold : float
        See `Setting`.
    cost : float
        Bits for the rim, over those for the hardest one.
    black : float
        Share of near black that it gains over the hardest one.
    coarsest : float
        Quantiser of the figure down to which this rim is kept rather than a softer one chosen.
    """

    guard: Guard
    hold: float
    cost: float
    black: float
    coarsest: float


# Bits for black are bought with what nobody misses first: the finest detail in the figure, that its rim
# wavers by a part of a pixel, the hardness of its rim over a pixel or two, and only then more of the figure.
EDGES: Final = (
    Edge(Guard(floor=8, colour_px=2), 8, 1.0, 0.0, 22),
    Edge(Guard(floor=8, colour_px=3), 16, 0.95, 0.005, 23),
    Edge(Guard(floor=8, colour_px=3, fade_px=0.5), 16, 0.87, 0.005, 25),
    Edge(Guard(floor=12, colour_px=4, fade_px=1), 24, 0.79, 0.010, 26),
    Edge(Guard(floor=12, colour_px=4, fade_px=1.5), 40, 0.70, 0.012, 27),
    Edge(Guard(floor=12, colour_px=5, fade_px=2), 40, 0.65, 0.012, 30),
)

_THOROUGH: Final = 0.95
"""Bits that a thorough search needs for the rim, over those of a quick one."""
_COARSER: Final = 0.06
"""Part of the rim's bits that one quantiser saves."""


def edge_of(setting: Setting) -> Edge:
    """Return the edge that a setting was made with."""
    return next(edge for edge in EDGES if (edge.guard, edge.hold) == (setting.guard, setting.hold))


def figure_share(quality: float, known: float) -> float:
    """Return the bits of a draft at a quantiser, over those at a known one.

    >>> round(figure_share(24, 18), 2)
    0.38
    """
    middle = (quality + known) / 2
    slope = min(max(0.09 + 0.0034 * middle, 0.13), 0.17)
    return math.exp(-slope * (quality - known))


def quality_for(share: float, known: float, *, finest: float, coarsest: float) -> float:
    """Return the quantiser at which a draft takes a share of the bits at a known one, in steps of 1/2."""
    steps = range(round(2 * finest), round(2 * coarsest) + 1)
    return next((q / 2 for q in steps if figure_share(q / 2, known) <= share), math.inf)


def rim_cost(setting: Setting) -> float:
    """Return the bits for the rim, over those of the hardest rim at the finest quantiser."""
    cost = edge_of(setting).cost * math.exp(-_COARSER * (setting.rim or 0))
    # the first few blocks that are left out are by far the dearest
    cost *= 1 - 0.92 * math.sqrt(1 - setting.share)
    return cost * (_THOROUGH if setting.thorough else 1)


def near_gain(setting: Setting) -> float:
    """Return the share of near black that a setting gains over the hardest rim."""
    rim = setting.rim or 0
    lost = 0.009 * rim if rim <= 3 else 0.027 + 0.045 * (rim - 3)
    return edge_of(setting).black - lost - _LEFT_OUT * (1 - setting.share) + 0.003 * setting.thorough


_LEFT_OUT: Final = 0.9


def share_for(spare: float) -> float:
    """Return the part of the near black to be coded finely, if so much more is black than needs be.

    >>> share_for(0.018), share_for(-0.01)
    (0.98, 1.0)
    """
    return round(1 - min(max(spare / _LEFT_OUT, 0.0), 0.08), 3)
