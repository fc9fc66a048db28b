"""Level limits of H.264.

References
----------
.. [1] ITU-T H.264 (08/2021), Annex A, table A-1 and clause A.3.1; factors for the bit
   rates of the profiles in table A-2.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, NamedTuple


class H264Level(NamedTuple):
    """One row of table A-1."""

    name: str
    macroblocks_per_second: int  # MaxMBPS
    macroblocks: int  # MaxFS
    dpb_macroblocks: int  # MaxDpbMbs
    rate_units: int  # MaxBR, in units of `bit_unit`
    buffer_units: int  # MaxCPB, in the same

    @property
    def idc(self) -> int:
        """The level as stored in a stream (1b has the idc of 1.1, and a flag)."""
        return 11 if self.name == "1b" else round(float(self.name) * 10)


LEVELS: Final = (
    H264Level("1", 1485, 99, 396, 64, 175),
    H264Level("1b", 1485, 99, 396, 128, 350),
    H264Level("1.1", 3000, 396, 900, 192, 500),
    H264Level("1.2", 6000, 396, 2376, 384, 1000),
    H264Level("1.3", 11880, 396, 2376, 768, 2000),
    H264Level("2", 11880, 396, 2376, 2000, 2000),
    H264Level("2.1", 19800, 792, 4752, 4000, 4000),
    H264Level("2.2", 20250, 1620, 8100, 4000, 4000),
    H264Level("3", 40500, 1620, 8100, 10000, 10000),
    H264Level("3.1", 108000, 3600, 18000, 14000, 14000),
    H264Level("3.2", 216000, 5120, 20480, 20000, 20000),
    H264Level("4", 245760, 8192, 32768, 20000, 25000),
    H264Level("4.1", 245760, 8192, 32768, 50000, 62500),
    H264Level("4.2", 522240, 8704, 34816, 50000, 62500),
    H264Level("5", 589824, 22080, 110400, 135000, 135000),
    H264Level("5.1", 983040, 36864, 184320, 240000, 240000),
    H264Level("5.2", 2073600, 36864, 184320, 240000, 240000),
)
"""Table A-1, in order."""


def level_named(name: str) -> H264Level:
    """Return the level of a name as printed in the table; ValueError: no such level."""
    named = {level.name: level for level in LEVELS}
    if name not in named:
        raise ValueError(f"no H.264 level is named {name!r}: {', '.join(named)}")
    return named[name]


def bit_unit(profile: str) -> int:
    """Return the bits that one unit of MaxBR and MaxCPB stands for (table A-2, VCL)."""
    return 1250 if profile == "high" else 1000


def in_macroblocks(raster: tuple[int, int]) -> tuple[int, int]:
    """Return width and height in blocks of 16x16, the last ones filled up."""
    return -(-raster[0] // 16), -(-raster[1] // 16)


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """What a stream asks of its decoder."""

    # width and height in pixels; frames a second
    raster: tuple[int, int]
    rate: Fraction
    profile: str = "constrained-baseline"  # sets how many bits the table's units stand for
    # of the coded pictures, in bit/s and bit
    bit_rate: int = 0
    buffer_bits: int = 0
    references: int = 1  # frames kept by the decoder

    def fits(self, level: H264Level) -> bool:
        """Return whether the stream stays within a level."""
        across, down = in_macroblocks(self.raster)
        size, unit = across * down, bit_unit(self.profile)
        longest = math.isqrt(8 * level.macroblocks)
        return (
            size <= level.macroblocks
            and max(across, down) <= longest
            and size * self.rate <= level.macroblocks_per_second
            and self.bit_rate <= level.rate_units * unit
            and self.buffer_bits <= level.buffer_units * unit
            and self.references <= min(level.dpb_macroblocks // size, 16)
        )


def least_level(stream: Demand) -> H264Level | None:
    """Return the lowest level that a stream stays within; None if there is none.

    Level 1b is passed over: decoders differ in how they read its mark.

    Examples
    --------
    >>> least_level(Demand(raster=(1280, 720), rate=Fraction(30))).name
    '3.1'
    """
    return next((level for level in LEVELS if level.name != "1b" and stream.fits(level)), None)


def highest_rate(level: H264Level, raster: tuple[int, int]) -> Fraction:
    """Return the most frames a second that a level decodes at a raster."""
    return Fraction(level.macroblocks_per_second, math.prod(in_macroblocks(raster)))
