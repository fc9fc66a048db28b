"""Reads slice headers of H.264, and what a whole stream says.

References
----------
.. [1] ITU-T H.264 (08/2021), 7.3.3 (slice header), table 7-1 (kinds of NAL units); ISO/IEC
   14496-15 (avcC).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from ghostprep.player.parse.bits import BitReader, without_stuffing
from ghostprep.player.parse.h264_sets import PictureSet, SequenceSet, read_picture_set, read_sequence_set


@dataclass(slots=True)
class H264Stream:
    """What the parameter sets and slice headers of a whole stream say.

    Attributes
    ----------
    sequences, pictures : list
        Different parameter sets, in order of appearance.
    kinds : list of str
        For each access unit its slices' kinds, "I", "P", "B" ("IP" if mixed); "" without a slice.
    instant : list of bool
        For each access unit whether it is an IDR picture.
    sets_before : list of bool
        For each access unit whether parameter sets stand in it, before its first slice.
    slices : int
        Largest number of slices in an access unit.
    """

    sequences: list[SequenceSet] = field(default_factory=list)
    pictures: list[PictureSet] = field(default_factory=list)
    kinds: list[str] = field(default_factory=list)
    instant: list[bool] = field(default_factory=list)
    sets_before: list[bool] = field(default_factory=list)
    slices: int = 0

    def add_config(self, config: bytes) -> int:
        """Take note of the parameter sets in an avcC payload; return the bytes of a unit's length."""
        at = 5
        for mask in (31, 255):
            count = config[at] & mask
            at += 1
            for _ in range(count):
                size = int.from_bytes(config[at : at + 2], "big")
                self.add_set(config[at + 2 : at + 2 + size])
                at += 2 + size
        return (config[4] & 3) + 1

    def add_set(self, unit: bytes) -> None:
        """Take note of a parameter set; other units are passed over."""
        kind = unit[0] & 31
        if kind == 7:
            sequence = read_sequence_set(unit)
            if sequence not in self.sequences:
                self.sequences.append(sequence)
        elif kind == 8:
            picture = read_picture_set(unit)
            if picture not in self.pictures:
                self.pictures.append(picture)

    def add_access_unit(self, units: Iterable[bytes]) -> None:
        """Take note of one coded picture with all its units."""
        kinds, instant, sets, slices = set(), False, set(), 0
        for unit in units:
            kind = unit[0] & 31
            self.add_set(unit)
            if kind in (7, 8) and not slices:
                sets.add(kind)
            if kind in (1, 2, 5):
                kinds.add(slice_kind(unit))
                slices += 1
                instant = instant or kind == 5
        self.kinds.append("".join(sorted(kinds)))
        self.instant.append(instant)
        self.sets_before.append(sets == {7, 8})
        self.slices = max(self.slices, slices)


def slice_kind(unit: bytes) -> str:
    """Return "P", "B", "I", "SP" or "SI" for a slice's NAL unit."""
    reader = BitReader(without_stuffing(unit[1:24]))
    reader.unsigned()  # first macroblock
    return ("P", "B", "I", "SP", "SI")[reader.unsigned() % 5]


def first_macroblock(unit: bytes) -> int:
    """Return the number of a slice's first macroblock; 0 begins a picture."""
    return BitReader(without_stuffing(unit[1:24])).unsigned()
