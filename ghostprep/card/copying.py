"""Bytes onto the card and back again, past the system's cache."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import mmap
import os
import stat
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

from ghostprep.card.calls import Folder, ReadingWay, SystemCalls, reading_ways
from ghostprep.card.records import LARGEST
from ghostprep.errors import JobError, reason

_CHUNK: Final = 1 << 20
"""Bytes that are read at a time: whole pages, as reading past the cache asks."""
_NO_SUCH_WAY: Final = {errno.EINVAL, errno.ENOTSUP, errno.EOPNOTSUPP, errno.ENOSYS, errno.ESPIPE}
Count = Callable[[int], None]
"""Told how many bytes are done since it was last told."""


def _uncounted(count: int) -> None:
    pass


def exists(calls: SystemCalls, at: Folder, name: str) -> bool:
    """Return whether a name is taken in a folder, be it by a symlink that leads nowhere."""
    try:
        calls.status(at, name)
    except FileNotFoundError:
        return False
    return True


def write_new(calls: SystemCalls, at: Folder, name: str, data: bytes) -> None:
    """Write a small file that is not there yet, and wait until it is on the card."""
    handle = calls.create(at, name)
    with _closing(calls, handle):
        _write_all(calls, handle, memoryview(data))
        calls.flush(handle)


def copy_in(
    calls: SystemCalls, loop: Path, at: Folder, name: str, *, size: int, count: Count = _uncounted
) -> str:
    """Copy a loop to a new file on the card, wait until it is there, and return its SHA-256, hexadecimal.

    Raises
    ------
    JobError
        The loop cannot be read, or is no longer of `size` bytes.
    OSError
        The card failed.
    """
    digest, done = hashlib.sha256(), 0
    handle = calls.create(at, name)
    with _closing(calls, handle), _reading(loop) as read:
        while data := read():
            _write_all(calls, handle, memoryview(data))
            digest.update(data)
            done += len(data)
            count(len(data))
        calls.flush(handle)
    if done != size:
        remedy = "copy it again when it is finished"
        raise JobError("has changed while it was copied", where=str(loop), remedy=remedy)
    return digest.hexdigest()


def read_back(
    calls: SystemCalls, at: Folder, name: str, *, count: Count = _uncounted
) -> tuple[str, int, ReadingWay]:
    """Return SHA-256 and size of a file as the card holds it, and how it was read.

    The ways are tried from the surest down; a file system that refuses one says so with EINVAL or the like.
    """
    ways = reading_ways()
    for way in ways:
        try:
            return *_read_one_way(calls, at, name, way, count), way
        except OSError as error:
            if way == ways[-1] or error.errno not in _NO_SUCH_WAY:
                raise
    raise AssertionError("every system has a way to read")


def read_small(calls: SystemCalls, at: Folder, name: str) -> bytes | None:
    """Return a small file's bytes; None if it is no regular file, or larger than `LARGEST`."""
    facts = calls.status(at, name)
    if not stat.S_ISREG(facts.st_mode) or facts.st_size > LARGEST:
        return None
    handle = calls.open_back(at, name, "cached")
    parts: list[bytes] = []
    with _closing(calls, handle), mmap.mmap(-1, _CHUNK) as buffer:
        while length := calls.read(handle, buffer):
            parts.append(buffer[:length])
            if sum(map(len, parts)) > LARGEST:
                return None
    return b"".join(parts)


def _read_one_way(
    calls: SystemCalls, at: Folder, name: str, way: ReadingWay, count: Count
) -> tuple[str, int]:
    digest, done = hashlib.sha256(), 0
    handle = calls.open_back(at, name, way)
    with _closing(calls, handle), mmap.mmap(-1, _CHUNK) as buffer:
        while length := calls.read(handle, buffer):
            with memoryview(buffer) as view:
                digest.update(view[:length])
            done += length
            count(length)
    return digest.hexdigest(), done


def _write_all(calls: SystemCalls, handle: int, data: memoryview) -> None:
    while data:
        data = data[calls.write(handle, data) :]


@contextlib.contextmanager
def _closing(calls: SystemCalls, handle: int) -> Iterator[None]:
    try:
        yield
    except BaseException:
        with contextlib.suppress(OSError):
            calls.close(handle)
        raise
    # some file systems tell only here that a write has failed
    calls.close(handle)


@contextlib.contextmanager
def _reading(loop: Path) -> Iterator[Callable[[], bytes]]:
    """Read a loop in chunks; its own errors must not look like the card's."""
    try:
        file = loop.open("rb", buffering=0)
    except OSError as error:
        raise _unreadable(loop, error) from error
    with file:
        if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            raise JobError("is no regular file any more", where=str(loop))

        def read() -> bytes:
            try:
                return file.read(_CHUNK)
            except OSError as error:
                raise _unreadable(loop, error) from error

        yield read


def _unreadable(loop: Path, error: OSError) -> JobError:
    return JobError(f"cannot be read: {reason(error)}", where=str(loop))
