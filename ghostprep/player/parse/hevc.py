"""Reads parameter sets and slice headers of HEVC.

References
----------
.. [1] ITU-T H.265, 7.3.1.2 (NAL unit header), 7.3.2.2 (sequence parameter set), 7.3.2.3 (picture
   parameter set), 7.3.3 (profile, tier and level), 7.3.6 (slice header); ISO/IEC 14496-15, hvcC.
"""

from __future__ import annotations

from dataclasses import dataclass

from ghostprep.player.parse.bits import BitReader, CodedStream, sized_units, units_by_length, without_stuffing


@dataclass(slots=True)
class HevcStream(CodedStream):
    """What hvcC and the slice headers say; a picture is of the kind of its first slice."""

    profile_idc: int = 0  # 1 is Main; the level times 30
    level_idc: int = 0
    high_tier: bool = False
    raster: tuple[int, int] = (0, 0)
    chroma: int = 1  # chroma_format_idc (1: 4:2:0), bits of luma
    bit_depth: int = 8
    _extra_bits: int = 0
    _length_bytes: int = 4

    @property
    def profile(self) -> str:
        """The profile in words."""
        return {1: "main", 2: "main-10"}.get(self.profile_idc, f"profile {self.profile_idc}")

    @property
    def level(self) -> str:
        """The level as printed in H.265 table A.8."""
        return f"{self.level_idc / 30:g}"

    def add(self, data: bytes) -> None:
        """Take note of one coded picture."""
        for unit in units_by_length(data, self._length_bytes):
            kind = unit[0] >> 1 & 63
            if kind > 21:
                continue
            r = BitReader(without_stuffing(unit[2:24]))
            if not r.flag():
                continue
            if kind >= 16:
                r.flag()
            r.unsigned()
            r.bits(self._extra_bits)
            self.kinds.append("BPI"[r.unsigned()])
            self.instant.append(kind in (19, 20))
            return
        self.kinds.append("")
        self.instant.append(False)


def read_config(config: bytes) -> HevcStream:
    """Return the stream that an hvcC payload announces, without pictures yet.

    Raises
    ------
    IndexError, EOFError
        It is cut short.
    """
    stream = HevcStream(config[1] & 31, config[12], bool(config[1] & 32))
    at = 23
    for _ in range(config[22]):
        kind, count = config[at] & 63, int.from_bytes(config[at + 1 : at + 3], "big")
        units, at = sized_units(config, at + 3, count)
        for unit in units:
            if kind == 33:
                _sequence_set(stream, unit)
            elif kind == 34:
                r = BitReader(without_stuffing(unit[2:]))
                r.unsigned(), r.unsigned(), r.flag(), r.flag()
                stream._extra_bits = r.bits(3)
    stream._length_bytes = (config[21] & 3) + 1
    return stream


def _sequence_set(stream: HevcStream, unit: bytes) -> None:
    r = BitReader(without_stuffing(unit[2:]))
    r.bits(4)
    layers = r.bits(3)
    r.bits(1 + 88 + 8)
    if layers:
        present = [(r.flag(), r.flag()) for _ in range(8)][:layers]
        for profile, level in present:
            r.bits(88 * profile + 8 * level)
    r.unsigned()
    stream.chroma = r.unsigned()
    if stream.chroma == 3:
        r.flag()
    width, height = r.unsigned(), r.unsigned()
    if r.flag():
        left, right, top, bottom = (r.unsigned() for _ in range(4))
        unit_x = 2 if stream.chroma in (1, 2) else 1
        unit_y = 2 if stream.chroma == 1 else 1
        width -= unit_x * (left + right)
        height -= unit_y * (top + bottom)
    stream.raster = (width, height)
    stream.bit_depth = 8 + r.unsigned()
