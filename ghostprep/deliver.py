"""Files that appear at their destination whole or not at all; a loop and its report appear together."""

from __future__ import annotations

import contextlib
import errno
import os
import re
import secrets
import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

from ghostprep.errors import InputError, JobError, reason
from ghostprep.interrupts import undisturbed
from ghostprep.provenance import is_ours, sign
from ghostprep.scratch import Claim, is_held, one_at_a_time
from ghostprep.system import flush_folder, is_windows, why_windows_refuses

_PART: Final = "ghostprep"
_COPY: Final = "ghostprep-copy"
_OLD: Final = "ghostprep-old"
"""In the names of what is to appear, of a copy of what stands there, and of such a copy that is whole."""
_STEM: Final = 50
"""Characters of a name that its temporary keeps: however many bytes each takes, it stays under 255."""
_FULL: Final = frozenset({errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", errno.ENOSPC)})
_FORBIDDEN: Final = frozenset({errno.EACCES, errno.EPERM, errno.EROFS})
_DELIVERED: Final[list[Path]] = []


def delivered() -> tuple[Path, ...]:
    """Return the files that someone asked for and that this process has put in place so far."""
    return tuple(_DELIVERED)


def check_destination(
    destination: Path,
    *besides: Path,
    overwrite: bool,
    theirs: bool = False,
    instead: str = "name another file",
) -> None:
    """Refuse destinations that cannot or must not be written, before any work is done.

    What killed runs left of the same files is cleared away first.

    Parameters
    ----------
    destination : Path
        The main file.
    besides : Path
        Files that belong to it.
    overwrite : bool
        Whether files of ours that are there may be replaced.
    theirs : bool
        Whether a file that is not ours may be replaced too: it is changed on its owner's word.
    instead : str
        What to do where a file that is not ours stands in the way.

    Raises
    ------
    InputError
        One is a folder, exists and may not be replaced, or its folder is missing or read-only.
    """
    every = (destination, *besides)
    if any("\0" in str(path) for path in every):
        raise InputError("is no name for a file", where=str(destination), remedy="name another file")
    _clear_left(every)
    # between another run's two renames its loop and its report do not fit each other yet
    with one_at_a_time(destination.parent):
        for path in every:
            _check(path, overwrite=overwrite, theirs=theirs, instead=instead)


def _check(path: Path, *, overwrite: bool, theirs: bool, instead: str) -> None:
    folder, where = path.parent, str(path)
    if is_windows() and (why := why_windows_refuses(path.name)):
        raise InputError(f"{why}, which Windows does not allow", where=where, remedy="name another file")
    try:
        exists = os.path.lexists(path)
        if path.is_dir():
            raise InputError("is a folder", where=where, remedy="name a file in it")
        if exists and not path.is_file():
            raise InputError("is not a regular file", where=where, remedy="name another file")
        if exists and not theirs and not is_ours(path):
            raise InputError(
                "exists already, not as ghostprep wrote it, and is never replaced",
                where=where,
                remedy=instead,
            )
        if exists and not overwrite:
            raise InputError("exists already", where=where, remedy="name another file or add --overwrite")
        if not folder.is_dir():
            raise InputError("the folder does not exist", where=str(folder), remedy="make it first")
    except OSError as error:
        raise InputError(reason(error), where=where, remedy="name another file") from None
    if not os.access(folder, os.W_OK):
        raise InputError("the folder cannot be written to", where=str(folder), remedy="choose another folder")


@contextlib.contextmanager
def whole_file(
    destination: Path, *, overwrite: bool, asked: bool = True, theirs: bool = False
) -> Iterator[Path]:
    """Give a temporary path beside `destination`; rename it there if the block succeeds.

    See `whole_files`.
    """
    with whole_files([destination], overwrite=overwrite, asked=asked, theirs=theirs) as (part,):
        yield part


@contextlib.contextmanager
def whole_files(
    destinations: Sequence[Path], *, overwrite: bool, asked: bool = True, theirs: bool = False
) -> Iterator[tuple[Path, ...]]:
    """Give a temporary path beside each destination; rename all of them there if the block succeeds.

    Each temporary keeps its destination's ending, since encoders read it. All are flushed to the
    disk before the first rename, and removed if anything goes wrong; what a killed run left of
    the same files is removed first.

    Parameters
    ----------
    destinations : sequence of Path
        Where the files shall appear, the main one first. Where a rename fails, those done
        before are taken back, so that the files always are of one run. All but the first
        should be small: while they are replaced, a copy is kept of what they were.
    overwrite : bool
        Whether files that are there may be replaced.
    asked : bool
        Whether someone asked for them. Others do not count as `delivered`, and are not flushed: what
        can be made again need not wait for the disk.
    theirs : bool
        Whether a file that is not ours may be replaced too: it is changed on its owner's word,
        and stays theirs.

    Yields
    ------
    tuple of Path
        Where to write.

    Raises
    ------
    InputError
        See `check_destination`; also if a file has come into being meanwhile.
    JobError
        The system refused to write.
    """
    check_destination(*destinations, overwrite=overwrite, theirs=theirs or not asked)
    token = secrets.token_hex(4)
    parts: dict[Path, Path] = {}
    claims: list[Claim] = []
    try:
        for destination in destinations:
            part = _beside(destination, token, _PART)
            parts[part] = destination
            claims.append(Claim(part))
        yield tuple(parts)
        for part, destination in parts.items() if asked else ():
            if not theirs:
                sign(part, destination.suffix.lower())
            _flush(part)
        if is_windows():
            # what is open cannot be renamed there
            _free(claims)
        with one_at_a_time(destinations[0].parent), undisturbed():
            _put_in_place(list(parts.items()), token, overwrite=overwrite)
            if asked:
                _DELIVERED.extend(destinations)
        if asked:
            flush_folder(destinations[0].parent)
    except OSError as error:
        raise _trouble(error, destinations[0], parts) from error
    except JobError as error:
        if Path(error.where) not in parts:
            raise
        # the encoder's error names the temporary: name the destination
        named = str(parts[Path(error.where)])
        raise JobError(error.what, where=named, remedy=error.remedy, tool_line=error.tool_line) from error
    finally:
        for part in parts:
            with contextlib.suppress(OSError):
                part.unlink()
        _free(claims)


def write_text(destination: Path, text: str, *, overwrite: bool) -> None:
    """Write `text` as UTF-8 to `destination`, whole or not at all.

    Half a character, as it stands for a byte of a name that is no text, is written as an escape.
    """
    with whole_file(destination, overwrite=overwrite) as part:
        part.write_text(text, encoding="utf-8", errors="backslashreplace", newline="\n")


def _trouble(error: OSError, first: Path, parts: dict[Path, Path]) -> JobError:
    """Return what the system said, about the destination and not about its temporary."""
    name = error.filename2 or error.filename
    named = Path(os.fsdecode(name)) if isinstance(name, str | bytes) else first
    hidden = named.parent == first.parent and named.name.startswith(f".{first.stem[:_STEM]}.")
    where = parts.get(named, first if hidden else named)
    remedy = "check the disk, or choose another folder"
    if error.errno in _FULL:
        remedy = "free some space or choose another folder"
    elif error.errno in _FORBIDDEN:
        remedy = "allow writing there, or choose another folder"
    return JobError(reason(error), where=str(where), remedy=remedy)


def _put_in_place(pairs: list[tuple[Path, Path]], token: str, *, overwrite: bool) -> None:
    """Rename each part to its destination: all of them or none.

    The main file replaces its forerunner last, in one step, so that no copy of it is needed for the
    way back. Where it has none it comes first: better a loop without its report than the reverse.
    """
    replacing = overwrite and pairs[0][1].exists()
    ordered = pairs[::-1] if replacing else pairs
    done: list[tuple[Path, Path | None]] = []
    kept: list[Path] = []
    try:
        for part, destination in ordered:
            old: Path | None = None
            if overwrite and destination.exists() and destination != ordered[-1][1]:
                copy, old = (_beside(destination, token, kind) for kind in (_COPY, _OLD))
                kept += copy, old
                shutil.copyfile(destination, copy)
                _flush(copy)
                # under this name the next run puts it back after a kill: it must be whole
                copy.rename(old)
            part.replace(destination) if overwrite else _rename_new(part, destination)
            done.append((destination, old))
    except BaseException:
        _take_back(done)
        raise
    finally:
        for old in kept:
            with contextlib.suppress(OSError):
                old.unlink()


def _take_back(done: list[tuple[Path, Path | None]]) -> None:
    for destination, old in reversed(done):
        try:
            destination.unlink(missing_ok=True) if old is None else old.replace(destination)
        except OSError as error:
            raise JobError(
                f"is of another run than the files beside it, and could not be put back ({reason(error)})",
                where=str(destination),
                remedy="make them again with --overwrite",
            ) from error


def _rename_new(part: Path, destination: Path) -> None:
    """Rename without replacing, so that of two runs on one destination one is told."""
    taken = InputError("came into being while we worked", where=str(destination), remedy="add --overwrite")
    try:
        os.link(part, destination)  # unlike rename, a link never replaces
    except FileExistsError:
        raise taken from None
    except OSError:
        # no hard links here (FAT, some network folders)
        if os.path.lexists(destination):
            raise taken from None
        part.rename(destination)


def _beside(destination: Path, token: str, kind: str) -> Path:
    return destination.with_name(f".{destination.stem[:_STEM]}.{token}.{kind}{destination.suffix}")


def _clear_left(destinations: Sequence[Path]) -> None:
    """Remove what killed runs left of these files; one that was killed between two renames is taken back."""
    left: dict[str, dict[Path, tuple[Path, str]]] = {}
    for destination in destinations:
        name = re.compile(
            rf"\.{re.escape(destination.stem[:_STEM])}\.([0-9a-f]{{8}})\.({_PART}|{_COPY}|{_OLD})"
            + re.escape(destination.suffix)
        )
        with contextlib.suppress(OSError):
            for path in destination.parent.iterdir():
                if found := name.fullmatch(path.name):
                    left.setdefault(found[1], {})[path] = destination, found[2]
    for found_paths in left.values():
        if any(is_held(path) for path in found_paths):
            continue
        main_waits = (destinations[0], _PART) in found_paths.values()
        for path, (destination, kind) in found_paths.items():
            with contextlib.suppress(OSError):
                if kind == _OLD and main_waits and destination.exists():
                    path.replace(destination)
                else:
                    path.unlink()


def _free(claims: list[Claim]) -> None:
    for claim in claims:
        claim.free()


def _flush(path: Path) -> None:
    # append mode: Windows flushes only handles that may write
    with path.open("ab") as file:
        os.fsync(file.fileno())
