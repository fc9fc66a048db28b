"""Where loops may be put: on a card, and never among the system's or the user's own files."""

from __future__ import annotations

import os
import sys
from functools import partial
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


def check_place(folder: Path, *, any_folder: bool = False) -> tuple[Path, Drive]:
    """Return the real path of the folder and its drive, if loops may be put there.

    With `any_folder` it may be elsewhere than on a card; a system folder never may.

    Raises
    ------
    InputError
        It is missing, no folder, a symlink, a system or home folder, or on no card that can be written to.
    """
    no = partial(InputError, where=str(folder))
    if folder.is_symlink():
        raise no("is a symlink", remedy=f"name the folder itself: {_target(folder)}")
    if not folder.exists():
        raise no("does not exist", remedy="plug the card in, or make the folder first")
    if not folder.is_dir():
        raise no("is not a folder", remedy="name the card's folder last")
    # a symlink on the card may lead anywhere; one on the way to the card (/media) is the system's
    whole = Path(os.path.abspath(folder))  # noqa: PTH100 - `resolve` would follow the links
    if any(part.is_symlink() and drive_of(part.parent.resolve()).removable for part in whole.parents):
        raise no(
            "is reached through a symlink on the card", remedy=f"name the folder itself: {_target(folder)}"
        )
    real = folder.resolve()
    if is_system_folder(real):
        raise no("is a system folder", remedy="name a folder on the player's card")
    drive = drive_of(real)
    if not any_folder and (why := _why_no_card(real, drive)):
        raise no(why[0], remedy=why[1])
    if not drive.writable:
        raise no("the card is mounted read-only", remedy="open its write lock, or check it for errors")
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


def _why_no_card(real: Path, drive: Drive) -> tuple[str, str] | None:
    """Return what is wrong with a folder that is on no card, and the remedy."""
    remedy = "run `ghostprep card` to see the cards, or add --any-folder"
    home = Path.home().resolve()
    # a card may be mounted inside a home folder; the home folder's own drive is no card
    in_home = any(real.is_relative_to(h) for h in (home, *_HOMES))
    if in_home and (real == home or drive.mount == drive_of(home).mount):
        return "is in a home folder", remedy
    if not drive.removable:
        return f"is on {drive.mount}, which is no removable drive", remedy
    if not drive.file_system.is_card_like:
        what = f"the drive is formatted as {drive.file_system.kind}, and players read FAT or exFAT"
        return what, "format the card as FAT32, or add --any-folder"
    return None


def _target(link: Path) -> str:
    try:
        return str(link.resolve())
    except OSError:
        return "it leads nowhere"
