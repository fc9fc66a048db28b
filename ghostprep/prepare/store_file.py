"""Frames set aside as a part of a zip archive in the cache, checked by its sum."""

from __future__ import annotations

import zipfile
import zlib
from typing import Final

import numpy as np

from ghostprep.errors import JobError
from ghostprep.prepare.store import FrameStore

UNREADABLE: Final = (
    *(OSError, EOFError, zipfile.BadZipFile, zlib.error),
    *(ValueError, TypeError, KeyError, ZeroDivisionError, JobError),
)
"""All that an archive which was cut, changed or written by something else can lead to."""


def write_store(archive: zipfile.ZipFile, name: str, store: FrameStore) -> None:
    """Write all frames of a store."""
    with archive.open(name, "w", force_zip64=True) as file:
        for frame in store:
            file.write(frame.data.cast("B"))


def read_store(archive: zipfile.ZipFile, name: str, store: FrameStore, count: int) -> None:
    """Append the frames that `write_store` wrote to a store of their size.

    Raises
    ------
    ValueError
        There are not so many.
    BadZipFile
        The sum does not hold.
    """
    frame = np.empty(store.shape, np.uint8)
    with archive.open(name) as file:
        for _ in range(count):
            frame.data.cast("B")[:] = file.read(frame.nbytes)
            store.append(frame)
        if file.read(1):
            raise ValueError("more frames than were named")
