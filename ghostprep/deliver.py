"""Files that appear at their destination whole or not at all."""

from __future__ import annotations

import contextlib
import os
import secrets
from collections.abc import Iterator
from pathlib import Path

from ghostprep.errors import InputError, JobError


def check_destination(destination: Path, *, overwrite: bool) -> None:
    """Refuse a destination that cannot or must not be written, before any work is done.

    Raises
    ------
    InputError
        It is a folder, exists and `overwrite` is false, or its folder is missing or read-only.
    """
    folder = destination.parent
    if destination.is_dir():
        raise InputError("is a folder", where=str(destination), remedy="name a file in it")
    if destination.exists() and not destination.is_file():
        raise InputError("is not a regular file", where=str(destination), remedy="name another file")
    if destination.exists() and not overwrite:
        raise InputError(
            "exists already", where=str(destination), remedy="name another file or add --overwrite"
        )
    if not folder.is_dir():
        raise InputError("the folder does not exist", where=str(folder), remedy="make it first")
    if not os.access(folder, os.W_OK):
        raise InputError("the folder cannot be written to", where=str(folder), remedy="choose another folder")


@contextlib.contextmanager
def whole_file(destination: Path, *, overwrite: bool) -> Iterator[Path]:
    """Give a temporary path beside `destination`; rename it there if the block succeeds.

    The temporary keeps the destination's ending, since encoders read it. It is flushed
    to the disk before the rename, and removed if anything goes wrong.

    Parameters
    ----------
    destination : Path
        Where the file shall appear.
    overwrite : bool
        Whether a file that is there may be replaced; it is replaced in one step, at the end.

    Yields
    ------
    Path
        Where to write.

    Raises
    ------
    InputError
        See `check_destination`; also if the file has come into being meanwhile.
    JobError
        The system refused to write.
    """
    check_destination(destination, overwrite=overwrite)
    part = destination.with_name(f".{destination.stem[:80]}.{secrets.token_hex(4)}.part{destination.suffix}")
    try:
        yield part
        _flush(part)
        if overwrite:
            part.replace(destination)
        else:
            _rename_new(part, destination)
        _flush_folder(destination.parent)
    except OSError as error:
        raise JobError(
            error.strerror or str(error),
            where=str(destination),
            remedy="free some space or choose another folder",
        ) from error
    finally:
        with contextlib.suppress(OSError):
            part.unlink()


def write_text(destination: Path, text: str, *, overwrite: bool) -> None:
    """Write `text` as UTF-8 to `destination`, whole or not at all."""
    with whole_file(destination, overwrite=overwrite) as part:
        part.write_text(text, encoding="utf-8", newline="\n")


def _flush(path: Path) -> None:
    # append mode: Windows flushes only handles that may write
    with path.open("ab") as file:
        os.fsync(file.fileno())


def _flush_folder(folder: Path) -> None:
    # a rename is on the disk only when its folder is; Windows cannot open folders and needs no such step
    if os.name == "posix":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        except OSError:
            pass  # some file systems (FUSE, network) cannot flush a folder; the rename itself stands
        finally:
            os.close(handle)


def _rename_new(part: Path, destination: Path) -> None:
    """Rename without replacing, so that of two runs on one destination one is told."""
    try:
        os.link(part, destination)  # unlike rename, a link never replaces
    except FileExistsError:
        raise InputError(
            "came into being while we worked", where=str(destination), remedy="add --overwrite"
        ) from None
    except OSError:
        # no hard links here (FAT, some network folders)
        if destination.exists():
            raise InputError(
                "came into being while we worked", where=str(destination), remedy="add --overwrite"
            ) from None
        part.rename(destination)
