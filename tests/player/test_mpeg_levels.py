"""The levels of MPEG-4 Simple Profile, and MPEG-1's constrained parameters, by the pictures they are for."""

from __future__ import annotations

from fractions import Fraction

import pytest

from ghostprep.player.encode.mpeg import (
    MPEG1_BUFFER_BITS,
    MPEG1_KBPS,
    SIMPLE_LEVELS,
    is_constrained,
    simple_level,
)

LEVELS = [
    # name, the largest picture and its rate, buffer in bits, kbit/s
    ("1", (176, 144), 15, 163_840, 64),
    ("2", (352, 288), 15, 655_360, 128),
    ("3", (352, 288), 30, 655_360, 384),
    ("4a", (640, 480), 30, 1_310_720, 4000),
    ("5", (720, 576), 25, 1_835_008, 8000),
    ("6", (1280, 720), 30, 4_063_232, 12000),
]
"""ISO/IEC 14496-2, table N.1, from memory."""


@pytest.mark.parametrize(("name", "raster", "rate", "buffer", "kbps"), LEVELS)
def test_a_level_takes_its_picture_and_no_more(
    name: str, raster: tuple[int, int], rate: int, buffer: int, kbps: int
) -> None:
    level = simple_level(raster, Fraction(rate), kbps)
    assert level is not None
    assert (level.name, level.buffer_bits, level.kbps) == (name, buffer, kbps)
    assert level.code == int(name[0])
    for more in (
        simple_level(raster, Fraction(rate) + Fraction(1, 100), kbps),
        simple_level((raster[0] + 16, raster[1]), Fraction(rate), kbps),
        simple_level(raster, Fraction(rate), kbps + 1),
    ):
        assert more != level
    row = SIMPLE_LEVELS.index(level)
    macroblocks = raster[0] * raster[1] // 256
    assert (SIMPLE_LEVELS[row].macroblocks, level.macroblocks_per_second) == (macroblocks, macroblocks * rate)


@pytest.mark.parametrize(
    ("raster", "rate", "held"),
    [
        ((352, 288), 25, True),
        ((352, 288), Fraction(2501, 100), False),
        ((352, 240), 30, True),
        ((352, 304), 24, False),
        ((768, 112), 24, True),
        ((784, 96), 24, False),
        ((176, 576), 25, True),
        ((160, 592), 24, False),
        ((176, 144), 30, True),
        ((176, 144), 31, False),
    ],
)
def test_constrained_parameters(raster: tuple[int, int], rate: Fraction, held: bool) -> None:
    """ISO/IEC 11172-2, 2.4.3.2, from memory: 768x576, 396 macroblocks, 9900 a second, 30 frames a second."""
    assert is_constrained(raster, Fraction(rate)) is held
    assert (MPEG1_BUFFER_BITS, MPEG1_KBPS * 1000) == (327_680, 4640 * 400)
