"""The order of a folder's entries: on FAT and exFAT many players play in it, not by name.

A new entry goes into the first gap that is long enough, so entries of different lengths can
come to stand out of order where files were deleted before. The gaps are closed with empty
files while the loops take their places, and opened again afterwards.
"""

from __future__ import annotations

import errno
import re
import stat
from collections.abc import Sequence
from typing import Final

from ghostprep.card.calls import Folder, SystemCalls
from ghostprep.card.names import fold

_GAP: Final = re.compile(r"GPGAP\d{3}\.TMP", re.IGNORECASE)
_MOST_GAPS: Final = 1000


def close_gaps(calls: SystemCalls, at: Folder) -> bool:
    """Make empty files until one comes to stand last, so that what follows is written in order.

    Returns
    -------
    bool
        Whether the system lists a folder in the order of its entries. Gaps are filled from the front,
        so where a later file is listed before an earlier one it does not, and the gaps stay as they are.
    """
    before = ""
    for number in range(_MOST_GAPS):
        name = f"GPGAP{number:03d}.TMP"
        try:
            calls.close(calls.create(at, name))
        except OSError as error:
            if error.errno != errno.ENOSPC:
                raise
            break  # a FAT16 card takes few names outside its folders: leave them for the loops
        listing = [fold(n) for n in calls.names(at)]
        if listing[-1] == fold(name):
            return True
        if before and listing.index(fold(name)) < listing.index(fold(before)):
            open_gaps(calls, at)
            return False
        before = name
    open_gaps(calls, at)
    return True


def open_gaps(calls: SystemCalls, at: Folder) -> None:
    """Remove the empty files again."""
    for name in calls.names(at):
        if _GAP.fullmatch(name):
            facts = calls.status(at, name)
            if stat.S_ISREG(facts.st_mode) and facts.st_size == 0:
                calls.remove(at, name)


def in_order(listing: Sequence[str], wanted: Sequence[str]) -> bool:
    """Return whether all the `wanted` names stand in the listing, in this order.

    Examples
    --------
    >>> in_order(["OTHER.TXT", "01_a.avi", "02_B.AVI"], ["01_A.AVI", "02_B.AVI"])
    True
    """
    places = {fold(name): place for place, name in enumerate(listing)}
    found = [places.get(fold(name), -1) for name in wanted]
    return -1 not in found and found == sorted(found)
