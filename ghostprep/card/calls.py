"""The few system calls that touch the card, in one place, and what their errors mean.

Everything goes through an open handle of the folder, never through its path: when a
card is pulled out, its mount point is an ordinary folder of the system disk again, and
a path would lead there.
"""

from __future__ import annotations

import contextlib
import errno
import mmap
import os
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

from ghostprep.errors import JobError, reason
from ghostprep.system import FOLDER_ONLY, NO_FOLLOW, try_lock

ReadingWay = Literal["direct", "uncached", "dropped", "cached"]
"""How a file is read back: past the cache ("direct", "uncached"), after asking the system
to drop what it cached ("dropped"), or perhaps from the cache ("cached")."""
_HANDLES: Final = os.open in os.supports_dir_fd and os.rename in os.supports_dir_fd
_NO_FOLLOW: Final[int] = NO_FOLLOW | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0)
_DIRECT: Final[int] = getattr(os, "O_DIRECT", 0)
_FULL: Final = {errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC)}
_REFUSED: Final = {errno.EACCES, errno.EPERM}
_GONE: Final = {
    getattr(errno, name)
    for name in ("EIO", "ENXIO", "ENODEV", "ENOENT", "ENOTCONN", "ECONNABORTED", "ESTALE", "ENOMEDIUM")
    if hasattr(errno, name)
}


@dataclass(frozen=True, slots=True)
class Folder:
    """An open folder: its path for messages, its handle for work (None where the system has none)."""

    path: Path
    handle: int | None

    def spot(self, name: str) -> str:
        """Return how the system is told of `name` in this folder."""
        return name if self.handle is not None else str(self.path / name)


class SystemCalls:
    """Every call that can fail because of the card. All raise `OSError` and nothing else."""

    def open_folder(self, path: Path) -> Folder:
        """Open a folder by its path; a symlink is refused by the system."""
        if not _HANDLES:
            return Folder(path, None)
        return Folder(path, os.open(path, os.O_RDONLY | FOLDER_ONLY | _NO_FOLLOW))

    def open_inner(self, at: Folder, name: str) -> Folder:
        """Open a folder in a folder."""
        if at.handle is None:
            return Folder(at.path / name, None)
        return Folder(at.path / name, os.open(name, os.O_RDONLY | FOLDER_ONLY | _NO_FOLLOW, dir_fd=at.handle))

    def lock(self, folder: Folder) -> None:
        """Keep other runs out of a folder until it is closed; raises `BlockingIOError` if one is at work."""
        if folder.handle is None:
            return
        try:
            locked = try_lock(folder.handle)
        except OSError as error:
            if error.errno not in (errno.ENOTSUP, errno.ENOSYS, errno.ENOLCK, errno.EINVAL):
                raise
        else:
            if not locked:
                raise BlockingIOError(errno.EWOULDBLOCK, os.strerror(errno.EWOULDBLOCK))

    def close_folder(self, folder: Folder) -> None:
        """Let the folder go."""
        if folder.handle is not None:
            os.close(folder.handle)

    def make_folder(self, at: Folder, name: str) -> None:
        """Make a folder that is not there yet."""
        os.mkdir(at.spot(name), dir_fd=at.handle)

    def names(self, at: Folder) -> list[str]:
        """Return the names in the folder in the order of its directory entries."""
        return os.listdir(at.path if at.handle is None else at.handle)  # noqa: PTH208 - pathlib takes no handle

    def status(self, at: Folder, name: str) -> os.stat_result:
        """Return what a name stands for; a symlink is itself."""
        return os.stat(at.spot(name), dir_fd=at.handle, follow_symlinks=False)

    def create(self, at: Folder, name: str) -> int:
        """Open a file that is not there yet for writing."""
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | _NO_FOLLOW
        return os.open(at.spot(name), flags, 0o644, dir_fd=at.handle)

    def write(self, handle: int, data: memoryview) -> int:
        """Write some or all of `data`; return how many bytes."""
        return os.write(handle, data)

    def flush(self, handle: int) -> None:
        """Wait until a file is on the card."""
        if sys.platform == "darwin":
            import fcntl

            # fsync alone stops at the drive's own cache there; not every file system knows more
            with contextlib.suppress(OSError):
                fcntl.fcntl(handle, fcntl.F_FULLFSYNC)
        os.fsync(handle)

    def flush_folder(self, at: Folder) -> None:
        """Wait until the folder's entries are on the card."""
        if at.handle is not None:
            try:
                os.fsync(at.handle)
            except OSError as error:
                # some FUSE and network file systems cannot flush a folder
                if error.errno not in (errno.EINVAL, errno.ENOSYS, errno.ENOTSUP):
                    raise

    def open_back(self, at: Folder, name: str, way: ReadingWay) -> int:
        """Open a file to read back what is on the card, in one of the `reading_ways`."""
        direct = _DIRECT if way == "direct" else 0
        handle = os.open(at.spot(name), os.O_RDONLY | _NO_FOLLOW | direct, dir_fd=at.handle)
        try:
            if way == "dropped" and sys.platform != "win32" and sys.platform != "darwin":
                os.posix_fadvise(handle, 0, 0, os.POSIX_FADV_DONTNEED)
            if way == "uncached" and sys.platform == "darwin":
                import fcntl

                fcntl.fcntl(handle, fcntl.F_NOCACHE, 1)
        except OSError:
            os.close(handle)
            raise
        return handle

    def read(self, handle: int, buffer: mmap.mmap) -> int:
        """Fill the buffer (direct reading wants whole pages); return how many bytes, 0 at the end."""
        into = getattr(os, "readv", None)
        if into is not None:
            return int(into(handle, [buffer]))
        data = os.read(handle, len(buffer))
        buffer[: len(data)] = data
        return len(data)

    def close(self, handle: int) -> None:
        """Close a file."""
        os.close(handle)

    def rename(self, at: Folder, name: str, to: Folder, new_name: str) -> None:
        """Move a file on the card to a name that is free."""
        os.rename(at.spot(name), to.spot(new_name), src_dir_fd=at.handle, dst_dir_fd=to.handle)

    def remove(self, at: Folder, name: str) -> None:
        """Remove a file."""
        os.unlink(at.spot(name), dir_fd=at.handle)

    def remove_folder(self, at: Folder, name: str) -> None:
        """Remove an empty folder."""
        os.rmdir(at.spot(name), dir_fd=at.handle)


def reading_ways() -> tuple[ReadingWay, ...]:
    """Return the ways of reading back that this system has, the surest first."""
    others: dict[str, tuple[ReadingWay, ...]] = {"darwin": ("uncached",), "win32": ("cached",)}
    return others.get(sys.platform, ("direct", "dropped", "cached") if _DIRECT else ("dropped", "cached"))


def what_failed(error: OSError) -> str:
    """Return in words what an error from a card means."""
    if error.errno in _FULL:
        return "no room is left (a FAT16 card also takes at most 512 names outside its folders)"
    if error.errno == errno.EROFS:
        return "it is read-only (is its write lock on?)"
    if error.errno in _REFUSED:
        return "the system does not allow it"
    if error.errno in _GONE:
        return "it does not answer (pulled out, or failing)"
    return reason(error)


def card_failed(error: OSError, folder: Path, doing: str, outcome: str) -> JobError:
    """Return the one line for a card that failed.

    Parameters
    ----------
    doing : str
        What was being done, as a clause ("copying 01_PURSE.MP4").
    outcome : str
        What the card holds now, and what to do.
    """
    system = f"{errno.errorcode.get(error.errno or 0, 'error')}: {reason(error)}"
    return JobError(
        f"{what_failed(error)}, while {doing}", where=str(folder), tool_line=system, remedy=outcome
    )
