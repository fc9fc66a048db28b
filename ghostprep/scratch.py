"""Temporaries whose owner can be told from the dead: whoever works holds a lock on each of its own.

A killed process cannot clear up, so the next run does it: what nobody holds any more is removed.
"""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import stat
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Final, Self

from ghostprep.errors import JobError, reason
from ghostprep.system import NO_FOLLOW, is_own, is_windows, try_lock

_FOLDER: Final = re.compile(r"ghostprep-[a-z0-9_]{8}")
_CLAIM: Final = "claim"
_UNCLAIMED_S: Final = 3600
"""Seconds after which a folder of ours without a claim, and not empty, is nobody's."""
_PATIENCE_S: Final = 10.0
"""Seconds that a lock is waited for: others hold it for a moment only."""


class Claim:
    """A file that we made and hold; freed at the latest when the process ends, however it ends."""

    def __init__(self, path: Path) -> None:
        """Make the file; OSError if it is there or cannot be made."""
        self._handle = os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o666)
        _lock(self._handle)

    def free(self) -> None:
        """Hold it no longer. May be called twice."""
        if self._handle >= 0:
            with contextlib.suppress(OSError):
                os.close(self._handle)
            self._handle = -1

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.free()


def is_held(path: Path) -> bool:
    """Return whether a living process holds the file; also where that cannot be told."""
    if is_windows():
        try:
            path.rename(path)  # what is open there cannot be renamed
        except OSError:
            return path.exists()
        return False
    try:
        handle = os.open(path, os.O_RDWR | NO_FOLLOW)
    except OSError:
        return path.exists()
    try:
        return not _lock(handle)
    finally:
        os.close(handle)


def _lock(handle: int) -> bool:
    """Lock a file if nobody else does; without locks nothing is taken for left over."""
    try:
        return try_lock(handle)
    except OSError:
        return False


def no_temporaries(error: OSError) -> JobError:
    """Return what to tell where the system refuses a temporary file."""
    try:
        where = tempfile.gettempdir()
    except OSError:
        where = "temporary files"
    return JobError(
        "temporary files cannot be written or read",
        where=str(error.filename or where),
        remedy="free some space there, or set TMPDIR to a folder on a larger disk",
        tool_line=reason(error),
    )


@contextlib.contextmanager
def scratch_folder() -> Iterator[Path]:
    """Give a temporary folder that goes with the block, and remove those that killed runs left.

    Raises
    ------
    JobError
        It cannot be made, or the block failed to write to it.
    """
    folder: Path | None = None
    claim: Claim | None = None
    try:
        where = Path(tempfile.gettempdir())
        _clear_left(where)
        while claim is None:
            folder = Path(tempfile.mkdtemp(prefix="ghostprep-", dir=where))
            # between these two another run may take the empty folder for left over
            with contextlib.suppress(FileNotFoundError):
                claim = Claim(folder / _CLAIM)
        assert folder is not None
        yield folder
    except OSError as error:
        raise no_temporaries(error) from error
    finally:
        if claim is not None:
            claim.free()  # first: Windows removes no file that is open
        if folder is not None:
            shutil.rmtree(folder, ignore_errors=True)


def _clear_left(where: Path) -> None:
    """Remove the scratch folders that nobody holds."""
    with contextlib.suppress(OSError), os.scandir(where) as entries:
        for entry in entries:
            if _FOLDER.fullmatch(entry.name) and _is_ours(entry) and _is_left(Path(entry.path)):
                shutil.rmtree(entry.path, ignore_errors=True)


def _is_ours(entry: os.DirEntry[str]) -> bool:
    # others may make folders of any name in a shared place; never follow them, never touch theirs
    if not entry.is_dir(follow_symlinks=False):
        return False
    return is_own(entry.stat(follow_symlinks=False))


def _is_left(folder: Path) -> bool:
    try:
        claim = (folder / _CLAIM).lstat()
    except OSError:
        with contextlib.suppress(OSError):
            folder.rmdir()  # which takes empty ones only
            return False
        with contextlib.suppress(OSError):
            return folder.stat().st_mtime < time.time() - _UNCLAIMED_S
        return False
    return stat.S_ISREG(claim.st_mode) and not is_held(folder / _CLAIM)


@contextlib.contextmanager
def one_at_a_time(folder: Path) -> Iterator[None]:
    """Wait until no other run of ours is in such a block for the same folder.

    Where folders cannot be locked (Windows, some network folders) nothing is waited for.
    """
    handle = -1
    try:
        if not is_windows():
            with contextlib.suppress(OSError):
                handle = os.open(folder, os.O_RDONLY)
                _lock_patiently(handle)
        yield
    finally:
        if handle >= 0:
            os.close(handle)


def _lock_patiently(handle: int) -> None:
    until = time.monotonic() + _PATIENCE_S
    while not try_lock(handle) and time.monotonic() < until:
        time.sleep(0.01)
