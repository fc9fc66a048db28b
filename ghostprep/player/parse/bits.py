"""What the parsers share: bits, start codes, NAL units, and the notes taken of a stream's pictures."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final

_START: Final = re.compile(b"\x00\x00\x01")


@dataclass(slots=True)
class CodedStream:
    """What the headers of a picture stream say; the pictures are handed in one by one, in file order.

    As it is it takes note of nothing; each coding has its own.
    """

    # "I", "P" or "B" for each picture ("IP" where its slices differ); "" without a slice
    kinds: list[str] = field(default_factory=list, kw_only=True)
    # whether each stands on its own, and nothing after it refers to what came before (IDR)
    instant: list[bool] = field(default_factory=list, kw_only=True)

    def add(self, data: bytes) -> None:
        """Take note of one coded picture with the headers before it; EOFError if it ends in one."""


class BitReader:
    """Reads bits from the first byte's highest on; EOFError where the data end before what is asked for."""

    def __init__(self, data: bytes) -> None:
        self._value = int.from_bytes(data, "big")
        self.left = len(data) * 8

    def bits(self, count: int) -> int:
        """Return the next `count` bits as an unsigned number."""
        if count > self.left:
            raise EOFError(f"{count} bits wanted, {self.left} left")
        self.left -= count
        return (self._value >> self.left) & ((1 << count) - 1)

    def flag(self) -> bool:
        """Return the next bit."""
        return self.bits(1) == 1

    def unsigned(self) -> int:
        """Return the next unsigned Exp-Golomb number (ITU-T H.264, 9.1)."""
        zeros = 0
        while not self.flag():
            zeros += 1
            if zeros > 31:  # 2^32 - 2 is the largest number
                raise EOFError("an Exp-Golomb number is longer than 32 bits")
        return (1 << zeros) - 1 + self.bits(zeros)

    def signed(self) -> int:
        """Return the next signed Exp-Golomb number (ITU-T H.264, 9.1.1)."""
        code = self.unsigned()
        return (code + 1) // 2 if code % 2 else -(code // 2)


def without_stuffing(payload: bytes) -> bytes:
    """Return a NAL unit's payload without its emulation prevention bytes (H.264, 7.4.1).

    >>> without_stuffing(bytes([1, 0, 0, 3, 1, 0, 0, 3])).hex()
    '010000010000'
    """
    return payload.replace(b"\x00\x00\x03", b"\x00\x00")


def units_by_length(data: bytes, length_bytes: int) -> Iterator[bytes]:
    """Yield a sample's NAL units, each behind its length (ISO/IEC 14496-15); EOFError: one is cut short."""
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


def sized_units(config: bytes, at: int, count: int) -> tuple[list[bytes], int]:
    """Return `count` units behind lengths of two bytes (avcC, hvcC), and the place after them."""
    units = []
    for _ in range(count):
        begin, at = at + 2, at + 2 + int.from_bytes(config[at : at + 2], "big")
        units.append(config[begin:at])
    return units, at
