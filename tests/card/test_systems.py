"""Windows and macOS: what those systems say is put in, the code that reads it is the real one.

The rows are laid out as psutil documents them for each system (device, mountpoint, fstype, opts).
"""

from __future__ import annotations

import errno
import os
from collections import namedtuple
from collections.abc import Iterator
from pathlib import Path, PureWindowsPath
from types import SimpleNamespace

import psutil
import pytest

from ghostprep.card import CardOrder, fill_card, list_drives, plan_card
from ghostprep.card.calls import SystemCalls, reading_ways
from ghostprep.card.drives import drive_of
from ghostprep.card.place import is_system_folder

fcntl = pytest.importorskip("fcntl", reason="needs a system with fcntl to put another one's words in")

Part = namedtuple("Part", "device mountpoint fstype opts")

WINDOWS = [
    Part("C:\\", "C:\\", "NTFS", "rw,fixed"),
    Part("D:\\", "D:\\", "FAT32", "rw,removable"),
    Part("E:\\", "E:\\", "", "cdrom"),
    Part("F:\\", "F:\\", "exFAT", "ro,removable"),
    Part("G:\\", "G:\\", "FAT", "rw,removable"),
    Part("N:\\", "N:\\", "NTFS", "rw,remote"),
]
MACOS = [
    Part("/dev/disk1s1", "/", "apfs", "ro,local,rootfs,journaled"),
    Part("/dev/disk1s2", "/System/Volumes/Data", "apfs", "rw,local"),
    Part("/dev/disk2s1", "/Volumes/PURSER", "msdos", "rw,nosuid,local"),
    Part("/dev/disk3s1", "/Volumes/HALL", "exfat", "rw,nosuid,local"),
    Part("/dev/disk4s2", "/Volumes/Backup", "hfs", "rw,local"),
    Part("//me@server/share", "/Volumes/share", "smbfs", "rw"),
]


@pytest.fixture
def on(monkeypatch: pytest.MonkeyPatch) -> Iterator[object]:
    """Tell the card room that it runs on another system, and what that one has mounted."""

    def put(platform: str, parts: list[Part]) -> None:
        for room in ("drives", "calls", "place"):
            monkeypatch.setattr(f"ghostprep.card.{room}.sys", SimpleNamespace(platform=platform))
        monkeypatch.setattr(psutil, "disk_partitions", lambda all=False: parts)

    return put


def test_windows_lists_what_can_be_taken_out(on) -> None:
    on("win32", WINDOWS)
    seen = [(str(drive.mount), drive.file_system.kind, drive.writable) for drive in list_drives()]
    assert seen == [("D:\\", "FAT32", True), ("F:\\", "exFAT", False), ("G:\\", "FAT", True)]
    assert all(drive.file_system.told_by == "system" and drive.cluster_bytes == 1 for drive in list_drives())


@pytest.mark.parametrize(
    ("folder", "device", "removable"),
    [("D:\\", "D:\\", True), ("d:\\LOOPS\\A", "D:\\", True), ("C:\\Users\\me", "C:\\", False)],
)
def test_windows_finds_a_folders_drive_whatever_its_case(
    on, folder: str, device: str, removable: bool
) -> None:
    on("win32", WINDOWS)
    drive = drive_of(PureWindowsPath(folder))
    assert (drive.device, drive.removable) == (device, removable)


@pytest.mark.parametrize(
    ("folder", "refused"),
    [
        ("C:\\", True),
        ("C:\\Windows\\System32", True),
        ("c:\\program files\\x", True),
        ("C:\\Users\\me", False),  # refused elsewhere: a home folder, and no card
        ("D:\\", False),
        ("D:\\LOOPS", False),
    ],
)
def test_windows_own_folders(on, monkeypatch: pytest.MonkeyPatch, folder: str, refused: bool) -> None:
    on("win32", WINDOWS)
    for name, value in {
        "SYSTEMDRIVE": "C:", "SYSTEMROOT": "C:\\Windows", "PROGRAMFILES": "C:\\Program Files",
    }.items():  # fmt: skip
        monkeypatch.setenv(name, value)
    assert is_system_folder(PureWindowsPath(folder)) is refused


def test_macos_lists_the_cards_among_its_volumes(on, monkeypatch: pytest.MonkeyPatch) -> None:
    on("darwin", MACOS)
    real = os.statvfs

    def statvfs(path: str) -> object:
        # 32 KiB clusters; 65,524 is the most that a FAT16 has
        sizes = {"/Volumes/PURSER": 65_524, "/Volumes/HALL": 10**6}
        count = sizes.get(str(path))
        return real(path) if count is None else SimpleNamespace(f_frsize=32768, f_blocks=count)

    usage = SimpleNamespace(total=10**9, free=5 * 10**8)
    monkeypatch.setattr("ghostprep.card.drives.os", SimpleNamespace(statvfs=statvfs))
    monkeypatch.setattr("ghostprep.card.drives.shutil", SimpleNamespace(disk_usage=lambda _: usage))
    fat, exfat = list_drives()
    assert (str(fat.mount), fat.file_system.kind, fat.file_system.told_by) == (
        "/Volumes/PURSER", "FAT16", "count of clusters",
    )  # fmt: skip
    assert (str(exfat.mount), exfat.file_system.kind) == ("/Volumes/HALL", "exFAT")
    assert (fat.cluster_bytes, fat.free_bytes, fat.writable) == (32768, 5 * 10**8, True)
    assert not drive_of(Path("/Volumes/Backup")).removable
    assert drive_of(Path("/Volumes/PURSER/LOOPS")).device == "/dev/disk2s1"


@pytest.mark.parametrize("knows_full_flush", [True, False])
def test_macos_writes_through_and_reads_past_its_cache(
    on, card, monkeypatch: pytest.MonkeyPatch, knows_full_flush: bool
) -> None:
    on("darwin", MACOS)
    asked = []

    def control(handle: int, command: int, argument: int = 0) -> int:
        asked.append(command)
        if command == 51 and not knows_full_flush:
            raise OSError(errno.ENOTSUP, os.strerror(errno.ENOTSUP))
        return 0

    # the numbers of <sys/fcntl.h> there
    monkeypatch.setattr(fcntl, "F_FULLFSYNC", 51, raising=False)
    monkeypatch.setattr(fcntl, "F_NOCACHE", 48, raising=False)
    monkeypatch.setattr(fcntl, "fcntl", control)
    monkeypatch.setattr(fcntl, "flock", lambda *_: None)
    assert reading_ways() == ("uncached",)
    result = fill_card(plan_card(CardOrder(tuple(card.loops), card.folder)))
    assert result.reading == "uncached"
    assert {48, 51} <= set(asked)
    assert card.holds()["01_PURSE.MP4"] == card.loops[0].read_bytes()


def test_windows_has_no_folder_handles_and_says_how_it_read_back(
    on, card, monkeypatch: pytest.MonkeyPatch
) -> None:
    on("win32", WINDOWS)
    monkeypatch.setattr("ghostprep.card.calls._HANDLES", False)
    monkeypatch.delattr(os, "readv")
    calls = SystemCalls()
    assert calls.open_folder(card.folder).handle is None
    result = fill_card(plan_card(CardOrder(tuple(card.loops), card.folder)))
    assert result.reading == "cached"
    holds = card.holds()
    assert (holds["01_PURSE.MP4"], holds["02_LANTE.MP4"]) == tuple(loop.read_bytes() for loop in card.loops)
    assert holds.items() >= card.foreign.items()
