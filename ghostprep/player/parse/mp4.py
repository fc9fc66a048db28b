"""Reads the boxes of an MP4 file.

References
----------
.. [1] ISO/IEC 14496-12 (boxes), 14496-15 (avcC, hvcC).
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import BinaryIO, Final

_FOLDERS: Final = {b"moov", b"trak", b"mdia", b"minf", b"stbl", b"edts", b"udta"}


@dataclass(frozen=True, slots=True)
class Track:
    """One track of an MP4 file.

    Attributes
    ----------
    kind : str
        Handler: "vide", "soun" ...
    coding : str
        The sample entry's name: "avc1", "hvc1", "mp4a" ...
    raster : (int, int)
        Width and height of the sample entry; (0, 0) for sound.
    timescale : int
        Ticks a second.
    durations : tuple of int
        Each sample's, in ticks.
    shifts : tuple of int
        Each sample's composition offset, in ticks; empty: none.
    sizes, places : tuple of int
        Each sample's bytes and place in the file.
    sync : tuple of int or None
        Samples that stand on their own, from 0; None: all.
    edits : tuple of (int, int)
        The edit list: duration and media time; empty: none.
    config : bytes
        Payload of avcC or hvcC.
    colour : (int, int, int, bool) or None
        primaries, transfer, matrix (codes of H.273) and full range, from the colr box.
    """

    kind: str
    coding: str
    raster: tuple[int, int]
    timescale: int
    durations: tuple[int, ...]
    shifts: tuple[int, ...]
    sizes: tuple[int, ...]
    places: tuple[int, ...]
    sync: tuple[int, ...] | None
    edits: tuple[tuple[int, int], ...]
    config: bytes
    colour: tuple[int, int, int, bool] | None

    @property
    def first_time(self) -> Fraction:
        """When the first sample is shown, in seconds."""
        return Fraction(self.shifts[0] if self.shifts else 0, self.timescale)

    @property
    def seconds(self) -> Fraction:
        """Sum of the samples' durations."""
        return Fraction(sum(self.durations), self.timescale)


@dataclass(frozen=True, slots=True)
class Mp4File:
    """Top-level boxes in file order, and the tracks."""

    order: tuple[str, ...]
    tracks: tuple[Track, ...]


def read_mp4(path: Path) -> Mp4File:
    """Read a file's boxes.

    Raises
    ------
    EOFError, struct.error, ValueError
        The file is cut short or its boxes do not add up.
    """
    order: list[str] = []
    tracks: list[Track] = []
    with path.open("rb") as file:
        end = file.seek(0, 2)
        for name, begin, after in _top_boxes(file, end):
            order.append(name.decode("latin-1"))
            if name == b"moov":
                file.seek(begin)
                moov = file.read(after - begin)
                tracks += [_read_track(body) for kind, body in boxes(moov) if kind == b"trak"]
    return Mp4File(tuple(order), tuple(tracks))


def _top_boxes(file: BinaryIO, end: int) -> Iterator[tuple[bytes, int, int]]:
    at = 0
    while at < end:
        file.seek(at)
        head = file.read(16)
        size, name = struct.unpack(">I4s", head[:8])
        begin = at + 8
        if size == 1:
            size, begin = struct.unpack(">Q", head[8:16])[0], at + 16
        elif size == 0:
            size = end - at
        if size < begin - at or at + size > end:
            raise EOFError(f"the box {name!r} is longer than the file")
        yield name, begin, at + size
        at += size


def boxes(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Yield name and payload of the boxes in `data`.

    Raises
    ------
    EOFError
        A box is longer than what holds it.
    """
    at = 0
    while at + 8 <= len(data):
        size, name = struct.unpack_from(">I4s", data, at)
        if size < 8 or at + size > len(data):
            raise EOFError(f"the box {name!r} is longer than the one that holds it")
        yield name, data[at + 8 : at + size]
        at += size


def _flat(data: bytes) -> dict[bytes, bytes]:
    """Return the payloads below a box by name; of equal ones the first."""
    found: dict[bytes, bytes] = {}
    for name, body in boxes(data):
        found.setdefault(name, body)
        if name in _FOLDERS:
            for inner, payload in _flat(body).items():
                found.setdefault(inner, payload)
    return found


def _read_track(data: bytes) -> Track:
    flat = _flat(data)
    coding, entry = next(boxes(flat[b"stsd"][8:]))
    kind = flat[b"hdlr"][8:12].decode("latin-1")
    raster, config, colour = (0, 0), b"", None
    if kind == "vide":
        raster = struct.unpack_from(">HH", entry, 24)
        inner = _flat(entry[78:])
        config = inner.get(b"avcC") or inner.get(b"hvcC") or b""
        colr = inner.get(b"colr", b"")
        if colr[:4] == b"nclx":
            colour = (*struct.unpack_from(">HHH", colr, 4), bool(colr[10] & 0x80))
    sizes = _sizes(flat[b"stsz"])
    at = 20 if flat[b"mdhd"][0] == 1 else 12
    return Track(
        kind=kind,
        coding=coding.decode("latin-1"),
        raster=raster,
        timescale=struct.unpack_from(">I", flat[b"mdhd"], at)[0],
        durations=tuple(_runs(flat[b"stts"], ">II")),
        shifts=tuple(_runs(flat[b"ctts"], ">Ii")) if b"ctts" in flat else (),
        sizes=sizes,
        places=_places(flat, sizes),
        sync=tuple(n - 1 for n in _table(flat[b"stss"], ">I")) if b"stss" in flat else None,
        edits=_edits(flat.get(b"elst", b"")),
        config=config,
        colour=colour,
    )


def _table(body: bytes, form: str) -> list[int]:
    count = struct.unpack_from(">I", body, 4)[0]
    size = struct.calcsize(form)
    return [struct.unpack_from(form, body, 8 + size * i)[0] for i in range(count)]


def _runs(body: bytes, form: str) -> Iterator[int]:
    for i in range(struct.unpack_from(">I", body, 4)[0]):
        count, value = struct.unpack_from(form, body, 8 + 8 * i)
        for _ in range(count):
            yield value


def _sizes(body: bytes) -> tuple[int, ...]:
    same, count = struct.unpack_from(">II", body, 4)
    return (same,) * count if same else struct.unpack_from(f">{count}I", body, 12)


def _places(flat: dict[bytes, bytes], sizes: tuple[int, ...]) -> tuple[int, ...]:
    wide = b"co64" in flat
    chunks = _table(flat[b"co64" if wide else b"stco"], ">Q" if wide else ">I")
    stsc = flat[b"stsc"]
    runs = [struct.unpack_from(">III", stsc, 8 + 12 * i) for i in range(struct.unpack_from(">I", stsc, 4)[0])]
    places: list[int] = []
    for number, place in enumerate(chunks, 1):
        held = next(count for first, count, _ in reversed(runs) if first <= number)
        for size in sizes[len(places) : len(places) + held]:
            places.append(place)
            place += size  # noqa: PLW2901 - walks through the chunk
    if len(places) != len(sizes):
        raise ValueError("the sample tables do not add up")
    return tuple(places)


def _edits(body: bytes) -> tuple[tuple[int, int], ...]:
    if not body:
        return ()
    form, size = (">Qq", 20) if body[0] == 1 else (">Ii", 12)
    count = struct.unpack_from(">I", body, 4)[0]
    edits = [struct.unpack_from(form, body, 8 + size * i) for i in range(count)]
    return tuple((int(duration), int(start)) for duration, start in edits)
