"""Reads slice headers of H.264, and what a whole stream says.

References
----------
.. [1] ITU-T H.264 (08/2021), 7.3.3 (slice header), table 7-1 (kinds of NAL units); ISO/IEC
   14496-15 (avcC).
"""

from __future__ import annotations

from dataclasses import dataclass, field

from ghostprep.player.parse.bits import BitReader, without_stuffing
from ghostprep.player.parse.h264_sets import PictureSet, SequenceSet, read_picture_set, read_sequence_set
from ghostprep.player.parse.nal import units_by_length, units_by_start


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
    _length_bytes: int = 0

    @property
    def profile(self) -> str:
        """The profile in words."""
        return self.sequences[0].profile

    @property
    def level(self) -> str:
        """The level as printed in H.264 table A-1."""
        return self.sequences[0].level

    @classmethod
    def of(cls, config: bytes) -> H264Stream:
        """Return a stream with the sets of an avcC payload; without one, units come behind start codes."""
        stream = cls()
        if config[:1] != b"\x01":
            return stream
        stream._length_bytes = (config[4] & 3) + 1
        at = 5
        for mask in (31, 255):
            count = config[at] & mask
            at += 1
            for _ in range(count):
                size = int.from_bytes(config[at : at + 2], "big")
                stream.add_set(config[at + 2 : at + 2 + size])
                at += 2 + size
        return stream

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

    def add(self, data: bytes) -> None:
        """Take note of one coded picture with all its units."""
        units = units_by_length(data, self._length_bytes) if self._length_bytes else units_by_start(data)
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
