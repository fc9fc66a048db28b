"""Finds the start codes in coded pictures, and cuts those of H.264 and HEVC into NAL units."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

_START: Final = re.compile(b"\x00\x00\x01")


def units_by_length(data: bytes, length_bytes: int) -> Iterator[bytes]:
    """Yield the NAL units of a sample in which each is preceded by its length (ISO/IEC 14496-15).

    Raises
    ------
    EOFError
        A length points past the sample's end.
    """
    at = 0
    while at < len(data):
        size = int.from_bytes(data[at : at + length_bytes], "big")
        at += length_bytes
        if size == 0 or at + size > len(data):
            raise EOFError("a NAL unit is longer than its sample")
        yield data[at : at + size]
        at += size


def start_codes(data: bytes) -> Iterator[int]:
    """Yield where what follows each 00 00 01 begins (ISO/IEC 11172-2 and 14496-2 mark headers so, too)."""
    return (match.end() for match in _START.finditer(data))


def units_by_start(data: bytes) -> Iterator[bytes]:
    """Yield the NAL units between start codes (ITU-T H.264, Annex B)."""
    begins = list(start_codes(data))
    for begin, after in zip(begins, [*(begin - 3 for begin in begins[1:]), len(data)], strict=True):
        if unit := data[begin:after].rstrip(b"\x00"):
            yield unit
