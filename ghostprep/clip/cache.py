"""What earlier runs read and worked out, in the user's cache folder: found by content, bounded, disposable.

Each file is a zip archive, whose sums tell what was cut or changed.
"""

from __future__ import annotations

import contextlib
import functools
import hashlib
import importlib
import json
import os
import re
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import fields, is_dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any, Final, TypeVar

import numpy as np
import numpy.typing as npt
from platformdirs import user_cache_path

import ghostprep
from ghostprep.arrays import Frame
from ghostprep.clip.store import FrameStore
from ghostprep.deliver import whole_file
from ghostprep.errors import GhostprepError, JobError

T = TypeVar("T")
_MOST_BYTES: Final = 2 << 30
"""Bytes that the cache keeps at most; what was not used for longest goes first."""
_ENDING: Final = ".seen"
_NAME: Final = re.compile(r"[0-9a-f]{64}\.seen")

Arrays = dict[str, npt.NDArray[Any]]
_UNREADABLE: Final = (
    *(OSError, EOFError, zipfile.BadZipFile, zlib.error),
    *(ValueError, TypeError, KeyError, ZeroDivisionError),
)
"""What reading a file of the cache raises that was cut, changed or written by something else."""


def cache_folder() -> Path:
    """Return where the cache lies: where ``GHOSTPREP_CACHE`` says, or the system's place for it."""
    told = os.environ.get("GHOSTPREP_CACHE")
    return Path(told) if told else user_cache_path("ghostprep", appauthor=False)


@functools.cache
def code_digest() -> str:
    """Return a digest of our code: what an older one read or keyed may not be what this one does."""
    digest = hashlib.sha256()
    for file in sorted(Path(ghostprep.__file__).parent.rglob("*.py")):
        digest.update(file.read_bytes())
    return digest.hexdigest()


class Cache:
    """A folder of files, each named by a digest of all that it depends on.

    Two runs may share it: a file appears whole by a rename, and one that vanishes while it is looked
    for is merely not found. Nothing in it is needed, so a disk that is full or a folder that may not be
    written to is no error.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def path(self, digest: str) -> Path:
        """Return where the file of a digest, 64 hex digits, lies or would lie."""
        return self._folder / f"{digest}{_ENDING}"

    def holds(self, digest: str) -> bool:
        """Return whether there is a file of a digest, as far as the system lets us see."""
        try:
            return self.path(digest).is_file()
        except OSError:
            return False  # a folder that may not be read

    def find(self, digest: str, read: Callable[[Path], T | None]) -> T | None:
        """Return what `read` makes of the file of a digest; None if there is none, or none that can be read.

        A file that was of use stays longer, a spoilt one is removed.
        """
        if not self.holds(digest):
            return None
        path = self.path(digest)
        try:
            found = read(path)
        except OSError:
            return None  # a file that may not be read
        with contextlib.suppress(OSError):
            if found is None:
                path.unlink(missing_ok=True)
            else:
                path.touch(exist_ok=True)
        return found

    @contextlib.contextmanager
    def adding(self, digest: str) -> Iterator[Path | None]:
        """Give a temporary path to write to; it becomes the file of `digest` if the block succeeds.

        Yields None where there cannot be any. Whatever the system refuses is passed over in
        silence: the file is then not in the cache.
        """
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
        except OSError:
            yield None
            return
        begun = False
        try:
            with whole_file(self.path(digest), overwrite=True, asked=False) as part:
                begun = True
                yield part
            self._trim()
        except (GhostprepError, OSError):
            if not begun:
                yield None

    def _trim(self) -> None:
        """Remove the files that were not used for longest, until the rest is small enough."""
        files = [(path.stat(), path) for path in self._folder.iterdir() if _NAME.fullmatch(path.name)]
        room = _MOST_BYTES
        for about, path in sorted(files, key=lambda pair: pair[0].st_mtime, reverse=True):
            room -= about.st_size
            if room < 0:
                path.unlink(missing_ok=True)


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
    except (*_UNREADABLE, JobError):
        store.close()
        return None
    return store, about


def write_value(path: Path, value: object) -> None:
    """Write dataclasses, tuples, text, numbers and arrays, nothing that runs; TypeError: another kind."""
    arrays: Arrays = {}
    text = json.dumps(_to_json(value, arrays))
    with path.open("wb") as file:
        np.savez(file, allow_pickle=False, text=np.array(text), **arrays)


def read_value(path: Path) -> Any:
    """Read what `write_value` wrote; None where the file is missing, damaged, or not one of ours."""
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as arrays:
            return _from_json(json.loads(str(arrays["text"])), arrays)
    except (*_UNREADABLE, ImportError, AttributeError):
        return None


def _to_json(value: object, arrays: Arrays) -> object:
    """Return what JSON can hold of a value, a kind and its parts; arrays go beside it."""
    if isinstance(value, (np.ndarray, np.generic)):
        name = f"array{len(arrays)}"
        arrays[name] = np.asarray(value)
        return ["number" if isinstance(value, np.generic) else "array", name]
    if isinstance(value, Fraction):
        return ["fraction", str(value)]
    if is_dataclass(value) or isinstance(value, tuple):
        parts = (getattr(value, one.name) for one in fields(value)) if is_dataclass(value) else iter(value)
        kind = type(value)
        return [f"{kind.__module__}:{kind.__qualname__}", *(_to_json(part, arrays) for part in parts)]
    if value is None or isinstance(value, (bool, int, float, str)):
        return value
    raise TypeError(f"a {type(value).__name__} cannot be kept")


def _from_json(value: Any, arrays: Any) -> Any:
    """Return the value again; only dataclasses and named tuples of ours are called."""
    if not isinstance(value, list):
        return value
    kind, *parts = value
    if kind in {"array", "number"}:
        array = arrays[parts[0]]
        return array[()] if kind == "number" else array
    if kind == "fraction":
        return Fraction(parts[0])
    made = [_from_json(part, arrays) for part in parts]
    if kind == "builtins:tuple":
        return tuple(made)
    module, name = kind.split(":")
    found = getattr(importlib.import_module(module), name) if module.startswith("ghostprep.") else None
    if not (isinstance(found, type) and (is_dataclass(found) or issubclass(found, tuple))):
        raise ValueError(f"{kind} is not kept")
    return found(*made)
