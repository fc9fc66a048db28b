"""Reads parameter sets and slice headers of HEVC.

References
----------
.. [1] ITU-T H.265, 7.3.1.2 (NAL unit header), 7.3.2.3 (picture parameter set), 7.3.6 (slice header);
   ISO/IEC 14496-15, hvcC.
"""

from __future__ import annotations

from dataclasses import dataclass

from ghostprep.player.parse.bits import BitReader, CodedStream, sized_units, units_by_length, without_stuffing


@dataclass(slots=True)
class HevcStream(CodedStream):
    """What hvcC and the slice headers say; a picture is of the kind of its first slice."""

    high_tier: bool = False
    _extra_bits: int = 0
    _length_bytes: int = 4

    @classmethod
    def of(cls, config: bytes) -> HevcStream:
        """Return the stream, still without pictures, that an hvcC payload announces; EOFError: it is cut."""
        stream = cls(bool(config[1] & 32), _length_bytes=(config[21] & 3) + 1)
        at = 23
        for _ in range(config[22]):
            kind, count = config[at] & 63, int.from_bytes(config[at + 1 : at + 3], "big")
            units, at = sized_units(config, at + 3, count)
            for unit in units:
                if kind == 34:
                    r = BitReader(without_stuffing(unit[2:]))
                    r.unsigned(), r.unsigned(), r.flag(), r.flag()
                    stream._extra_bits = r.bits(3)
        return stream

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
