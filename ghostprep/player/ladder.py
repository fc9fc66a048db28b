"""The settings that are tried for each coding, best first."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from ghostprep.player.attempt import Setting
from ghostprep.player.guard import Guard
from ghostprep.player.profile import Profile

_SHARP: Final = Guard(floor=8, colour_px=2)
_STILL: Final = Guard(floor=8, colour_px=3, still=10)
_SOFT: Final = Guard(floor=8, colour_px=3, fade_px=0.5, still=10)
_SOFTER: Final = Guard(floor=8, colour_px=4, fade_px=1, still=10)
_SOFTEST: Final = Guard(floor=12, colour_px=4, fade_px=1, still=12)
_LAST: Final = Guard(floor=12, colour_px=5, fade_px=2, still=12)


_COARSEST_RIM: Final = 4


_VARIANTS: Final = (
    (-3, 0.03),
    (-2, 0.02),
    (-1, 0.02),
    (-1, 0),
    (0, 0.015),
    (0, 0),
    (0, -0.015),
    (1, 0),
    (2, 0),
)
"""Quantiser of the rim and part of the near black, the blackest first; a step is about 0.01 of near black."""


@dataclass(frozen=True, slots=True)
class Ladder:
    """Settings of falling cost.

    Attributes
    ----------
    settings : tuple of Setting
        Best first.
    look : Setting or None
        Tried before all others: to learn where the figure's rim runs, or since most loops need no more.
    enough : int
        Nobody would see what those before this one bring.
    black : int
        From this one on, black at the figure's rim is no longer asked for.
    """

    settings: tuple[Setting, ...]
    look: Setting | None = None
    enough: int = 0
    black: int = 0


# Quantisers: at a rim of 2 (steps of 0.8) nearly all black beside the figure comes back exactly, at 4 (steps
# of 1) enough of it; the figure itself is seen to be coarser from about 25 on. So black is bought with
# what nobody misses first: detail in the figure, then its noise, then the hardness of its rim over
# a pixel or two. Where that does not do it black gives way, not the figure: a lost face is seen, a few
# grey pixels beside it hardly are.
_KEYED_H264: Final = Ladder(
    (
        Setting(10, 2, 0.98, _SHARP),
        Setting(14, 2, 0.98, _SHARP),
        Setting(18, 3, 0.98, _SHARP),
        Setting(22, 4, 0.98, _SHARP),
        Setting(22, 4, 0.98, _STILL),
        Setting(24, 4, 0.98, _STILL),
        Setting(23, 4, 0.98, _SOFT),
        Setting(23, 4, 0.98, _SOFTER),
        Setting(25, 4, 0.98, _SOFTEST),
        Setting(27, 3, 0.98, _LAST),
        *(Setting(26, rim, 0.965, _LAST) for rim in (5, 6, 7, 8, 9, 10, 12, 14, 18)),
        *(Setting(quality, guard=_SOFTER) for quality in range(25, 43, 3)),
    ),
    look=Setting(18, guard=_SHARP),
    enough=1,
    black=10,
)
_PLAIN: Final = tuple(Setting(quality, plain=True) for quality in range(12, 42, 2))
_PLAIN_H264: Final = Ladder(_PLAIN, look=_PLAIN[1], enough=1)
_SCALES: Final = (1, 2, 3, 4, 5, 6, 7, 8, 10, 12, 14, 17, 20, 24, 28, 31)
_FINE_TABLES: Final = (0.25, 0.5, 0.75)
_HEVC: Final = (2, 4, 6, 8, 10, 13, 16, 19, 22, 25, 28, 32, 36, 40)


def ladder(profile: Profile, *, keyed: bool) -> Ladder:
    """Return the settings to choose from.

    Parameters
    ----------
    profile : Profile
    keyed : bool
        Whether there is black around a figure to be kept black.
    """
    match profile.codec:
        case "h264":
            return _KEYED_H264 if keyed else _PLAIN_H264
        case "hevc":
            return Ladder(_scaled(_HEVC, keyed=keyed), enough=4)
        case "mjpeg":
            return Ladder(_scaled((*_FINE_TABLES, *_SCALES), keyed=keyed))
        case "ffv1":
            return Ladder((Setting(0),))
        case _:
            return Ladder(_scaled(_SCALES, keyed=keyed))


def _scaled(scales: tuple[float, ...], *, keyed: bool) -> tuple[Setting, ...]:
    guard = _SHARP if keyed else Guard(colour_px=0)
    return tuple(Setting(scale, guard=guard, plain=not keyed) for scale in scales)


def variants(setting: Setting) -> tuple[Setting, ...]:
    """Return the same setting with more and with fewer bits for the rim, the blackest first.

    Settings that no longer ask for black have none.
    """
    if setting.rim is None or setting.rim > _COARSEST_RIM:
        return (setting,)
    every = (
        replace(setting, rim=max(0, setting.rim + rim), share=round(min(1.0, setting.share + share), 3))
        for rim, share in _VARIANTS
    )
    return tuple(dict.fromkeys(every))
