"""The settings that are tried for each coding, best first."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from ghostprep.player.attempt import Setting
from ghostprep.player.guard import Guard
from ghostprep.player.profile import Profile

_RIM: Final = 2
"""Quantiser at which nearly all black beside the figure comes back exactly (steps of 0.8)."""

_GUARDS: Final = (
    Guard(colour_px=2),
    Guard(colour_px=3, fade_px=0.5, smooth_px=6, smooth_sigma=1.0),
    Guard(colour_px=4, fade_px=1, smooth_px=10, smooth_sigma=1.5),
    Guard(colour_px=5, fade_px=2, smooth_px=12, smooth_sigma=2.0),
    Guard(colour_px=6, fade_px=3, smooth_px=14, smooth_sigma=3.0),
)
"""Treatments of the rim, the mildest first; each halves the way to what the next one costs."""

_KEYED_H264: Final = (
    Setting(3, guard=_GUARDS[0]),
    *(Setting(quality, _RIM, 0.98, _GUARDS[0]) for quality in (6, 10, 14, 18, 22, 26)),
    *(Setting(quality, _RIM, 0.97, _GUARDS[1]) for quality in (22, 26)),
    *(Setting(quality, _RIM, 0.965, _GUARDS[2]) for quality in (24, 28)),
    *(Setting(quality, _RIM, 0.955, _GUARDS[3]) for quality in (23, 27, 31)),
    *(Setting(quality, _RIM, 0.945, _GUARDS[4]) for quality in (27, 31, 36)),
)
_PLAIN_H264: Final = tuple(Setting(quality, plain=True) for quality in range(10, 41, 3))
_SCALES: Final = (1, 2, 3, 4, 5, 6, 7, 8, 10, 12, 14, 17, 20, 24, 28, 31)


def ladder(profile: Profile, *, keyed: bool) -> tuple[Setting, ...]:
    """Return the settings to choose from, best first.

    Parameters
    ----------
    profile : Profile
    keyed : bool
        Whether there is black around a figure to be kept black.
    """
    match profile.codec:
        case "h264":
            return _KEYED_H264 if keyed else _PLAIN_H264
        case "mjpeg":
            return tuple(Setting(scale, plain=not keyed) for scale in (0.25, 0.5, 0.75, *_SCALES))
        case "hevc":
            scales = (2, 4, 6, 8, 10, 13, 16, 19, 22, 25, 28, 32, 36, 40)
            return tuple(Setting(scale, plain=not keyed) for scale in scales)
        case "ffv1":
            return (Setting(0),)
        case _:
            return tuple(Setting(scale, plain=not keyed) for scale in _SCALES)


def good_enough(profile: Profile, setting: Setting) -> bool:
    """Return whether nobody would see what a better setting brings."""
    if profile.codec in ("h264", "hevc"):
        return setting.quality <= 14 and setting.guard == _GUARDS[0]
    return False  # these are quick to encode: all of the search is made


def variants(setting: Setting) -> tuple[Setting, ...]:
    """Return the same setting with more and with fewer bits for the rim, the blackest first."""
    if setting.rim is None:
        return (setting,)
    return tuple(
        replace(setting, rim=setting.rim + more, share=min(1.0, setting.share + wider))
        for more, wider in ((0, 0.03), (0, 0.012), (0, 0.0), (1, 0.0), (2, 0.0), (3, -0.01), (4, -0.02))
    )
