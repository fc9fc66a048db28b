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


@dataclass(frozen=True, slots=True)
class AviFile:
    """What the chunks say.

    Attributes
    ----------
    streams : tuple of str
        Kind of each stream, in order: "vids", "auds".
    frames : int
        Frames that the stream header promises.
    header_bytes : int
        Bytes before the first chunk in ``movi``.
    strangers : tuple of str
        Chunks in ``movi`` that belong to neither the first picture nor the first sound stream.
    index_entries : int
        Entries in idx1; 0: none.
    riff_parts : int
        More than one: OpenDML.
    open_dml : bool
        Whether an ``indx`` super index is there.
    size_field_right : bool
        Whether the RIFF size is the file's, less 8.
    """

    streams: tuple[str, ...]
    frames: int
    header_bytes: int
    strangers: tuple[str, ...]
    index_entries: int
    riff_parts: int
    open_dml: bool
    size_field_right: bool


class _Notes:
    """Collects what `_walk` meets."""

    def __init__(self) -> None:
        self.streams: list[str] = []
        self.frames = 0
        self.header_bytes = 0
        self.strangers: set[str] = set()
        self.index_entries = 0
        self.open_dml = False


def read_avi(path: Path) -> AviFile:
    """Read a file's chunks.

    Raises
    ------
    EOFError, struct.error, ValueError
        The file is cut short or its chunks do not add up.
    """
    notes = _Notes()
    parts, first_size = 0, 0
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
            parts += 1
            first_size = first_size or size
            _walk(file, at + 12, at + 8 + size, notes)
            at += 8 + size + size % 2
    return AviFile(
        streams=tuple(notes.streams),
        frames=notes.frames,
        header_bytes=notes.header_bytes,
        strangers=tuple(sorted(notes.strangers)),
        index_entries=notes.index_entries,
        riff_parts=parts,
        open_dml=notes.open_dml,
        size_field_right=first_size == end - 8,
    )


def _walk(file: BinaryIO, at: int, end: int, notes: _Notes, inside: str = "") -> None:
    while at + 8 <= end:
        file.seek(at)
        name, size = struct.unpack("<4sI", file.read(8))
        if at + 8 + size > end:
            raise EOFError(f"the chunk {name!r} is longer than the one that holds it")
        if name == b"LIST":
            kind = file.read(4).decode("latin-1")
            if kind == "movi" and not notes.header_bytes:
                notes.header_bytes = at + 12
            _walk(file, at + 12, at + 8 + size, notes, kind)
        elif inside == "movi" or inside.startswith("rec"):
            _note_data(name.decode("latin-1"), notes)
        elif name == b"strh":
            kind, frames = struct.unpack_from("<4s28xI", file.read(size))
            notes.streams.append(kind.decode("latin-1"))
            notes.frames = notes.frames or (frames if kind == b"vids" else 0)
        elif name == b"idx1":
            notes.index_entries = size // 16
        elif name == b"indx":
            notes.open_dml = True
        at += 8 + size + size % 2


def _note_data(name: str, notes: _Notes) -> None:
    known = {
        f"{notes.streams.index(kind):02d}{ending}"
        for kind, endings in (("vids", ("dc", "db")), ("auds", ("wb",)))
        for ending in endings
        if kind in notes.streams
    }
    if name not in known:
        notes.strangers.add(name)
