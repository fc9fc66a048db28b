"""Reads the elements of a Matroska file.

References
----------
.. [1] RFC 8794 (EBML), RFC 9559 (Matroska).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import BinaryIO, Final

_SEGMENT: Final = 0x18538067
_CLUSTER: Final = 0x1F43B675
_FOLDERS: Final = {_SEGMENT, _CLUSTER, 0x1654AE6B, 0xAE, 0xE0, 0xA0, 0x1549A966}
_UNKNOWN: Final = -1


@dataclass(slots=True)
class MkvFile:
    """What the elements say.

    Attributes
    ----------
    codec : str
        CodecID of the first picture track.
    raster : (int, int)
    frame_ns : int
        Nominal duration of a frame in nanoseconds; 0: not said.
    tick_ns : int
        Nanoseconds of a tick of the times.
    times : list of int
        Each picture's time, in ticks.
    sizes : list of int
        Each picture's bytes.
    keys : list of bool
        Whether each picture stands on its own.
    sound : str
        CodecID of the first sound track; empty without.
    """

    codec: str = ""
    raster: tuple[int, int] = (0, 0)
    frame_ns: int = 0
    tick_ns: int = 1_000_000
    times: list[int] = field(default_factory=list)
    sizes: list[int] = field(default_factory=list)
    keys: list[bool] = field(default_factory=list)
    sound: str = ""

    @property
    def rate(self) -> Fraction | None:
        """Frames a second: the fraction with a usual denominator that is nearest to `frame_ns`."""
        if not self.frame_ns:
            return None
        exact = Fraction(1_000_000_000, self.frame_ns)
        for denominator in (1, 1001, 2, 3, 4, 5):
            guess = Fraction(round(exact * denominator), denominator)
            if abs(1_000_000_000 / guess - self.frame_ns) <= 1:
                return guess
        return exact.limit_denominator(100_000)


def read_mkv(path: Path) -> MkvFile:
    """Read a file's elements.

    Raises
    ------
    EOFError
        The file is cut short.
    """
    made = MkvFile()
    track: dict[int, bytes] = {}
    number = cluster_time = 0
    with path.open("rb") as file:
        for name, size in _elements(file, 0, file.seek(0, 2)):
            if name == 0xAE:  # a track begins
                track = {}
            elif name in (0xA3, 0xA1):
                head = file.read(min(size, 12))
                owner, used = _number(head)
                if owner == number:
                    made.times.append(
                        cluster_time + int.from_bytes(head[used : used + 2], "big", signed=True)
                    )
                    made.sizes.append(size - used - 3)
                    made.keys.append(name == 0xA1 or bool(head[used + 2] & 0x80))
            elif name in (0xD7, 0x83, 0x86, 0x23E383, 0xB0, 0xBA):
                track[name] = file.read(size)
                number = _take_track(track, made, number)
            elif name == 0x2AD7B1:
                made.tick_ns = int.from_bytes(file.read(size), "big")
            elif name == 0xE7:
                cluster_time = int.from_bytes(file.read(size), "big")
    if not made.codec:
        raise ValueError("holds no picture stream")
    return made


def _take_track(track: dict[int, bytes], made: MkvFile, number: int) -> int:
    kind = int.from_bytes(track.get(0x83, b""), "big")
    codec = track.get(0x86, b"").rstrip(b"\x00").decode("latin-1")
    if kind == 2:
        made.sound = made.sound or codec
    if kind != 1 or (number and number != int.from_bytes(track.get(0xD7, b""), "big")):
        return number
    made.codec = codec
    made.raster = (int.from_bytes(track.get(0xB0, b""), "big"), int.from_bytes(track.get(0xBA, b""), "big"))
    made.frame_ns = int.from_bytes(track.get(0x23E383, b""), "big")
    return int.from_bytes(track.get(0xD7, b""), "big")


def _elements(file: BinaryIO, at: int, end: int) -> Iterator[tuple[int, int]]:
    """Yield name and size of each element with the file at its payload, going into folders."""
    while at < end:
        file.seek(at)
        head = file.read(12)
        name, name_bytes = _number(head, keep_mark=True)
        size, size_bytes = _number(head[name_bytes:])
        begin = at + name_bytes + size_bytes
        after = end if size == _UNKNOWN else begin + size
        if after > end:
            raise EOFError(f"the element {name:x} is longer than what holds it")
        file.seek(begin)
        yield name, after - begin
        if name in _FOLDERS:
            yield from _elements(file, begin, after)
        at = after


def _number(data: bytes, *, keep_mark: bool = False) -> tuple[int, int]:
    """Return a number of variable length and its bytes (RFC 8794, section 4)."""
    if not data or not data[0]:
        raise EOFError("a number of variable length is missing")
    length = 9 - data[0].bit_length()
    value = int.from_bytes(data[:length], "big")
    if not keep_mark:
        value &= (1 << 7 * length) - 1
        if value == (1 << 7 * length) - 1:
            return _UNKNOWN, length
    return value, length
