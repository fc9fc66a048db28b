"""MPEG-1 and MPEG-4 Simple Profile for older players.

References
----------
.. [1] ISO/IEC 11172-2, 2.4.3.2, constrained parameters: 768 x 576 px, 396 macroblocks, 9900 of them
   a second, 30 frames a second, buffer 20 x 16384 bit, 1,856,000 bit/s.
.. [2] ISO/IEC 14496-2, annex N, limits of Simple Profile.
"""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Final, NamedTuple

from ghostprep.errors import InputError
from ghostprep.player.attempt import Setting, Shape
from ghostprep.player.encode.common import FORMS, REPEATABLE, colour_tags, key_interval
from ghostprep.player.h264_level import in_macroblocks
from ghostprep.player.profile import Profile


class SimpleLevel(NamedTuple):
    """A level of MPEG-4 Simple Profile: code, largest frame and rate in macroblocks, bits."""

    name: str
    code: int
    macroblocks: int
    macroblocks_per_second: int
    buffer_bits: int
    kbps: int

    def fits(self, raster: tuple[int, int], rate: Fraction, kbps: float | Fraction) -> bool:
        """Return whether a stream stays within the level."""
        size = math.prod(in_macroblocks(raster))
        return size <= self.macroblocks and size * rate <= self.macroblocks_per_second and kbps <= self.kbps


SIMPLE_LEVELS: Final = (
    SimpleLevel("1", 1, 99, 1485, 10 * 16384, 64),
    SimpleLevel("2", 2, 396, 5940, 40 * 16384, 128),
    SimpleLevel("3", 3, 396, 11880, 40 * 16384, 384),
    SimpleLevel("4a", 4, 1200, 36000, 80 * 16384, 4000),
    SimpleLevel("5", 5, 1620, 40500, 112 * 16384, 8000),
    SimpleLevel("6", 6, 3600, 108000, 248 * 16384, 12000),
)
MPEG1_BUFFER_BITS: Final = 20 * 16384
MPEG1_KBPS: Final = 1856
"""The most of a constrained-parameters stream (ISO/IEC 11172-2, 2.4.3.2)."""


def simple_level(raster: tuple[int, int], rate: Fraction, kbps: int) -> SimpleLevel | None:
    """Return the lowest level of MPEG-4 Simple Profile that a stream stays within."""
    fitting = (level for level in SIMPLE_LEVELS if level.fits(raster, rate, kbps))
    return next(fitting, None)


def is_constrained(raster: tuple[int, int], rate: Fraction) -> bool:
    """Return whether raster and rate are within MPEG-1's constrained parameters."""
    size = math.prod(in_macroblocks(raster))
    return raster[0] <= 768 and raster[1] <= 576 and size <= 396 and size * rate <= 9900 and rate <= 30


def mpeg1_arguments(profile: Profile, shape: Shape, setting: Setting) -> tuple[str, ...]:
    """Return ffmpeg's output arguments, for frames that come in as i420."""
    kbps = min(profile.bits.rate_kbps or MPEG1_KBPS, MPEG1_KBPS)
    buffer_bits = min((profile.bits.buffer_kbit or 10**6) * 1000, MPEG1_BUFFER_BITS)
    return (
        "-vf", colour_tags(profile.colour),
        "-c:v", "mpeg1video",
        *_tools(profile, shape, setting),
        "-maxrate", f"{kbps}k",
        "-bufsize", str(buffer_bits),
        *REPEATABLE[:-2],
        # the flags are one option: bit-exact, and every group closed
        "-flags", "+bitexact+cgop",
        *FORMS[profile.container],
    )  # fmt: skip


def mpeg4_arguments(profile: Profile, shape: Shape, setting: Setting) -> tuple[str, ...]:
    """Return ffmpeg's output arguments, for frames as i420; InputError: more than Simple Profile allows."""
    level = simple_level(shape.raster, shape.rate, profile.bits.rate_kbps or 0)
    if level is None:
        asked = f"{shape.raster[0]}x{shape.raster[1]} at {float(shape.rate):g} frames a second"
        what = f"{asked} is more than MPEG-4 Simple Profile allows"
        remedy = "choose a lower --fps or a smaller raster"
        raise InputError(what, where=f"profile {profile.name}", remedy=remedy)
    return (
        "-vf", colour_tags(profile.colour),
        "-c:v", "mpeg4",
        "-profile:v", "0",
        "-level:v", str(level.code),
        *(("-vtag", profile.tag) if profile.tag else ()),
        *_tools(profile, shape, setting),
        *REPEATABLE,
        *FORMS[profile.container],
    )  # fmt: skip


def _tools(profile: Profile, shape: Shape, setting: Setting) -> tuple[str, ...]:
    key = key_interval(profile, shape.rate)
    # no picture coarser than was asked for, or noise would crawl in the black
    return (
        "-bf", "0",
        "-g", str(key),
        "-sc_threshold", "1000000000",
        "-qmin", "1",
        "-q:v", f"{setting.quality:g}",
        "-mbd", "rd",
        "-trellis", "1",
    )  # fmt: skip
