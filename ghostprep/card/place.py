"""Where loops may be put: on a card, and never among the system's or the user's own files."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Final

from ghostprep.card.drives import Drive, drive_of
from ghostprep.errors import InputError

_SYSTEM: Final = tuple(
    Path("/", name)
    for name in (
        *("bin", "boot", "dev", "efi", "etc", "lib", "lib32", "lib64", "opt", "proc", "run", "sbin", "sys"),
        *("usr", "var", "Applications", "Library", "System", "cores", "private/etc", "private/var"),
    )
)
_EXCEPT: Final = tuple(
    Path("/", name)
    for name in ("dev/shm", "run/media", "var/tmp", "var/folders", "private/var/tmp", "private/var/folders")
)
_HOMES: Final = (Path("/home"), Path("/Users"), Path("/root"))

Ask = Callable[[Path], Drive]
"""Tells the drive on which a folder lies."""


def check_place(folder: Path, *, any_folder: bool = False, ask: Ask = drive_of) -> tuple[Path, Drive]:
    """Return the real path of the folder and its drive, if loops may be put there.

    Parameters
    ----------
    folder : Path
        As the user named it.
    any_folder : bool
        Whether a folder may be used that is not on a card; a system folder never may.
    ask : callable
        Tells the drive of a path.

    Raises
    ------
    InputError
        It is missing, no folder, a symlink, a system or home folder, or on no card that can be written to.
    """
    where = str(folder)
    if folder.is_symlink():
        raise InputError("is a symlink", where=where, remedy=f"name the folder itself: {_target(folder)}")
    if not folder.exists():
        raise InputError("does not exist", where=where, remedy="plug the card in, or make the folder first")
    if not folder.is_dir():
        raise InputError("is not a folder", where=where, remedy="name the card's folder last")
    _refuse_links_on_cards(folder, ask)
    real = folder.resolve()
    if is_system_folder(real):
        raise InputError("is a system folder", where=where, remedy="name a folder on the player's card")
    drive = ask(real)
    if not any_folder:
        _refuse_no_card(real, where, drive, ask)
    if not drive.writable:
        raise InputError(
            "the card is mounted read-only", where=where, remedy="open its write lock, or check it for errors"
        )
    return real, drive


def is_system_folder(real: Path) -> bool:
    """Return whether a resolved path is one of the system's own."""
    if real == Path(real.anchor) and sys.platform != "win32":
        return True
    system = list(_SYSTEM)
    if sys.platform == "win32":
        names = ("SYSTEMROOT", "PROGRAMFILES", "PROGRAMFILES(X86)", "PROGRAMDATA")
        system = [type(real)(os.environ[n]) for n in names if n in os.environ]
        if real == type(real)(os.environ.get("SYSTEMDRIVE", "C:") + "\\"):
            return True
    if any(real.is_relative_to(e) for e in _EXCEPT):
        return real == Path("/run/media")
    return any(real.is_relative_to(s) for s in system)


def _refuse_no_card(real: Path, where: str, drive: Drive, ask: Ask) -> None:
    remedy = "run `ghostprep card` to see the cards, or add --any-folder"
    home = Path.home().resolve()
    # a card may be mounted inside a home folder; the home folder's own drive is no card
    in_home = any(real.is_relative_to(h) for h in (home, *_HOMES))
    if in_home and (real == home or drive.mount == ask(home).mount):
        raise InputError("is in a home folder", where=where, remedy=remedy)
    if not drive.removable:
        raise InputError(f"is on {drive.mount}, which is no removable drive", where=where, remedy=remedy)
    if not drive.file_system.is_card_like:
        raise InputError(
            f"the drive is formatted as {drive.file_system.kind}, and players read FAT or exFAT",
            where=where,
            remedy="format the card as FAT32, or add --any-folder",
        )


def _refuse_links_on_cards(folder: Path, ask: Ask) -> None:
    # a symlink on the card may lead anywhere; one on the way to the card (/media) is the system's
    whole = Path(os.path.abspath(folder))  # noqa: PTH100 - `resolve` would follow the links
    for part in whole.parents:
        if part.is_symlink() and ask(part.parent.resolve()).removable:
            raise InputError(
                "is reached through a symlink on the card",
                where=str(folder),
                remedy=f"name the folder itself: {_target(folder)}",
            )


def _target(link: Path) -> str:
    try:
        return str(link.resolve())
    except OSError:
        return "it leads nowhere"
