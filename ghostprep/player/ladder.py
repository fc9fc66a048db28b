"""The settings that are tried where no black beside a figure is bought: best first."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from ghostprep.player.attempt import Setting
from ghostprep.player.guard import Guard
from ghostprep.player.profile import Profile


def _by_scale(quality: float) -> float:
    """Bits over the scale of JPEG's and MPEG's tables."""
    return float(quality**-0.75)


def _by_step(quality: float) -> float:
    """Bits over the quantiser of H.264 and HEVC, whose step doubles every six."""
    return math.exp(-0.14 * quality)


@dataclass(frozen=True, slots=True)
class Ladder:
    """Settings of falling cost.

    Attributes
    ----------
    settings : tuple of Setting
        Best first.
    start : int
        The rung to try first.
    law : callable
        Bits, in any unit, of a setting's quality.
    careful : bool
        Whether the last encoding is worth a thorough search.
    """

    settings: tuple[Setting, ...]
    start: int = 0
    law: Callable[[float], float] = _by_scale
    careful: bool = False


_PLAIN: Final = tuple(Setting(quality, plain=True) for quality in range(14, 44, 2))
_SCALES: Final = (1, 2, 3, 4, 5, 6, 7, 8, 10, 12, 14, 17, 20, 24, 28, 31)
_FINE_TABLES: Final = (0.25, 0.5, 0.75)


def ladder(profile: Profile, *, keyed: bool, small: bool) -> Ladder:
    """Return the settings to choose from.

    Parameters
    ----------
    profile : Profile
    keyed : bool
        Whether there is black around a figure to be kept black.
    small : bool
        Whether the raster is so small that a thorough search takes no time.
    """
    match profile.codec:
        case "h264":
            return Ladder(_PLAIN, law=_by_step, careful=small)
        case "hevc":
            return Ladder(_PLAIN, law=_by_step)
        case "mjpeg":
            return Ladder(_scaled((*_FINE_TABLES, *_SCALES), keyed=keyed))
        case "ffv1":
            return Ladder((Setting(0),))
        case _:
            return Ladder(_scaled(_SCALES, keyed=keyed))


def _scaled(scales: tuple[float, ...], *, keyed: bool) -> tuple[Setting, ...]:
    guard = Guard(floor=8, colour_px=2) if keyed else Guard(colour_px=0)
    return tuple(Setting(scale, guard=guard, plain=not keyed) for scale in scales)
