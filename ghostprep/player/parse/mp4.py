"""Reads the order of an MP4 file's boxes, and what its tracks are: what a demuxer does not tell.

References
----------
.. [1] ISO/IEC 14496-12, ISO base media file format.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Final

_FOLDERS: Final = {b"mdia", b"minf", b"stbl", b"edts"}


@dataclass(frozen=True, slots=True)
class Track:
    """One track of an MP4 file."""

    kind: str  # handler: "vide", "soun"
    coding: str  # the sample entry's name: "avc1", "hvc1", "mp4a"
    edits: int  # entries of the edit list


@dataclass(frozen=True, slots=True)
class Mp4File:
    """Top-level boxes in file order, and the tracks."""

    order: tuple[str, ...]
    tracks: tuple[Track, ...]


def read_mp4(path: Path) -> Mp4File:
    """Read a file's boxes; EOFError, struct.error: the file is cut short or its boxes do not add up."""
    order: list[str] = []
    tracks: list[Track] = []
    with path.open("rb") as file:
        end = file.seek(0, 2)
        for name, begin, after in _top_boxes(file, end):
            order.append(name.decode("latin-1"))
            if name == b"moov":
                file.seek(begin)
                moov = file.read(after - begin)
                tracks += [_read_track(body) for kind, body in _boxes(moov) if kind == b"trak"]
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


def _boxes(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Yield name and payload of the boxes in `data`, and of those in its folders."""
    at = 0
    while at + 8 <= len(data):
        size, name = struct.unpack_from(">I4s", data, at)
        if size < 8 or at + size > len(data):
            raise EOFError(f"the box {name!r} is longer than the one that holds it")
        yield name, data[at + 8 : at + size]
        if name in _FOLDERS:
            yield from _boxes(data[at + 8 : at + size])
        at += size


def _read_track(data: bytes) -> Track:
    found: dict[bytes, bytes] = {}
    for name, body in _boxes(data):
        found.setdefault(name, body)
    edits = struct.unpack_from(">I", found[b"elst"], 4)[0] if b"elst" in found else 0
    return Track(found[b"hdlr"][8:12].decode("latin-1"), found[b"stsd"][12:16].decode("latin-1"), edits)
