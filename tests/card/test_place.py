"""Where loops may be put, and where never."""

import dataclasses
from pathlib import Path

import pytest

from ghostprep.card.drives import FileSystem
from ghostprep.card.place import check_place, is_system_folder
from ghostprep.errors import InputError


@pytest.mark.parametrize(
    ("folder", "refused"),
    [
        ("/", True),
        ("/usr/share", True),
        ("/etc", True),
        ("/boot/firmware", True),  # a FAT volume on a card, in many small computers
        ("/boot/efi", True),
        ("/var/lib/x", True),
        ("/run/media", True),
        ("/run/media/me/CARD", False),
        ("/media/me/CARD", False),
        ("/Volumes/CARD", False),
        ("/System/Library", True),
        ("/mnt", False),
        ("/tmp/x", False),
        ("/usrlocal", False),
    ],
)
def test_system_folders(folder: str, refused: bool) -> None:
    assert is_system_folder(Path(folder)) is refused


def test_a_card_and_a_folder_under_it_are_taken(card) -> None:
    inner = card.folder / "LOOPS"
    inner.mkdir()
    for folder in (card.folder, inner):
        assert check_place(folder) == (folder.resolve(), card.drive)


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"removable": False}, "no removable drive"),
        ({"file_system": FileSystem("ext4", "system")}, "formatted as ext4"),
        ({"file_system": FileSystem("NTFS", "boot sector")}, "formatted as NTFS"),
        ({"writable": False}, "read-only"),
    ],
)
def test_what_is_no_card_is_refused(card, change: dict[str, object], reason: str) -> None:
    card.drive = dataclasses.replace(card.drive, **change)
    with pytest.raises(InputError, match=reason):
        check_place(card.folder)


def test_any_folder_opens_other_places_but_no_system_folder(card) -> None:
    disk = FileSystem("ext4", "system")
    card.drive = dataclasses.replace(card.drive, removable=False, file_system=disk)
    assert check_place(card.folder, any_folder=True)[1] is card.drive
    with pytest.raises(InputError, match="system folder"):
        check_place(Path("/usr"), any_folder=True)


def test_a_home_folder_is_refused_but_a_card_mounted_in_it_is_not(
    card, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    disk = dataclasses.replace(card.drive, mount=Path("/"))

    card.ask = lambda path: card.drive if path.is_relative_to(card.folder) else disk
    assert check_place(card.folder)[1] is card.drive
    elsewhere = tmp_path / "Videos"
    elsewhere.mkdir()
    for folder in (tmp_path, elsewhere):
        with pytest.raises(InputError, match="home folder"):
            check_place(folder)


def test_symlinks_on_the_card_are_not_followed(card, tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    (outside / "inner").mkdir(parents=True)
    link = card.folder / "LOOPS"
    link.symlink_to(outside)
    with pytest.raises(InputError, match="symlink"):
        check_place(link)
    with pytest.raises(InputError, match="through a symlink on the card"):
        check_place(link / "inner")
    with pytest.raises(InputError, match="through a symlink on the card"):
        check_place(link / "inner", any_folder=True)


def test_missing_and_not_a_folder(card) -> None:
    with pytest.raises(InputError, match="does not exist"):
        check_place(card.folder / "NONE")
    with pytest.raises(InputError, match="not a folder"):
        check_place(card.folder / "HOLIDAY.JPG")
    (card.folder / "loose").symlink_to("nowhere")
    with pytest.raises(InputError, match="symlink"):
        check_place(card.folder / "loose")
