"""Reads the headers of an MPEG-1 picture stream.

References
----------
.. [1] ISO/IEC 11172-2, 2.4.2 (headers of sequence, group of pictures and picture).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from ghostprep.player.parse.bits import BitReader
from ghostprep.player.parse.nal import start_codes

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


@dataclass(slots=True)
class Mpeg1Stream:
    """What the headers say.

    Attributes
    ----------
    streams : tuple of int
        Identifiers of the packets' streams in order of appearance: 0xE0 pictures, 0xC0 sound.
    raster : (int, int)
    rate : Fraction
    buffer_bits : int
        As stated in the sequence header.
    kinds : list of str
        "I", "P" or "B" for each picture.
    instant : list of bool
        Whether each stands on its own.
    closed : list of bool
        For each group of pictures whether it is closed.
    """

    streams: tuple[int, ...]
    raster: tuple[int, int] = (0, 0)
    rate: Fraction = Fraction(0)
    buffer_bits: int = 0
    kinds: list[str] = field(default_factory=list)
    instant: list[bool] = field(default_factory=list)
    closed: list[bool] = field(default_factory=list)
    profile: str = ""

    def add(self, data: bytes) -> None:
        """Take note of one picture with the headers before it."""
        kind = ""
        for at in start_codes(data):
            if at + 9 > len(data):
                break
            code, reader = data[at], BitReader(data[at + 1 : at + 9])
            if code == _SEQUENCE:
                self._sequence(reader)
            elif code == _GROUP:
                reader.bits(25)
                self.closed.append(reader.flag())
            elif code == _PICTURE:
                reader.bits(10)
                kind = {1: "I", 2: "P", 3: "B"}.get(reader.bits(3), "?")
                break
        self.kinds.append(kind)
        self.instant.append(kind == "I")

    def _sequence(self, reader: BitReader) -> None:
        self.raster = (reader.bits(12), reader.bits(12))
        reader.bits(4)
        self.rate = RATES.get(reader.bits(4), Fraction(0))
        reader.bits(19)
        self.buffer_bits = reader.bits(10) * 16384
