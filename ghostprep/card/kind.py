"""Which file system a card has: FAT12, FAT16 and FAT32 all mount under one name."""

from __future__ import annotations

import stat
import struct
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

ToldBy = Literal["boot sector", "count of clusters", "system"]

FAT_LARGEST_FILE: Final = 0xFFFF_FFFF
"""Bytes: the size field of a FAT directory entry has 32 bits (Microsoft FAT32 specification 1.03)."""

_FAT_NAMES: Final = frozenset({"vfat", "msdos", "fat", "fat12", "fat16", "fat32", "msdosfs"})


@dataclass(frozen=True, slots=True)
class FileSystem:
    """What could be told of a file system.

    Attributes
    ----------
    kind : str
        ``FAT12``, ``FAT16``, ``FAT32``, ``FAT`` (which one is not known), ``exFAT``, or the
        system's own word.
    told_by : {"boot sector", "count of clusters", "system"}
    doubtful : bool
        Laid out as FAT32 but with fewer clusters than a FAT32 has: readers that go by the count take it
        for FAT16.
    """

    kind: str
    told_by: ToldBy
    doubtful: bool = False

    @property
    def is_fat(self) -> bool:
        """Whether it is a FAT of any width, with files of 4 GiB - 1 byte at most."""
        return self.kind.startswith("FAT")

    @property
    def is_card_like(self) -> bool:
        """Whether players read it at all."""
        return self.is_fat or self.kind == "exFAT"


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
