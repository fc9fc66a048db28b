"""Calls to the system that change files, counted, and made to fail at will.

Everything that Python code of this process does to files under the watched folders passes through
here: what it opens for writing, writes, flushes, renames, links and makes.
"""

from __future__ import annotations

import builtins
import errno
import io
import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from unittest import mock

OPEN, WRITE, FLUSH, RENAME, LINK, MAKE = "open", "write", "flush", "rename", "link", "make folder"


class Calls:
    """Counts calls; lets one of them fail, or all from one on.

    Parameters
    ----------
    watched : sequence of Path
        Only what happens to files in these folders counts.
    at : int
        The call that fails, from 1; 0: none.
    number : int
        errno of the failure.
    gone : bool
        All later calls fail too, removals included, as when a disk is pulled out.
    """

    def __init__(
        self, watched: Sequence[Path], at: int = 0, number: int = errno.EIO, *, gone: bool = False
    ) -> None:
        self.made: list[tuple[str, str]] = []
        self._watched = tuple(f"{path.resolve()}{os.sep}" for path in watched)
        self._at = at
        self._number = number
        self._gone = gone

    @property
    def failed(self) -> bool:
        return 0 < self._at <= len(self.made)

    def watches(self, target: Any) -> bool:
        return f"{self.name_of(target)}{os.sep}".startswith(self._watched)

    def step(self, kind: str, target: Any) -> None:
        """Count a call, and fail if it is its turn."""
        if not self.watches(target):
            return
        self.made.append((kind, self.name_of(target)))
        if len(self.made) == self._at or (self._gone and self.failed):
            # as the system does it: a call on an open file names none
            name = () if isinstance(target, int) else (str(target),)
            raise OSError(self._number, os.strerror(self._number), *name)

    def removal(self, target: Any) -> None:
        """Fail where the disk is gone; a removal alone is not counted."""
        if self._gone and self.failed and self.watches(target):
            raise OSError(self._number, os.strerror(self._number), str(target))

    @staticmethod
    def name_of(target: Any) -> str:
        if isinstance(target, int):
            try:
                return os.readlink(f"/proc/self/fd/{target}")  # noqa: PTH115
            except OSError:
                return ""
        path = os.fsdecode(target)
        return os.path.join(os.path.realpath(os.path.dirname(path) or "."), os.path.basename(path))  # noqa: PTH118, PTH119, PTH120


class _Raw(io.FileIO):
    """A file each write to which is counted."""

    calls: Calls

    def write(self, data: Any) -> int:
        self.calls.step(WRITE, self.fileno())
        return super().write(data)


@contextmanager
def patched(calls: Calls) -> Iterator[Calls]:
    """Send this process's calls through `calls` while the block runs."""
    real_open, real_os_open = io.open, os.open

    def open_file(
        file: Any,
        mode: str = "r",
        buffering: int = -1,
        encoding: str | None = None,
        errors: str | None = None,
        newline: str | None = None,
        closefd: bool = True,
        opener: Any = None,
    ) -> Any:
        if not set(mode) & set("wax+") or not calls.watches(file):
            return real_open(file, mode, buffering, encoding, errors, newline, closefd, opener)
        if opener is None and not isinstance(file, int):
            calls.step(OPEN, file)
        raw = _Raw(file, mode.replace("t", "").replace("b", ""), closefd, opener)
        raw.calls = calls
        if buffering == 0:
            return raw
        buffered = io.BufferedRandom(raw) if "+" in mode else io.BufferedWriter(raw)
        return buffered if "b" in mode else io.TextIOWrapper(buffered, encoding, errors, newline)

    def os_open(path: Any, flags: int, *rest: Any, **more: Any) -> int:
        if flags & (os.O_CREAT | os.O_WRONLY | os.O_RDWR):
            calls.step(OPEN, path)
        return real_os_open(path, flags, *rest, **more)

    def counted(kind: str, name: str) -> Callable[..., Any]:
        real = getattr(os, name)

        def call(target: Any, *rest: Any, **more: Any) -> Any:
            calls.step(kind, target)
            return real(target, *rest, **more)

        return call

    def removing(name: str) -> Callable[..., Any]:
        real = getattr(os, name)

        def call(target: Any, *rest: Any, **more: Any) -> Any:
            folder = more.get("dir_fd")
            calls.removal(target if folder is None else f"{calls.name_of(folder)}/{target}")
            return real(target, *rest, **more)

        return call

    with (
        mock.patch.object(io, "open", open_file),
        mock.patch.object(builtins, "open", open_file),
        mock.patch.object(os, "open", os_open),
        mock.patch.object(os, "fsync", counted(FLUSH, "fsync")),
        mock.patch.object(os, "sendfile", counted(WRITE, "sendfile")),
        mock.patch.object(os, "replace", counted(RENAME, "replace")),
        mock.patch.object(os, "rename", counted(RENAME, "rename")),
        mock.patch.object(os, "link", counted(LINK, "link")),
        mock.patch.object(os, "mkdir", counted(MAKE, "mkdir")),
        mock.patch.object(os, "unlink", removing("unlink")),
        mock.patch.object(os, "remove", removing("remove")),
        mock.patch.object(os, "rmdir", removing("rmdir")),
    ):
        yield calls
