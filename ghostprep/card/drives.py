"""Which drives the system sees, which of them can be taken out, and which file system they have.

FAT12, FAT16 and FAT32 all mount under one name: which it is a drive's first sector tells, or its clusters.
"""

from __future__ import annotations

import os
import shutil
import stat
import struct
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

_SYS: Final = Path("/sys")
ToldBy = Literal["boot sector", "count of clusters", "system"]
FAT_LARGEST_FILE: Final = 0xFFFF_FFFF
"""Bytes: the size field of a FAT directory entry has 32 bits (Microsoft FAT32 specification 1.03)."""
_FAT_NAMES: Final = frozenset({"vfat", "msdos", "fat", "fat12", "fat16", "fat32", "msdosfs"})


@dataclass(frozen=True, slots=True)
class FileSystem:
    """What could be told of a file system."""

    # ``FAT12``, ``FAT16``, ``FAT32``, ``FAT`` (which one is not known), ``exFAT``, or the system's own word
    kind: str
    told_by: ToldBy
    # laid out as FAT32 but with fewer clusters than a FAT32 has: readers that go by the count take it for
    # FAT16
    doubtful: bool = False

    @property
    def is_fat(self) -> bool:
        """Whether it is a FAT of any width, with files of 4 GiB - 1 byte at most."""
        return self.kind.startswith("FAT")

    @property
    def is_card_like(self) -> bool:
        """Whether players read it at all."""
        return self.is_fat or self.kind == "exFAT"


@dataclass(frozen=True, slots=True)
class Drive:
    """A mounted volume."""

    mount: Path  # where it is mounted
    device: str  # the system's name for it
    file_system: FileSystem
    removable: bool  # whether it is in a card reader or on USB
    writable: bool  # whether it is mounted for writing
    total_bytes: int | None  # None where the file system does not tell
    free_bytes: int | None
    cluster_bytes: int = 1  # the step in which files take space; 1 where not known

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


def kind_by_clusters(clusters: int) -> str:
    """Return which FAT it is by its count of data clusters.

    References
    ----------
    .. [1] Microsoft FAT32 File System Specification 1.03 (2000), "FAT Type Determination".
    """
    if clusters < 4085:
        return "FAT12"
    return "FAT16" if clusters < 65525 else "FAT32"


def read_boot_sector(sector: bytes) -> FileSystem | None:
    """Return what a volume's first 512 bytes say, or None if they are no boot sector that we know."""
    if len(sector) < 512 or sector[510:512] != b"\x55\xaa":
        return None
    if sector[3:11] == b"EXFAT   ":
        return FileSystem("exFAT", "boot sector")
    if sector[3:11] == b"NTFS    ":
        return FileSystem("NTFS", "boot sector")
    per_sector, per_cluster, reserved, fats, root_entries, short_total = struct.unpack_from(
        "<HBHBHH", sector, 11
    )
    short_fat = struct.unpack_from("<H", sector, 22)[0]
    long_total, long_fat = struct.unpack_from("<II", sector, 32)
    total, fat = short_total or long_total, short_fat or long_fat
    powers = per_sector in (512, 1024, 2048, 4096) and per_cluster and per_cluster & (per_cluster - 1) == 0
    if not (powers and reserved and fats and fat and total):
        return None
    root = -(-root_entries * 32 // per_sector)
    clusters = (total - reserved - fats * fat - root) // per_cluster
    kind = kind_by_clusters(clusters)
    if not short_fat and not root_entries:
        return FileSystem("FAT32", "boot sector", doubtful=kind != "FAT32")
    return FileSystem(kind, "boot sector")


def file_system(system_name: str, device: str, clusters: int | None) -> FileSystem:
    """Return which file system a mounted volume has.

    Parameters
    ----------
    system_name : str
        What the system calls it ("vfat", "exfat", "fuseblk", "FAT32" ...).
    device : str
        The volume's device; its first sector is read where that is allowed.
    clusters : int or None
        Its data clusters, if known.
    """
    said = _first_sector(device)
    if said is not None:
        return said
    word = system_name.lower()
    if word in ("fat12", "fat16", "fat32"):
        return FileSystem(word.upper(), "system")
    if word in _FAT_NAMES:
        if clusters:
            return FileSystem(kind_by_clusters(clusters), "count of clusters")
        return FileSystem("FAT", "system")
    if "exfat" in word:
        return FileSystem("exFAT", "system")
    return FileSystem(system_name or "unknown", "system")


def _first_sector(device: str) -> FileSystem | None:
    try:
        mode = Path(device).stat().st_mode
        if not (stat.S_ISBLK(mode) or stat.S_ISREG(mode)):
            return None
        with Path(device).open("rb", buffering=0) as volume:
            return read_boot_sector(volume.read(512))
    except (OSError, ValueError):
        return None  # not allowed, or no such device: the system's word must do
