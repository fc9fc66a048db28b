"""A file's content by its digest."""

from __future__ import annotations

import hashlib
import threading
from pathlib import Path


def sha256_of(path: Path) -> str:
    """Return the SHA-256 of a file, in hex, read in pieces."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


class Content:
    """The SHA-256 of a clip, worked out beside other work.

    Parameters
    ----------
    path : Path
        A file; numbered pictures, which are many, have no digest.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._found = ""
        self._failure: OSError | None = None
        # a daemon, so that an interrupt need not wait for the end of a long file
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def sha256(self) -> str:
        """Return the digest in hex, empty where there is none.

        Raises
        ------
        OSError
            The file could not be read.
        """
        self._thread.join()
        if self._failure is not None:
            raise self._failure
        return self._found

    def _read(self) -> None:
        try:
            self._found = sha256_of(self._path) if self._path.is_file() else ""
        except OSError as failure:
            self._failure = failure
