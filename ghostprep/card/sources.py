"""The loops that shall be put on the card, checked before anything is touched."""

from __future__ import annotations

import hashlib
import os
import stat
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ghostprep.card.names import fold
from ghostprep.card.records import Written
from ghostprep.errors import InputError


@dataclass(frozen=True, slots=True)
class LoopFile:
    """A loop: its real path and its size."""

    path: Path
    bytes: int


def check_loops(loops: Sequence[Path]) -> tuple[LoopFile, ...]:
    """Return the loops with their sizes, in the order given.

    Raises
    ------
    InputError
        There are none, one is missing, empty, unreadable or no regular file, or two have one name
        (capitals are not told apart).
    """
    if not loops:
        raise InputError("no loop was named", remedy="name one or more files before the folder")
    seen: dict[str, Path] = {}
    sources = []
    for loop in loops:
        where = str(loop)
        try:
            facts = loop.stat()
        except FileNotFoundError:
            raise InputError("does not exist", where=where) from None
        except (OSError, ValueError) as error:
            raise InputError(
                f"cannot be read: {getattr(error, 'strerror', None) or error}", where=where
            ) from error
        if not stat.S_ISREG(facts.st_mode):
            raise InputError("is not a regular file", where=where, remedy="name a finished loop")
        if not facts.st_size:
            raise InputError("is empty", where=where, remedy="make it again")
        if not os.access(loop, os.R_OK):
            raise InputError("may not be read", where=where)
        folded = fold(loop.name)
        if folded in seen:
            raise InputError(f"has the same name as {seen[folded]}", where=where, remedy="rename one of them")
        seen[folded] = loop
        sources.append(LoopFile(loop.resolve(), facts.st_size))
    return tuple(sources)


def refuse_twice(sources: Sequence[LoopFile], stays: Sequence[Written]) -> None:
    """Refuse a loop that is named twice, under whatever names, or stays on the card from an earlier run.

    Raises
    ------
    InputError
        There is one.
    """
    sizes = Counter([*(source.bytes for source in sources), *(written.bytes for written in stays)])
    known = {written.sha256: f"stands on the card already as {written.name}" for written in stays}
    for source in sources:
        if sizes[source.bytes] == 1:
            continue
        with source.path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
        if digest in known:
            raise InputError(
                known[digest],
                where=str(source.path),
                remedy="leave it out, or add --replace to have the new ones alone",
            )
        known[digest] = f"is the same loop as {source.path}"
