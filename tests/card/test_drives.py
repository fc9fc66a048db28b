"""Which drives count as cards."""

from collections import namedtuple
from pathlib import Path

import psutil
import pytest

from ghostprep.card import list_drives
from ghostprep.card.drives import drive_of, removable_in_sys

Part = namedtuple("Part", "device mountpoint fstype opts")


def disk(root: Path, where: str, name: str, part: str, *, removable: str, kind: str = "") -> None:
    """Lay out what /sys holds about one disk with one volume."""
    folder = root / "devices" / where / "block" / name
    (folder / part).mkdir(parents=True)
    (folder / "removable").write_text(removable + "\n")
    if kind:
        (folder / "device").mkdir()
        (folder / "device" / "type").write_text(kind + "\n")
    (root / "class" / "block").mkdir(parents=True, exist_ok=True)
    (root / "class" / "block" / part).symlink_to(folder / part)


@pytest.mark.parametrize(
    ("where", "name", "part", "removable", "kind", "expected"),
    [
        ("pci0/usb1/1-2/host0", "sdb", "sdb1", "1", "", True),
        ("pci0/usb1/1-2/host0", "sdc", "sdc1", "0", "", True),  # a USB case calls itself fixed
        ("pci0/mmc0", "mmcblk0", "mmcblk0p1", "0", "SD", True),  # so does a reader built in
        ("pci0/mmc0", "mmcblk1", "mmcblk1p1", "0", "MMC", False),  # a soldered chip
        ("pci0/nvme", "nvme0n1", "nvme0n1p2", "0", "", False),
        ("pci0/ata1", "sda", "sda1", "0", "", False),
    ],
)
def test_linux_tells_cards_from_disks(
    tmp_path: Path, where: str, name: str, part: str, removable: str, kind: str, expected: bool
) -> None:
    disk(tmp_path, where, name, part, removable=removable, kind=kind)
    assert removable_in_sys(f"/dev/{part}", tmp_path) is expected


@pytest.mark.parametrize("device", ["tmpfs", "", "/dev/none", "//server/share", "/dev/../etc"])
def test_what_is_no_block_device_is_no_card(tmp_path: Path, device: str) -> None:
    assert not removable_in_sys(device, tmp_path)


def test_only_what_can_be_taken_out_is_listed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    card = tmp_path / "card"
    card.mkdir()
    parts = [Part("/dev/sda1", "/", "ext4", "rw"), Part("/dev/sdb1", str(card), "vfat", "ro,noatime")]
    monkeypatch.setattr(psutil, "disk_partitions", lambda all=False: parts)
    monkeypatch.setattr("ghostprep.card.drives._removable", lambda *part: True)
    (drive,) = list_drives()  # the root is never a card, wherever the system was started from
    assert (drive.mount, drive.writable, drive.removable) == (card, False, True)
    assert drive.total_bytes
    assert drive.as_dict()["writable"] is False


def test_the_innermost_and_latest_mount_counts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    parts = [
        Part("/dev/sdb1", str(tmp_path), "vfat", "rw"),
        Part("/dev/root", "/", "ext4", "rw"),
        Part("/dev/sdb2", str(tmp_path), "exfat", "rw"),
        Part("/dev/sdc1", str(tmp_path) + "x", "ntfs", "rw"),
    ]
    monkeypatch.setattr(psutil, "disk_partitions", lambda all=False: parts)
    assert drive_of(tmp_path / "FOLDER").device == "/dev/sdb2"
    assert drive_of(Path("/")).device == "/dev/root"


def test_a_drive_that_does_not_answer_is_listed_without_figures(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    parts = [Part("/dev/sdb1", str(tmp_path / "gone"), "vfat", "rw")]
    monkeypatch.setattr(psutil, "disk_partitions", lambda all=False: parts)
    drive = drive_of(tmp_path / "gone" / "X")
    assert (drive.free_bytes, drive.file_system.kind) == (None, "FAT")


def test_a_path_on_no_known_mount_is_on_no_card(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(psutil, "disk_partitions", lambda all=False: [])
    drive = drive_of(tmp_path)
    assert (drive.removable, drive.mount, drive.file_system.kind) == (False, Path("/"), "unknown")
