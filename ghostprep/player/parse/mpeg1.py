"""Reads an MPEG-1 program stream and the headers of its picture stream.

References
----------
.. [1] ISO/IEC 11172-1, 2.4.3 (packs and packets); ISO/IEC 11172-2, 2.4.2 (headers of sequence,
   group of pictures and picture).
"""

from __future__ import annotations

import mmap
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Final

from ghostprep.player.parse.bits import BitReader

RATES: Final = {
    1: Fraction(24000, 1001),
    2: Fraction(24),
    3: Fraction(25),
    4: Fraction(30000, 1001),
    5: Fraction(30),
    6: Fraction(50),
    7: Fraction(60000, 1001),
    8: Fraction(60),
}
"""Frames a second by the code in the sequence header."""

_PICTURE, _SEQUENCE, _GROUP = 0x00, 0xB3, 0xB8
_SYSTEM_ONLY: Final = range(0xB9, 0x100)


@dataclass(slots=True)
class Mpeg1File:
    """What the headers say.

    Attributes
    ----------
    raster : (int, int)
    rate : Fraction
    bit_rate, buffer_bits : int
        As stated in the sequence header, in bit/s and bit.
    constrained : bool
        Whether it claims the constrained parameters.
    kinds : list of str
        "I", "P" or "B" for each picture.
    sizes : list of int
        Each picture's bytes, with the headers that precede it.
    closed : list of bool
        For each group of pictures whether it is closed.
    streams : list of int
        Identifiers of the packets' streams in order of appearance: 0xE0 pictures, 0xC0 sound.
    is_mpeg2 : bool
        Whether packs have the form of MPEG-2.
    """

    raster: tuple[int, int] = (0, 0)
    rate: Fraction = Fraction(0)
    bit_rate: int = 0
    buffer_bits: int = 0
    constrained: bool = False
    kinds: list[str] = field(default_factory=list)
    sizes: list[int] = field(default_factory=list)
    closed: list[bool] = field(default_factory=list)
    streams: list[int] = field(default_factory=list)
    is_mpeg2: bool = False


def picture_payloads(path: Path) -> Iterator[bytes]:
    """Yield the picture stream's bytes, packet by packet, without the packets' headers.

    Raises
    ------
    ValueError
        It is no program stream.
    """
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data:
        yield from _video(data, Mpeg1File())


def read_mpeg1(path: Path) -> Mpeg1File:
    """Read a program stream.

    Raises
    ------
    ValueError
        It is none, or holds no pictures.
    """
    made = Mpeg1File()
    tail = b""  # a start code may be cut by a packet's end
    before = 0  # bytes since the last picture's end
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data:
        for payload in _video(data, made):
            chunk = tail + payload
            at = chunk.find(b"\x00\x00\x01")
            done = 0
            while at >= 0 and at + 12 <= len(chunk):
                before += at - done
                done = at
                before = _note(made, chunk[at : at + 12], before)
                at = chunk.find(b"\x00\x00\x01", at + 4)
            keep = at if at >= 0 else max(len(chunk) - 3, done)
            before += keep - done
            tail = chunk[keep:]
    if not made.kinds:
        raise ValueError("holds no MPEG-1 pictures")
    made.sizes.append(before + len(tail))
    return made


def _note(made: Mpeg1File, head: bytes, before: int) -> int:
    """Take note of a header; return the bytes of the picture that it belongs to so far."""
    code = head[3]
    begins = code in (_SEQUENCE, _GROUP, _PICTURE) and len(made.sizes) < len(made.kinds)
    if begins:
        made.sizes.append(before)
        before = 0
    reader = BitReader(head[4:])
    if code == _SEQUENCE:
        made.raster = (reader.bits(12), reader.bits(12))
        reader.bits(4)
        made.rate = RATES.get(reader.bits(4), Fraction(0))
        made.bit_rate = reader.bits(18) * 400
        reader.bits(1)
        made.buffer_bits = reader.bits(10) * 16384
        made.constrained = reader.flag()
    elif code == _GROUP:
        reader.bits(25)
        made.closed.append(reader.flag())
    elif code == _PICTURE:
        reader.bits(10)
        made.kinds.append({1: "I", 2: "P", 3: "B"}.get(reader.bits(3), "?"))
    return before


def _video(data: mmap.mmap, made: Mpeg1File) -> Iterator[bytes]:
    """Yield the payloads of the first picture stream's packets."""
    at, end = 0, len(data)
    while at + 6 <= end:
        if data[at : at + 3] != b"\x00\x00\x01":
            raise ValueError("a start code is missing in the program stream")
        code = data[at + 3]
        if code == 0xBA:
            made.is_mpeg2 = data[at + 4] >> 6 == 1
            at += 14 + (data[at + 13] & 7) if made.is_mpeg2 else 12
            continue
        if code == 0xB9:
            return
        after = at + 6 + int.from_bytes(data[at + 4 : at + 6], "big")
        if code not in _SYSTEM_ONLY or after > end:
            raise ValueError("a packet of the program stream is cut short")
        if 0xC0 <= code <= 0xEF:
            if code not in made.streams:
                made.streams.append(code)
            if code == 0xE0:
                yield data[_payload_start(data, at + 6, made.is_mpeg2) : after]
        at = after


def _payload_start(data: mmap.mmap, at: int, is_mpeg2: bool) -> int:
    if is_mpeg2:
        return at + 3 + data[at + 2]
    while data[at] == 0xFF:  # stuffing
        at += 1
    if data[at] >> 6 == 1:  # buffer size
        at += 2
    return at + {2: 5, 3: 10}.get(data[at] >> 4, 1)
