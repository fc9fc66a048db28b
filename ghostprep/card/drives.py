"""Which drives the system sees, which of them can be taken out, and what they hold."""

from __future__ import annotations

import os
import shutil
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from ghostprep.card.kind import FileSystem, file_system

_SYS: Final = Path("/sys")


@dataclass(frozen=True, slots=True)
class Drive:
    """A mounted volume.

    Attributes
    ----------
    mount : Path
        Where it is mounted.
    device : str
        The system's name for it.
    removable : bool
        Whether it is in a card reader or on USB.
    writable : bool
        Whether it is mounted for writing.
    total_bytes, free_bytes : int or None
        None where the file system does not tell.
    cluster_bytes : int
        The step in which files take space; 1 where not known.
    """

    mount: Path
    device: str
    file_system: FileSystem
    removable: bool
    writable: bool
    total_bytes: int | None
    free_bytes: int | None
    cluster_bytes: int = 1

    def as_dict(self) -> dict[str, object]:
        """Return the drive as it stands in a report."""
        return {
            "mount": str(self.mount),
            "device": self.device,
            "file_system": self.file_system.kind,
            "told_by": self.file_system.told_by,
            "removable": self.removable,
            "writable": self.writable,
            "total_bytes": self.total_bytes,
            "free_bytes": self.free_bytes,
        }


def list_drives() -> list[Drive]:
    """Return the removable drives that the system has mounted."""
    import psutil

    drives = []
    for part in psutil.disk_partitions(all=False):
        if part.mountpoint != "/" and _removable(part.device, part.mountpoint, part.fstype, part.opts):
            drives.append(_drive(part.device, part.mountpoint, part.fstype, part.opts, removable=True))
    return drives


def drive_of(path: Path) -> Drive:
    """Return the drive on which `path` (resolved) lies, removable or not."""
    import psutil

    best = None
    kind = type(path)  # the system's own rules for paths: on Windows case does not count
    for part in psutil.disk_partitions(all=True):
        mount = kind(part.mountpoint)
        # of two mounts on one point the later one is seen
        if path.is_relative_to(mount) and (
            best is None or len(mount.parts) >= len(kind(best.mountpoint).parts)
        ):
            best = part
    if best is None:
        return _drive("", path.anchor or "/", "unknown", "", removable=False)
    removable = best.mountpoint != "/" and _removable(best.device, best.mountpoint, best.fstype, best.opts)
    return _drive(best.device, best.mountpoint, best.fstype, best.opts, removable=removable)


def _drive(device: str, mount: str, system_name: str, options: str, *, removable: bool) -> Drive:
    total: int | None = None
    free: int | None = None
    cluster, clusters = 1, None
    try:
        usage = shutil.disk_usage(mount)
        if usage.total:  # some FUSE file systems tell nothing and say 0
            total, free = usage.total, usage.free
        if sys.platform != "win32":
            facts = os.statvfs(mount)
            cluster, clusters = facts.f_frsize or 1, facts.f_blocks or None
    except OSError:
        pass  # listed all the same: the plan says what is wrong with it
    return Drive(
        mount=Path(mount),
        device=device,
        file_system=file_system(system_name, device, clusters),
        removable=removable,
        writable="ro" not in options.split(","),
        total_bytes=total,
        free_bytes=free,
        cluster_bytes=cluster,
    )


def _removable(device: str, mount: str, system_name: str, options: str) -> bool:
    match str(sys.platform):  # as text, or a type checker would look at its own system's row alone
        case "win32":
            return "removable" in options.split(",")
        case "darwin":
            return mount.startswith("/Volumes/") and system_name.lower() in ("msdos", "exfat")
        case _:
            return removable_in_sys(device, _SYS)


def removable_in_sys(device: str, sys_root: Path) -> bool:
    """Return whether a Linux block device is a card or hangs on USB, by what ``/sys`` says.

    Readers built into a computer call their cards fixed, so an SD card's own type counts too; a
    soldered memory chip is of type MMC and does not.
    """
    entry = sys_root / "class" / "block" / Path(device).resolve().name
    if not device.startswith("/dev/") or not entry.exists():
        return False
    volume = entry.resolve()
    disk = volume if (volume / "removable").exists() else volume.parent
    if _word(disk / "removable") == "1" or _word(disk / "device" / "type") == "SD":
        return True
    return any(part.startswith("usb") for part in volume.parts)


def _word(file: Path) -> str:
    try:
        return file.read_text(encoding="ascii").strip()
    except (OSError, UnicodeDecodeError):
        return ""
