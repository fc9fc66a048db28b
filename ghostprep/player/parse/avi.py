"""Reads the chunks of an AVI file.

References
----------
.. [1] Microsoft, Multimedia Programming Interface and Data Specifications 1.0 (1991), RIFF;
   AVI RIFF File Reference; OpenDML AVI file format extensions 1.02.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO


@dataclass(slots=True)
class AviFile:
    """What the chunks say."""

    streams: tuple[str, ...] = ()  # kind of each stream, in order: "vids", "auds"
    frames: int = 0  # frames that the stream header promises
    header_bytes: int = 0  # bytes before the first chunk in ``movi``
    # chunks in ``movi`` that belong to neither the first picture nor the first sound stream
    strangers: tuple[str, ...] = ()
    index_entries: int = 0  # entries in idx1; 0: none
    riff_parts: int = 0  # more than one: OpenDML
    open_dml: bool = False  # whether an ``indx`` super index is there
    size_field_right: bool = False  # whether the RIFF size is the file's, less 8


def read_avi(path: Path) -> AviFile:
    """Read a file's chunks; EOFError, struct.error, ValueError: they are cut short or do not add up."""
    found = AviFile()
    with path.open("rb") as file:
        end = file.seek(0, 2)
        at = 0
        while at + 12 <= end:
            file.seek(at)
            name, size, kind = struct.unpack("<4sI4s", file.read(12))
            if name != b"RIFF" or kind not in (b"AVI ", b"AVIX"):
                raise ValueError("is not an AVI file")
            if at + 8 + size > end:
                raise EOFError("the RIFF chunk is longer than the file")
            found.riff_parts += 1
            if not at:
                found.size_field_right = size == end - 8
            _walk(file, at + 12, at + 8 + size, found)
            at += 8 + size + size % 2
    return found


def _walk(file: BinaryIO, at: int, end: int, found: AviFile, inside: str = "") -> None:
    while at + 8 <= end:
        file.seek(at)
        name, size = struct.unpack("<4sI", file.read(8))
        if at + 8 + size > end:
            raise EOFError(f"the chunk {name!r} is longer than the one that holds it")
        if name == b"LIST":
            kind = file.read(4).decode("latin-1")
            if kind == "movi" and not found.header_bytes:
                found.header_bytes = at + 12
            _walk(file, at + 12, at + 8 + size, found, kind)
        elif inside == "movi" or inside.startswith("rec"):
            _note_data(name.decode("latin-1"), found)
        elif name == b"strh":
            kind, frames = struct.unpack_from("<4s28xI", file.read(size))
            found.streams += (kind.decode("latin-1"),)
            found.frames = found.frames or (frames if kind == b"vids" else 0)
        elif name == b"idx1":
            found.index_entries = size // 16
        elif name == b"indx":
            found.open_dml = True
        at += 8 + size + size % 2


def _note_data(name: str, found: AviFile) -> None:
    known = {
        f"{found.streams.index(kind):02d}{ending}"
        for kind, endings in (("vids", ("dc", "db")), ("auds", ("wb",)))
        for ending in endings
        if kind in found.streams
    }
    if name not in known:
        found.strangers = tuple(sorted({*found.strangers, name}))
