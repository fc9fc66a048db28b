"""Sightings as a file of the cache: a zip archive, so that each part is packed and checked by its sum."""

from __future__ import annotations

import json
import zipfile
from fractions import Fraction
from pathlib import Path
from typing import Final

import numpy as np

from ghostprep.prepare.sightings import Sightings, from_rows, to_rows
from ghostprep.prepare.store import FrameStore
from ghostprep.prepare.store_file import UNREADABLE, read_store, write_store

_LEVEL: Final = 1
"""Figures on black pack well already with the least effort."""


def write_sightings(path: Path, seen: Sightings) -> None:
    """Write sightings that hold their small pictures.

    Raises
    ------
    ValueError
        They do not.
    OSError
        The system refused.
    """
    if seen.small is None:
        raise ValueError("sightings without small pictures are not kept")
    about = {"first": seen.first, "damage": seen.damage, "size": list(seen.small.size)}
    times = np.array([(time.numerator, time.denominator) for time in seen.times], np.int64).reshape(-1, 2)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=_LEVEL) as archive:
        archive.writestr("about.json", json.dumps(about))
        for name, array in (("times.npy", times), ("rows.npy", to_rows(seen))):
            with archive.open(name, "w") as file:
                np.save(file, array, allow_pickle=False)
        write_store(archive, "small", seen.small)


def read_sightings(path: Path) -> Sightings | None:
    """Read what `write_sightings` wrote; None where the file is missing, damaged, or not one of ours."""
    store: FrameStore | None = None
    try:
        with zipfile.ZipFile(path) as archive:
            about = json.loads(archive.read("about.json"))
            with archive.open("times.npy") as file:
                times = np.load(file, allow_pickle=False)
            with archive.open("rows.npy") as file:
                rows = np.load(file, allow_pickle=False)
            width, height = about["size"]
            store = FrameStore((width, height))
            read_store(archive, "small", store, len(rows))
        clock = tuple(Fraction(int(above), int(below)) for above, below in times)
        return from_rows(rows, int(about["first"]), clock, about["damage"], store)
    except UNREADABLE:
        if store is not None:
            store.close()
        return None
