"""Whether an MP4's pictures are encrypted: ffmpeg shows such a track as if it were not."""

from __future__ import annotations

from pathlib import Path
from typing import Final

_LARGEST: Final = 64_000_000
_NEAR: Final = 2000
"""A protected sample entry holds its protection box after a header and the codec's own box."""


def is_protected(path: Path) -> bool:
    """Return whether a picture track of an MP4 is encrypted.

    The sample entry of one is called ``encv`` and holds a ``sinf`` box that names the scheme.

    References
    ----------
    ISO/IEC 14496-12, 8.12, support for protected streams.
    """
    try:
        movie = _movie_box(path)
    except OSError:
        return False
    at = movie.find(b"encv")
    while at >= 0:
        if b"sinf" in movie[at : at + _NEAR]:
            return True
        at = movie.find(b"encv", at + 4)
    return False


def _movie_box(path: Path) -> bytes:
    """Return the box that describes the tracks; empty if there is none."""
    with path.open("rb") as file:
        while len(head := file.read(8)) == 8:
            size, kind, used = int.from_bytes(head[:4]), head[4:], 8
            if size == 1:
                size, used = int.from_bytes(file.read(8)), 16
            if kind == b"moov":
                return file.read(min(max(size - used, 0) if size else _LARGEST, _LARGEST))
            if size < used:
                break
            file.seek(size - used, 1)
    return b""
