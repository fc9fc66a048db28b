"""Which FAT it is, against volumes that mkfs.fat and mkfs.exfat lay out."""

import shutil
import subprocess
from pathlib import Path

import pytest

from ghostprep.card.drives import file_system, kind_by_clusters, read_boot_sector

needs_fat = pytest.mark.skipif(not shutil.which("mkfs.fat"), reason="mkfs.fat (dosfstools) is not installed")
needs_exfat = pytest.mark.skipif(
    not shutil.which("mkfs.exfat"), reason="mkfs.exfat (exfatprogs) is not installed"
)


def laid_out(image: Path, mib: int, *command: str) -> Path:
    with image.open("wb") as file:
        file.truncate(mib << 20)
    subprocess.run([*command, str(image)], check=True, capture_output=True)
    return image


# Microsoft FAT32 File System Specification 1.03, "FAT Type Determination"
@pytest.mark.parametrize(
    ("clusters", "kind"),
    [(1, "FAT12"), (4084, "FAT12"), (4085, "FAT16"), (65524, "FAT16"), (65525, "FAT32"), (10**6, "FAT32")],
)
def test_the_specifications_limits(clusters: int, kind: str) -> None:
    assert kind_by_clusters(clusters) == kind


@needs_fat
@pytest.mark.parametrize(
    ("mib", "bits", "sectors"),
    [
        (2, 12, 1),
        (8, 12, 4),
        (16, 16, 4),
        (64, 16, 4),
        (1000, 16, 64),
        (40, 32, 1),
        (64, 32, 1),
        (8000, 32, 16),
    ],
)
def test_fat_volumes_are_told_apart(tmp_path: Path, mib: int, bits: int, sectors: int) -> None:
    image = laid_out(tmp_path / "card.img", mib, "mkfs.fat", "-F", str(bits), "-s", str(sectors))
    told = file_system("vfat", str(image), None)
    assert (told.kind, told.told_by, told.doubtful) == (f"FAT{bits}", "boot sector", False)
    assert told.is_fat


@needs_fat
def test_a_fat32_with_too_few_clusters_is_doubtful(tmp_path: Path) -> None:
    image = laid_out(tmp_path / "card.img", 16, "mkfs.fat", "-F", "32", "-s", "4")
    told = file_system("vfat", str(image), None)
    assert (told.kind, told.doubtful) == ("FAT32", True)


@needs_fat
@pytest.mark.parametrize("per_sector", [512, 1024, 2048, 4096])
def test_sectors_of_every_size_that_the_specification_allows(tmp_path: Path, per_sector: int) -> None:
    """FAT32 File System Specification 1.03, BPB_BytsPerSec: 512, 1024, 2048 or 4096."""
    image = laid_out(tmp_path / "card.img", 64, "mkfs.fat", "-F", "16", "-S", str(per_sector))
    told = read_boot_sector(image.read_bytes()[:512])
    assert told is not None
    assert told.kind == "FAT16"
    odd = bytearray(image.read_bytes()[:512])
    odd[11:13] = (per_sector + 256).to_bytes(2, "little")
    assert read_boot_sector(bytes(odd)) is None


@needs_exfat
def test_exfat_is_told_even_behind_fuse(tmp_path: Path) -> None:
    image = laid_out(tmp_path / "card.img", 16, "mkfs.exfat")
    told = file_system("fuseblk", str(image), 4000)
    assert (told.kind, told.told_by, told.is_fat, told.is_card_like) == ("exFAT", "boot sector", False, True)


@pytest.mark.parametrize(
    ("word", "clusters", "kind", "told_by"),
    [
        ("vfat", 129_022, "FAT32", "count of clusters"),
        ("vfat", 16_343, "FAT16", "count of clusters"),
        ("msdos", 4000, "FAT12", "count of clusters"),
        ("vfat", None, "FAT", "system"),
        ("FAT32", None, "FAT32", "system"),
        ("exfat", None, "exFAT", "system"),
        ("exFAT", 5, "exFAT", "system"),
        ("ext4", 10**6, "ext4", "system"),
        ("", None, "unknown", "system"),
    ],
)
def test_without_leave_to_read_the_device(word: str, clusters: int | None, kind: str, told_by: str) -> None:
    told = file_system(word, "/no/such/device", clusters)
    assert (told.kind, told.told_by) == (kind, told_by)


@pytest.mark.parametrize(
    "sector", [b"", bytes(512), b"\xff" * 512, bytes(510) + b"\x55\xaa", b"\x55\xaa" * 256]
)
def test_no_boot_sector_says_nothing(sector: bytes) -> None:
    assert read_boot_sector(sector) is None
