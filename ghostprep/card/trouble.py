"""What the system's errors mean when they come from a card."""

from __future__ import annotations

import errno
from pathlib import Path
from typing import Final

from ghostprep.errors import JobError

_FULL: Final = {errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC)}
_REFUSED: Final = {errno.EACCES, errno.EPERM}
_GONE: Final = {
    getattr(errno, name)
    for name in ("EIO", "ENXIO", "ENODEV", "ENOENT", "ENOTCONN", "ECONNABORTED", "ESTALE", "ENOMEDIUM")
    if hasattr(errno, name)
}


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
    return error.strerror or str(error)


def card_failed(error: OSError, folder: Path, doing: str, outcome: str) -> JobError:
    """Return the one line for a card that failed.

    Parameters
    ----------
    folder : Path
        The folder on the card.
    doing : str
        What was being done, as a clause ("copying 01_PURSE.MP4").
    outcome : str
        What the card holds now, and what to do.
    """
    system = f"{errno.errorcode.get(error.errno or 0, 'error')}: {error.strerror or error}"
    return JobError(
        f"{what_failed(error)}, while {doing}", where=str(folder), tool_line=system, remedy=outcome
    )
