"""What POSIX systems and Windows do each in their own way, in one place.

Windows has no locks on folders, no owners by number and no handles of folders. What stands in for each there
is said beside it.
"""

from __future__ import annotations

import contextlib
import os
import sys
from pathlib import Path
from typing import Final

NO_FOLLOW: Final[int] = getattr(os, "O_NOFOLLOW", 0)
"""Refuses a symlink on opening; Windows makes those for administrators only."""
FOLDER_ONLY: Final[int] = getattr(os, "O_DIRECTORY", 0)
"""Refuses anything but a folder on opening, where the system can."""


_DEVICES: Final = frozenset(
    {
        "CON",
        "PRN",
        "AUX",
        "NUL",
        "CONIN$",
        "CONOUT$",
        *(f"{port}{n}" for port in ("COM", "LPT") for n in "123456789¹²³"),
    }
)
_NEVER: Final = frozenset('"*/:<>?\\|')


def is_windows() -> bool:
    """Return whether what is open can neither be renamed nor removed here, and folders cannot be opened."""
    return os.name == "nt"


def why_windows_refuses(name: str) -> str | None:
    """Return why Windows, or a card that it shall read, cannot have a file of this name; None if it can.

    What is written to a device's name is gone without an error; dots and blanks at the end are cut off [1]_.

    References
    ----------
    .. [1] Microsoft, "Naming Files, Paths, and Namespaces".
    """
    if name.endswith((".", " ")):
        return "ends with a dot or a blank"
    if name.split(".", maxsplit=1)[0].rstrip().upper() in _DEVICES:
        return "is a device name"
    bad = sorted({sign for sign in name if sign < " " or sign in _NEVER})
    return f"holds {' '.join(map(repr, bad))}" if bad else None


def try_lock(handle: int) -> bool:
    """Lock a file or folder until it is closed; False: another holds it; OSError: the system has no locks.

    Windows needs none for files: an open file stands for itself there.
    """
    if sys.platform != "win32" and not is_windows():
        import fcntl

        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
    return True


def is_own(status: os.stat_result) -> bool:
    """Return whether a file is the user's own; Windows keeps each user's temporary files apart anyway."""
    if sys.platform != "win32" and not is_windows():
        return status.st_uid == os.geteuid()
    return True


def flush_folder(folder: Path) -> None:
    """Wait until a rename in a folder is on the disk, as far as the file system can do that.

    Windows cannot open folders and needs no such step. Some file systems (FUSE, network) cannot flush a
    folder either; the rename itself stands.
    """
    if not is_windows():
        with contextlib.suppress(OSError):
            handle = os.open(folder, os.O_RDONLY)
            try:
                os.fsync(handle)
            finally:
                os.close(handle)
