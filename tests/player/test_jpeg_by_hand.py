"""JPEG headers laid out by hand after ITU-T T.81: table B.1 (markers), B.2.2 (frame header)."""

from __future__ import annotations

import numpy as np
import pytest

from ghostprep.player.encode.mjpeg import _FINEST, _table
from ghostprep.player.parse.jpeg import read_jpeg_header

SOI, EOI = b"\xff\xd8", b"\xff\xd9"


def segment(marker: int, body: bytes) -> bytes:
    return bytes([0xFF, marker]) + (len(body) + 2).to_bytes(2, "big") + body


def frame_header(marker: int, factors: list[int], depth: int = 8) -> bytes:
    """Of a picture 320 wide and 240 high: precision, lines, samples a line, and each component's factors."""
    parts = b"".join(bytes([n + 1, factor, n > 0]) for n, factor in enumerate(factors))
    return segment(marker, bytes([depth, 0, 240, 1, 64, len(factors)]) + parts)


FULL = [0x22, 0x11, 0x11]


@pytest.mark.parametrize(
    ("factors", "sampling"),
    [
        (FULL, "4:2:0"),
        ([0x21, 0x11, 0x11], "4:2:2"),
        ([0x11, 0x11, 0x11], "4:4:4"),
        ([0x11], "grey"),
        ([0x41, 0x11, 0x11], "41 11 11"),
    ],
)
def test_how_colours_are_sampled(factors: list[int], sampling: str) -> None:
    header = read_jpeg_header(SOI + frame_header(0xC0, factors) + EOI)
    assert (header.raster, header.sampling, header.baseline, header.whole) == (
        (320, 240),
        sampling,
        True,
        True,
    )


# table B.1: C0 is baseline; C4 (Huffman tables), C8 (reserved) and CC (arithmetic conditioning) are no frames
@pytest.mark.parametrize("passed_over", [0xC4, 0xC8, 0xCC, 0xDB, 0xE0, 0xEF, 0xFE])
def test_segments_that_are_no_frame_header_are_passed_over(passed_over: int) -> None:
    other = segment(passed_over, bytes([8, 0, 1, 0, 1, 1, 1, 0x11, 0]))
    fill = b"\xff\xff"  # B.1.1.2: any marker may be preceded by fill bytes
    data = SOI + other + fill + frame_header(0xC0, FULL) + EOI
    assert read_jpeg_header(data).raster == (320, 240)


@pytest.mark.parametrize("alone", [0x01, 0xD0, 0xD7])
def test_markers_that_stand_alone_have_no_length(alone: int) -> None:
    data = SOI + bytes([0xFF, alone]) + frame_header(0xC0, FULL) + EOI
    assert read_jpeg_header(data).raster == (320, 240)


@pytest.mark.parametrize("marker", [0xC1, 0xC2, 0xC3, 0xC5, 0xC9, 0xCF])
def test_other_frames_are_not_baseline(marker: int) -> None:
    assert not read_jpeg_header(SOI + frame_header(marker, FULL) + EOI).baseline


def test_twelve_bits_are_not_baseline_and_a_cut_picture_is_not_whole() -> None:
    assert not read_jpeg_header(SOI + frame_header(0xC0, FULL, depth=12) + EOI).baseline
    assert not read_jpeg_header(SOI + frame_header(0xC0, FULL)).whole
    assert read_jpeg_header(SOI + frame_header(0xC0, FULL) + EOI + bytes(5)).whole


@pytest.mark.parametrize(
    ("data", "error", "says"),
    [
        (b"\x89PNG", ValueError, "is not a JPEG picture"),
        (SOI + b"\x12\x34\x56\x78", ValueError, "a JPEG marker is missing"),
        (SOI + segment(0xE0, bytes(4)), EOFError, "ends before its frame header"),
        (SOI + b"\xff\xff\xff\xff", EOFError, "ends before its frame header"),
    ],
)
def test_what_is_no_picture(data: bytes, error: type[Exception], says: str) -> None:
    with pytest.raises(error, match=says):
        read_jpeg_header(data)


@pytest.mark.parametrize("finest_detail", [4, 40, 200])
def test_a_table_of_our_own_rises_evenly_to_the_finest_detail(finest_detail: int) -> None:
    """By the sum of row and column: 0 for the mean, 14 for the finest detail."""
    table = np.array(list(map(int, _table(finest_detail).split(",")))).reshape(8, 8)
    assert table[0, 0] == _FINEST
    assert table[7, 7] == finest_detail
    rise = np.add.outer(range(8), range(8)) * (finest_detail - _FINEST) / 14
    assert np.abs(table - _FINEST - rise).max() <= 0.5
