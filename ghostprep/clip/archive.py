"""Frames as a file of the cache: a zip archive, so that what was cut or changed is told by its sum."""

from __future__ import annotations

import json
import zipfile
import zlib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Final

import numpy as np

from ghostprep.arrays import Frame
from ghostprep.clip.store import FrameStore
from ghostprep.errors import JobError

UNREADABLE: Final = (
    *(OSError, EOFError, zipfile.BadZipFile, zlib.error),
    *(ValueError, TypeError, KeyError, ZeroDivisionError),
)
"""All that a file of the cache which was cut, changed or written by something else can lead to."""


def write_archive(path: Path, frames: Iterable[Frame], about: Mapping[str, Any]) -> None:
    """Write frames of one size and what JSON can hold of them; not packed, since noise does not pack."""
    count = 0
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED) as archive:
        with archive.open("frames", "w", force_zip64=True) as file:
            for frame in frames:
                file.write(np.ascontiguousarray(frame).data.cast("B"))
                count += 1
        archive.writestr("about.json", json.dumps({**about, "count": count}))


def read_archive(
    path: Path, size: tuple[int, int], channels: int
) -> tuple[FrameStore, dict[str, Any]] | None:
    """Read what `write_archive` wrote into a store, the caller's to close.

    Returns None where the file is missing, damaged, or not one of ours.
    """
    store = FrameStore(size, channels)
    try:
        with zipfile.ZipFile(path) as archive:
            about: dict[str, Any] = json.loads(archive.read("about.json"))
            frame = np.empty(store.shape, np.uint8)
            with archive.open("frames") as file:
                for _ in range(int(about["count"])):
                    frame.data.cast("B")[:] = file.read(frame.nbytes)
                    store.append(frame)
                if file.read(1):
                    raise ValueError("more frames than were named")
    except (*UNREADABLE, JobError):
        store.close()
        return None
    return store, about
