"""Cuts bare streams, which have no container, into their pictures."""

from __future__ import annotations

import mmap
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from ghostprep.player.parse.h264 import first_macroblock

_START: Final = re.compile(b"\x00\x00\x01")
_IN_FRONT: Final = (6, 7, 8, 9)  # units that belong to the picture that follows


def access_units(path: Path) -> Iterator[list[bytes]]:
    """Yield the NAL units of each picture of a bare H.264 stream (ITU-T H.264, Annex B, 7.4.1.2.3)."""
    held: list[bytes] = []
    has_slice = False
    for unit in _nal_units(path):
        kind = unit[0] & 31
        begins = kind in _IN_FRONT or (kind in (1, 5) and first_macroblock(unit) == 0)
        if begins and has_slice:
            yield held
            held, has_slice = [], False
        held.append(unit)
        has_slice = has_slice or kind in (1, 2, 5)
    if has_slice:
        yield held


def _nal_units(path: Path) -> Iterator[bytes]:
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data:
        begin = -1
        for match in _START.finditer(data):
            if begin >= 0 and (unit := data[begin : match.start()].rstrip(b"\x00")):
                yield unit
            begin = match.end()
        if begin >= 0 and (unit := data[begin:].rstrip(b"\x00")):
            yield unit


def jpeg_pictures(path: Path) -> Iterator[bytes]:
    """Yield the pictures of a file of JPEG pictures one after the other.

    Raises
    ------
    ValueError
        Something else stands between them.
    EOFError
        The last one is cut short.
    """
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data:
        at = 0
        while at < len(data):
            if data[at : at + 2] != b"\xff\xd8":
                raise ValueError("something else than a JPEG picture is in the stream")
            scan = at + 2
            while data[scan + 1] != 0xDA:  # segments up to the scan tell their length
                scan += 2 + int.from_bytes(data[scan + 2 : scan + 4], "big")
            after = data.find(b"\xff\xd9", scan)
            if after < 0:
                raise EOFError("the last JPEG picture is cut short")
            yield data[at : after + 2]
            at = after + 2
