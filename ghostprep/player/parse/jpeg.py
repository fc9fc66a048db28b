"""Reads the frame header of a JPEG picture.

References
----------
.. [1] ITU-T T.81 (09/1992), B.2.2 (frame header), table B.1 (markers).
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field
from typing import Final

from ghostprep.player.parse.bits import CodedStream

_ALONE: Final = {0x01, *range(0xD0, 0xD8)}


@dataclass(frozen=True, slots=True)
class JpegHeader:
    """What the start-of-frame segment says."""

    baseline: bool  # SOF0: sequential, Huffman, 8 bit
    raster: tuple[int, int]
    sampling: str  # "4:2:0", "4:2:2", "4:4:4", "grey" or the factors as stored
    whole: bool  # whether it ends with the end-of-image marker


@dataclass(slots=True)
class JpegStream(CodedStream):
    """What the headers of a stream of pictures say; each is known by its header, and most have the same."""

    headers: set[JpegHeader] = field(default_factory=set)

    def add(self, data: bytes) -> None:
        """Take note of one picture."""
        self.headers.add(read_jpeg_header(data))
        self.kinds.append("I")
        self.instant.append(True)


def read_jpeg_header(data: bytes) -> JpegHeader:
    """Read a picture's frame header; ValueError: it is no JPEG, EOFError: it ends before that header."""
    if data[:2] != b"\xff\xd8":
        raise ValueError("is not a JPEG picture")
    at = 2
    while at + 4 <= len(data):
        if data[at] != 0xFF:
            raise ValueError("a JPEG marker is missing")
        marker = data[at + 1]
        if marker == 0xFF:  # fill byte
            at += 1
            continue
        if marker in _ALONE:
            at += 2
            continue
        (size,) = struct.unpack_from(">H", data, at + 2)
        if 0xC0 <= marker <= 0xCF and marker not in (0xC4, 0xC8, 0xCC):
            return _frame_header(marker, data[at + 4 : at + 2 + size], data)
        at += 2 + size
    raise EOFError("a JPEG picture ends before its frame header")


def _frame_header(marker: int, body: bytes, data: bytes) -> JpegHeader:
    depth, height, width, parts = struct.unpack_from(">BHHB", body)
    factors = tuple(body[7 + 3 * i] for i in range(parts))
    sampling = {
        (0x11,): "grey",
        (0x22, 0x11, 0x11): "4:2:0",
        (0x21, 0x11, 0x11): "4:2:2",
        (0x11, 0x11, 0x11): "4:4:4",
    }.get(factors, " ".join(f"{factor:02x}" for factor in factors))
    whole = data.rstrip(b"\x00")[-2:] == b"\xff\xd9"
    return JpegHeader(marker == 0xC0 and depth == 8, (width, height), sampling, whole)
