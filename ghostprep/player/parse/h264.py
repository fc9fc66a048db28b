"""Reads parameter sets and slice headers of H.264, and what a whole stream says.

References
----------
.. [1] ITU-T H.264 (08/2021), 7.3.2.1.1 (sequence parameter set), 7.3.2.2 (picture parameter set), 7.3.3
   (slice header), table 7-1 (kinds of NAL units); ISO/IEC 14496-15 (avcC).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final, NamedTuple

from ghostprep.player.parse.bits import (
    BitReader,
    CodedStream,
    sized_units,
    units_by_length,
    units_by_start,
    without_stuffing,
)

_HIGH_KINDS: Final = {100, 110, 122, 244, 44, 83, 86, 118, 128, 138, 139, 134, 135}


class SequenceSet(NamedTuple):
    """What a sequence parameter set says beside what PyAV tells."""

    references: int  # largest number of reference frames
    frames_only: bool  # no fields, hence no interlacing


@dataclass(frozen=True, slots=True)
class PictureSet:
    """What a picture parameter set says about the tools in use."""

    cabac: bool
    slice_groups: int
    weighted: bool
    transform_8x8: bool
    redundant: bool


def read_sequence_set(unit: bytes) -> SequenceSet:
    """Read a sequence parameter set's NAL unit, header byte included; EOFError: it is cut short."""
    r = BitReader(without_stuffing(unit[1:]))
    profile, _, _ = r.bits(8), r.bits(8), r.bits(8)
    r.unsigned()
    if profile in _HIGH_KINDS:
        chroma = r.unsigned()
        if chroma == 3:
            r.flag()
        r.unsigned(), r.unsigned(), r.flag()
        if r.flag():
            for index in range(8 if chroma != 3 else 12):
                if r.flag():
                    _skip_scaling_list(r, 16 if index < 6 else 64)
    r.unsigned()
    order_kind = r.unsigned()
    if order_kind == 0:
        r.unsigned()
    elif order_kind == 1:
        r.flag(), r.signed(), r.signed()
        for _ in range(r.unsigned()):
            r.signed()
    references = r.unsigned()
    r.flag(), r.unsigned(), r.unsigned()
    return SequenceSet(references, frames_only=r.flag())


def _skip_scaling_list(r: BitReader, size: int) -> None:
    last = following = 8
    for _ in range(size):
        if following:
            following = (last + r.signed()) % 256
        last = following or last


def read_picture_set(unit: bytes) -> PictureSet:
    """Read a picture parameter set's NAL unit, header byte included; EOFError: it is cut short."""
    payload = without_stuffing(unit[1:]).rstrip(b"\x00")
    r = BitReader(payload)
    r.unsigned(), r.unsigned()
    cabac = r.flag()
    r.flag()
    groups = r.unsigned() + 1
    if groups > 1:
        # what follows depends on the map of groups, which none of our profiles allows
        return PictureSet(cabac, groups, False, False, False)
    r.unsigned(), r.unsigned()
    weighted = r.flag()
    r.bits(2)
    r.signed(), r.signed(), r.signed()
    r.flag(), r.flag()
    redundant = r.flag()
    # more data before the stop bit: the part that only High has
    stop = (payload[-1] & -payload[-1]).bit_length()
    transform_8x8 = r.flag() if r.left > stop else False
    return PictureSet(cabac, groups, weighted, transform_8x8, redundant)


@dataclass(slots=True)
class H264Stream(CodedStream):
    """What the parameter sets and slice headers of a whole stream say."""

    # different parameter sets, in order of appearance
    sequences: dict[bytes, SequenceSet] = field(default_factory=dict)
    pictures: list[PictureSet] = field(default_factory=list)
    # for each access unit whether parameter sets stand in it, before its first slice
    sets_before: list[bool] = field(default_factory=list)
    _length_bytes: int = 0

    @classmethod
    def of(cls, config: bytes) -> H264Stream:
        """Return a stream with the sets of an avcC payload; without one, units come behind start codes."""
        stream = cls()
        if config[:1] != b"\x01":
            return stream
        stream._length_bytes = (config[4] & 3) + 1
        at = 5
        for mask in (31, 255):
            units, at = sized_units(config, at + 1, config[at] & mask)
            for unit in units:
                stream.add_set(unit)
        return stream

    def add_set(self, unit: bytes) -> None:
        """Take note of a parameter set; other units are passed over."""
        kind = unit[0] & 31
        if kind == 7 and unit not in self.sequences:
            self.sequences[unit] = read_sequence_set(unit)
        elif kind == 8 and (picture := read_picture_set(unit)) not in self.pictures:
            self.pictures.append(picture)

    def add(self, data: bytes) -> None:
        """Take note of one coded picture with all its units."""
        units = units_by_length(data, self._length_bytes) if self._length_bytes else units_by_start(data)
        kinds, instant, sets = set[str](), False, set[int]()
        for unit in units:
            kind = unit[0] & 31
            self.add_set(unit)
            if kind in (7, 8) and not kinds:
                sets.add(kind)
            if kind in (1, 2, 5):
                kinds.add(slice_kind(unit))
                instant = instant or kind == 5
        self.kinds.append("".join(sorted(kinds)))
        self.instant.append(instant)
        self.sets_before.append(sets == {7, 8})


def slice_kind(unit: bytes) -> str:
    """Return "P", "B", "I", "SP" or "SI" for a slice's NAL unit."""
    reader = BitReader(without_stuffing(unit[1:24]))
    reader.unsigned()  # first macroblock
    return ("P", "B", "I", "SP", "SI")[reader.unsigned() % 5]
