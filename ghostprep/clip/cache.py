"""Frames that earlier runs read, in the user's cache folder: found by content, bounded, disposable."""

from __future__ import annotations

import contextlib
import functools
import hashlib
import os
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final, TypeVar

from platformdirs import user_cache_path

import ghostprep
from ghostprep.deliver import whole_file
from ghostprep.errors import GhostprepError

T = TypeVar("T")

MOST_BYTES: Final = 2 << 30
"""The cache never stays larger; what was not used for longest goes first."""

_ENDING: Final = ".seen"
_NAME: Final = re.compile(r"[0-9a-f]{64}\.seen")


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

    Parameters
    ----------
    most_bytes : int
        All files together.
    """

    def __init__(self, folder: Path, most_bytes: int = MOST_BYTES) -> None:
        self._folder = folder
        self._most = most_bytes

    def path(self, digest: str) -> Path:
        """Return where the file of a digest, 64 hex digits, lies or would lie."""
        return self._folder / f"{digest}{_ENDING}"

    def find(self, digest: str, read: Callable[[Path], T | None]) -> T | None:
        """Return what `read` makes of the file of a digest; None if there is none, or none that can be read.

        A file that was of use stays longer, a spoilt one is removed.
        """
        path = self.path(digest)
        try:
            if not path.is_file():
                return None
            found = read(path)
        except OSError:
            return None  # a folder or a file that may not be read
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
        room = self._most
        for about, path in sorted(files, key=lambda pair: pair[0].st_mtime, reverse=True):
            room -= about.st_size
            if room < 0:
                path.unlink(missing_ok=True)
