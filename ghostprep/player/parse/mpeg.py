"""Reads the headers of MPEG-1 and MPEG-4 Part 2 pictures.

References
----------
.. [1] ISO/IEC 11172-2, 2.4.2 (headers of sequence, group of pictures and picture).
.. [2] ISO/IEC 14496-2, 6.2.3 (video object layer), 6.2.5 (video object plane).
"""

from __future__ import annotations

from dataclasses import dataclass, field

from ghostprep.player.parse.bits import BitReader, CodedStream, start_codes

_PICTURE, _SEQUENCE, _GROUP = 0x00, 0xB3, 0xB8


@dataclass(slots=True)
class Mpeg1Stream(CodedStream):
    """What the headers say."""

    # identifiers of the packets' streams in order of appearance: 0xE0 pictures, 0xC0 sound
    streams: tuple[int, ...]
    buffer_bits: int = 0  # as stated in the sequence header
    closed: list[bool] = field(default_factory=list)  # for each group of pictures whether it is closed

    def add(self, data: bytes) -> None:
        """Take note of one picture with the headers before it."""
        kind = ""
        for at in start_codes(data):
            if at + 9 > len(data):
                break
            code, reader = data[at], BitReader(data[at + 1 : at + 9])
            if code == _SEQUENCE:
                reader.bits(12 + 12 + 4 + 4 + 19)
                self.buffer_bits = reader.bits(10) * 16384
            elif code == _GROUP:
                reader.bits(25)
                self.closed.append(reader.flag())
            elif code == _PICTURE:
                reader.bits(10)
                kind = {1: "I", 2: "P", 3: "B"}.get(reader.bits(3), "?")
                break
        self.kinds.append(kind)
        self.instant.append(kind == "I")


@dataclass(frozen=True, slots=True)
class Layer:
    """What the video object layer says about the tools in use."""

    interlaced: bool
    quarter_pel: bool
    sprites: bool


@dataclass(slots=True)
class Mpeg4Stream(CodedStream):
    """What the headers of a whole stream say; a picture that moves sprites is of kind "S"."""

    layer: Layer | None = None

    def add(self, data: bytes) -> None:
        """Take note of one coded frame with the headers before it."""
        kind = ""
        for at in start_codes(data):
            if at + 1 >= len(data):
                break
            code = data[at]
            if 0x20 <= code <= 0x2F and self.layer is None:
                self.layer = _layer(BitReader(data[at + 1 : at + 61]))
            elif code == 0xB6:
                kind = "IPBS"[data[at + 1] >> 6]
                break
        self.kinds.append(kind)
        self.instant.append(kind == "I")


def _layer(r: BitReader) -> Layer:
    r.bits(9)
    version = 1
    if r.flag():
        version = r.bits(4)
        r.bits(3)
    if r.bits(4) == 15:  # sample aspect
        r.bits(16)
    if r.flag():
        r.bits(3)
        if r.flag():  # buffer parameters with their marker bits
            r.bits(79)
    r.bits(2)  # shape: rectangular in every profile that is taken here
    r.bits(1)
    resolution = r.bits(16)
    r.bits(1)
    if r.flag():
        r.bits(max(1, (resolution - 1).bit_length()))
    r.bits(1 + 13 + 1 + 13 + 1)  # width and height, with markers around them
    interlaced = r.flag()
    r.bits(1)
    sprites = r.bits(1 if version == 1 else 2) != 0
    quarter = False
    if version != 1 and not sprites:
        r.bits(1)
        if not r.flag():  # no tables of its own
            quarter = r.flag()
    return Layer(interlaced, quarter, sprites)
