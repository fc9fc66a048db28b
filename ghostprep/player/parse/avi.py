"""Reads the chunks of an AVI file.

References
----------
.. [1] Microsoft, Multimedia Programming Interface and Data Specifications 1.0 (1991), RIFF;
   AVI RIFF File Reference; OpenDML AVI file format extensions 1.02.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import BinaryIO


@dataclass(frozen=True, slots=True)
class AviFile:
    """What the chunks say.

    Attributes
    ----------
    streams : tuple of str
        Kind of each stream, in order: "vids", "auds".
    coding : str
        The picture stream's four letters ("MJPG").
    raster : (int, int)
    rate : Fraction
        Of the picture stream: dwRate / dwScale.
    frames : int
        Frames that the stream header promises.
    header_bytes : int
        Bytes before the first chunk in ``movi``.
    places, sizes : tuple of int
        Where each picture's data begin, and its bytes.
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
    sound_tag : int
        wFormatTag of the first sound stream; 0 without.
    """

    streams: tuple[str, ...]
    coding: str
    raster: tuple[int, int]
    rate: Fraction
    frames: int
    header_bytes: int
    places: tuple[int, ...]
    sizes: tuple[int, ...]
    strangers: tuple[str, ...]
    index_entries: int
    riff_parts: int
    open_dml: bool
    size_field_right: bool
    sound_tag: int


class _Notes:
    """Collects what `_walk` meets."""

    def __init__(self) -> None:
        self.streams: list[str] = []
        self.header: dict[str, bytes] = {}
        self.header_bytes = 0
        self.pictures: list[tuple[int, int]] = []
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
    if "vids" not in notes.header:
        raise ValueError("holds no picture stream")
    strh, strf = notes.header["vids"], notes.header["strf"]
    scale, rate, _start, frames = struct.unpack_from("<IIII", strh, 20)
    width, height = struct.unpack_from("<ii", strf, 4)
    return AviFile(
        streams=tuple(notes.streams),
        coding=strf[16:20].decode("latin-1"),
        raster=(width, abs(height)),
        rate=Fraction(rate, scale),
        frames=frames,
        header_bytes=notes.header_bytes,
        places=tuple(place for place, _ in notes.pictures),
        sizes=tuple(size for _, size in notes.pictures),
        strangers=tuple(sorted(notes.strangers)),
        index_entries=notes.index_entries,
        riff_parts=parts,
        open_dml=notes.open_dml,
        size_field_right=first_size == end - 8,
        sound_tag=int.from_bytes(notes.header.get("sound", b"")[:2], "little"),
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
            _note_data(name.decode("latin-1"), at + 8, size, notes)
        elif name == b"strh":
            kind = file.read(4).decode("latin-1")
            notes.streams.append(kind)
            file.seek(at + 8)
            notes.header.setdefault(kind, file.read(size))
        elif name == b"strf" and notes.streams[-1] in ("vids", "auds"):
            notes.header.setdefault("strf" if notes.streams[-1] == "vids" else "sound", file.read(size))
        elif name == b"idx1":
            notes.index_entries = size // 16
        elif name == b"indx":
            notes.open_dml = True
        at += 8 + size + size % 2


def _note_data(name: str, place: int, size: int, notes: _Notes) -> None:
    picture = notes.streams.index("vids") if "vids" in notes.streams else -1
    sound = notes.streams.index("auds") if "auds" in notes.streams else -1
    if name in (f"{picture:02d}dc", f"{picture:02d}db"):
        notes.pictures.append((place, size))
    elif name != f"{sound:02d}wb":
        notes.strangers.add(name)
