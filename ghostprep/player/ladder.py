"""The settings that are tried for a loop: one line of them, of falling cost, best first."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from ghostprep.player.attempt import Setting
from ghostprep.player.guard import Guard
from ghostprep.player.profile import Profile


@dataclass(frozen=True, slots=True)
class Ladder:
    """Settings of falling cost.

    Attributes
    ----------
    rungs : tuple of Setting
        Best first.
    fall : float
        By how much the logarithm of the bits falls from one rung to the next, about; what was measured counts
        instead as soon as two rungs are known.
    kept : int
        Last rung on which black beside the figure is kept; on those below it gives way.
    """

    rungs: tuple[Setting, ...]
    fall: float
    kept: int


_KEYED: Final = Guard(floor=8, colour_px=2)
_WHOLE: Final = Guard(colour_px=0)
_SCALES: Final = (1, 2, 3, 4, 5, 6, 7, 8, 10, 12, 14, 17, 20, 24, 28, 31)
_FINE_TABLES: Final = (0.25, 0.5, 0.75)
_SHARE: Final = 0.985
"""Part of the near black that is coded finely: the dearest 1.5 % of it costs a tenth of the rim's bits."""


def ladder(profile: Profile, *, keyed: bool, bought: bool = False) -> Ladder:
    """Return the settings to choose from.

    Parameters
    ----------
    profile : Profile
    keyed : bool
        Whether there is black around a figure to be kept black.
    bought : bool
        Whether it shall have bits of its own.
    """
    if bought:
        return _black_bought()
    match profile.codec:
        case "h264" | "hevc":
            # the quantiser's step doubles every six (ITU-T H.264, 8.5.9)
            return _all_alike(range(14, 44, 2), fall=0.28, keyed=keyed)
        case "mjpeg":
            return _all_alike((*_FINE_TABLES, *_SCALES), fall=0.2, keyed=keyed)
        case "ffv1":
            return _all_alike((0,), fall=1, keyed=False)
        case _:
            return _all_alike(_SCALES, fall=0.2, keyed=keyed)


def _all_alike(qualities: range | tuple[float, ...], *, fall: float, keyed: bool) -> Ladder:
    guard = _KEYED if keyed else _WHOLE
    rungs = tuple(Setting(quality, guard=guard, plain=not keyed) for quality in qualities)
    return Ladder(rungs, fall, len(rungs) - 1)


def _black_bought() -> Ladder:
    """Return how bits for black are found: what nobody misses goes first.

    First the finest detail in the figure; then that its rim wavers by a part of a pixel, and the hardness of
    the rim over a pixel or two; and only then black: a lost face is seen, a little grey beside it hardly.
    """
    finest = [Setting(quality, rim=0, share=_SHARE, guard=_KEYED) for quality in (12, 14, 16, 18)]
    settled = []
    for quality in range(14, 31):
        fade = max(0.0, (quality - 22) / 4)
        guard = replace(_KEYED, colour_px=2 + 1.5 * fade, fade_px=fade)
        settled.append(replace(finest[0], quality=quality, guard=guard, hold=2 * quality - 28, settled=True))
    greyer = [replace(settled[-1], rim=rim) for rim in (1, 2, 3, 4, 5, 6, 8, 10, 13, 16, 20, 24)]
    return Ladder((*finest, *settled, *greyer), fall=0.08, kept=len(finest) + len(settled) - 1)
