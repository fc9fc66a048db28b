"""Every row of ITU-T H.264 (08/2021) table A-1, as printed, and what follows from it."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.player.h264_level import LEVELS, Demand, least_level, level_named
from ghostprep.player.measured import buffer_kbit

# MaxMBPS, MaxFS, MaxDpbMbs, MaxBR, MaxCPB (the last two in 1000 bit for Baseline and Main)
TABLE = {
    "1": (1485, 99, 396, 64, 175), "1b": (1485, 99, 396, 128, 350), "1.1": (3000, 396, 900, 192, 500),
    "1.2": (6000, 396, 2376, 384, 1000), "1.3": (11880, 396, 2376, 768, 2000),
    "2": (11880, 396, 2376, 2000, 2000), "2.1": (19800, 792, 4752, 4000, 4000),
    "2.2": (20250, 1620, 8100, 4000, 4000), "3": (40500, 1620, 8100, 10000, 10000),
    "3.1": (108000, 3600, 18000, 14000, 14000), "3.2": (216000, 5120, 20480, 20000, 20000),
    "4": (245760, 8192, 32768, 20000, 25000), "4.1": (245760, 8192, 32768, 50000, 62500),
    "4.2": (522240, 8704, 34816, 50000, 62500), "5": (589824, 22080, 110400, 135000, 135000),
    "5.1": (983040, 36864, 184320, 240000, 240000), "5.2": (2073600, 36864, 184320, 240000, 240000),
}  # fmt: skip


def test_each_row_is_as_printed() -> None:
    ours = {
        row.name: (
            row.macroblocks_per_second,
            row.macroblocks,
            row.dpb_macroblocks,
            row.rate_units,
            row.buffer_units,
        )
        for row in LEVELS
    }
    assert ours == TABLE
    assert list(ours) == list(TABLE)


@pytest.mark.parametrize(
    ("profile", "unit"), [("constrained-baseline", 1000), ("main", 1000), ("high", 1250)]
)
@pytest.mark.parametrize("name", TABLE)
def test_bit_rate_and_buffer_end_where_the_table_says(name: str, profile: str, unit: int) -> None:
    rate, buffer = (value * unit for value in TABLE[name][3:])
    small = {"raster": (16, 16), "rate": Fraction(1), "profile": profile}
    level = level_named(name)
    assert Demand(**small, bit_rate=rate, buffer_bits=buffer).fits(level)  # type: ignore[arg-type]
    assert not Demand(**small, bit_rate=rate + 1).fits(level)  # type: ignore[arg-type]
    assert not Demand(**small, buffer_bits=buffer + 1).fits(level)  # type: ignore[arg-type]


def test_769_kbit_are_too_many_for_level_1_3() -> None:
    taken = [
        Demand(raster=(320, 240), rate=Fraction(30), bit_rate=kbps * 1000).fits(level_named("1.3"))
        for kbps in (768, 769)
    ]
    assert taken == [True, False]


@settings(deadline=None, max_examples=150)
@given(
    raster=st.tuples(st.integers(16, 4096), st.integers(16, 2304)),
    rate=st.integers(1, 120),
    bit_rate=st.integers(0, 300_000_000),
)
def test_the_least_level_by_the_printed_table(raster: tuple[int, int], rate: int, bit_rate: int) -> None:
    across, down = ((side + 15) // 16 for side in raster)
    size = across * down
    # clause A.3.1: neither side may be longer than the root of 8 x MaxFS
    fitting = [
        name
        for name, (speed, largest, memory, most, _) in TABLE.items()
        if name != "1b"
        and size <= largest
        and max(across, down) ** 2 <= 8 * largest
        and size * rate <= speed
        and bit_rate <= most * 1000
        and size <= memory
    ]
    found = least_level(Demand(raster=raster, rate=Fraction(rate), bit_rate=bit_rate))
    assert (found.name if found else None) == (fitting[0] if fitting else None)


def test_the_buffer_is_counted_over_two_laps() -> None:
    """By hand: 768 kbit/s at 10/s drain 76.8 kbit a frame; 160 kbit at the end, 160 more as it starts over.

    160 - 76.8 + 160 = 243.2 kbit; within one lap it would be 160.
    """
    assert buffer_kbit([20000] + [100] * 8 + [20000], Fraction(10), 768) == pytest.approx(243.2)
