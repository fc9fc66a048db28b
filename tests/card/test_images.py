"""Real FAT and exFAT volumes, made by mkfs, filled through a mount, read by mtools, checked by fsck."""

import contextlib
import dataclasses
import hashlib
import os
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from ghostprep.card import CardOrder, fill_card, plan_card
from ghostprep.card.calls import SystemCalls
from ghostprep.card.drives import drive_of, file_system
from ghostprep.card.work_folder import WORK, undo
from ghostprep.errors import JobError

MAKE = {
    "FAT16": ("mkfs.fat", "-F", "16", "-s", "4"),
    "FAT32": ("mkfs.fat", "-F", "32", "-s", "1"),
    "exFAT": ("mkfs.exfat",),
}
CHECK = {"FAT16": ("fsck.fat", "-n"), "FAT32": ("fsck.fat", "-n"), "exFAT": ("fsck.exfat", "-n")}


# the FUSE driver marks a FAT16 table in a way that mtools refuses and fsck.fat does not mind
LENIENT = {**os.environ, "MTOOLS_SKIP_CHECK": "1"}


def need(*tools: str) -> None:
    for tool in tools:
        if not shutil.which(tool):
            pytest.skip(f"{tool} is not installed")


def run(*command: object) -> str:
    return subprocess.run(
        [str(c) for c in command], check=True, capture_output=True, text=True, env=LENIENT
    ).stdout


class Image:
    """A volume in a file, mounted and let go of at will."""

    def __init__(self, folder: Path, kind: str, mib: int) -> None:
        self.kind, self.file, self.mount = kind, folder / "card.img", folder / "mnt"
        self.mount.mkdir()
        with self.file.open("wb") as file:
            file.truncate(mib << 20)
        run(*MAKE[kind], self.file)
        self.device = ""
        self.server: subprocess.Popen[bytes] | None = None

    def plug(self) -> None:
        if self.kind == "exFAT":
            need("mount.exfat-fuse", "losetup")
            self.device = run("losetup", "-f", "--show", self.file).strip()
            command = ["mount.exfat-fuse", "-d", self.device, str(self.mount)]
        else:
            need("fusefat")
            command = ["fusefat", "-f", "-o", "rw+", str(self.file), str(self.mount)]
        self.server = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        for _ in range(200):
            if self.mount.is_mount():
                return
            if self.server.poll() is not None:
                break
            time.sleep(0.02)
        self.unplug()
        pytest.skip("mounting through FUSE is not allowed here")

    def pull(self) -> None:
        """Let the volume vanish as it stands: what its server had not written is lost."""
        assert self.server is not None
        self.server.kill()
        self.server.wait()

    def unplug(self) -> None:
        with contextlib.suppress(subprocess.CalledProcessError):
            run("umount", self.mount)
        if self.server is not None:
            self.server.wait(20)
            self.server = None
        if self.device:
            run("losetup", "-d", self.device)
            self.device = ""

    def check(self, *, pulled: bool = False) -> None:
        """Have the volume checked; the count of free clusters is a hint that a pulled card leaves stale."""
        done = subprocess.run(
            [*CHECK[self.kind], str(self.file)], capture_output=True, text=True, check=False
        )
        said = done.stdout + done.stderr
        if pulled and "Free cluster summary wrong" in said:
            faults = [line for line in said.splitlines()[1:-1] if line[:1] != " " and "summary" not in line]
            assert [f for f in faults if f.strip() and not f.startswith("Leaving")] == [], said
        else:
            assert done.returncode == 0, said

    def ask(self, path: Path):
        drive = drive_of(path)
        system = file_system("vfat", str(self.file), None)
        return dataclasses.replace(drive, file_system=system, removable=True, mount=self.mount)

    def holds(self) -> dict[str, str]:
        """Return SHA-256 by name, read by mtools where they can; exFAT through the mount."""
        if self.kind == "exFAT":
            files = [p for p in self.mount.rglob("*") if p.is_file()]
            return {str(p.relative_to(self.mount)): sha256(p.read_bytes()) for p in files}
        names = [line.removeprefix("::/") for line in run("mdir", "-b", "-i", self.file, "::").splitlines()]
        files = [n for n in names if not n.endswith("/")]
        data = {
            n: subprocess.run(
                ["mtype", "-i", self.file, f"::{n}"], check=True, capture_output=True, env=LENIENT
            ).stdout
            for n in files
        }
        return {n: sha256(d) for n, d in data.items()}

    def entries(self) -> list[str]:
        """Return the names in the order of the entries, read anew."""
        if self.kind != "exFAT":
            return list(self.holds())
        return [p.name for p in self.mount.iterdir()]


def sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


@pytest.fixture
def image(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[str, int], Image]]:
    made: list[Image] = []

    def make(kind: str, mib: int = 40) -> Image:
        need(MAKE[kind][0], CHECK[kind][0], "mdir", "mcopy", "mtype", "umount")
        if os.geteuid() != 0:
            pytest.skip("mounting needs root")
        made.append(Image(tmp_path, kind, mib))
        return made[-1]

    def told(path: Path):
        return made[-1].ask(path)

    monkeypatch.setattr("ghostprep.card.place.drive_of", told)

    yield make
    for one in made:
        if one.server is not None:
            one.server.kill()
        one.unplug()


@pytest.fixture
def loops(tmp_path: Path, bytes_do: None) -> list[Path]:
    made = []
    for number, name in enumerate(("the purser walks.mp4", "b.mp4", "lantern, Öl.mp4")):
        made.append(tmp_path / name)
        made[-1].write_bytes(os.urandom(300_000 + number))
    return made


def fill(image: Image, loops: list[Path], calls=None, **more):
    plan = plan_card(CardOrder(tuple(loops), image.mount, **more))
    return fill_card(plan, calls=calls)


@pytest.mark.parametrize("names", ["8.3", "long"])
@pytest.mark.parametrize("kind", list(MAKE))
def test_a_filled_volume_is_sound_and_in_play_order(image, loops, kind: str, names: str, taken) -> None:
    player = taken("h264-main-720p").model_copy(update={"names": names})
    card = image(kind)
    card.plug()
    (card.mount / "HOLIDAY.JPG").write_bytes(b"not ours")
    (card.mount / "an old file with a long name.txt").write_bytes(b"x")
    (card.mount / "NOTES.TXT").write_bytes(b"nor this")
    (card.mount / "an old file with a long name.txt").unlink()
    result = fill(card, loops, player=player)
    assert result.plan.drive.file_system.kind == kind
    assert result.in_order is not False
    another = loops[0].with_name("another.mp4")
    another.write_bytes(os.urandom(250_000))
    fill(card, [another], player=player)
    card.unplug()
    card.check()
    if kind == "exFAT":
        card.plug()
    holds = card.holds()
    wanted = {w.name: sha256(p.read_bytes()) for w, p in zip(result.written, loops, strict=True)}
    assert holds.items() >= wanted.items()
    assert (holds["HOLIDAY.JPG"], holds["NOTES.TXT"]) == (sha256(b"not ours"), sha256(b"nor this"))
    ours = [n for n in card.entries() if n[:2].isdigit()]
    assert ours == sorted(ours)
    assert len(ours) == 4
    assert WORK not in card.entries()


@pytest.mark.parametrize("kind", list(MAKE))
def test_replacing_leaves_a_sound_volume(image, loops, kind: str) -> None:
    card = image(kind)
    card.plug()
    (card.mount / "HOLIDAY.JPG").write_bytes(b"not ours")
    fill(card, loops)
    fill(card, loops[1:], replace=True)
    card.unplug()
    card.check()
    if kind == "exFAT":
        card.plug()
    assert set(card.holds()) == {"HOLIDAY.JPG", "01_B.MP4", "02_LANTE.MP4", "GHOSTPRP.LST"}


@pytest.mark.parametrize("kind", list(MAKE))
def test_a_full_card_keeps_what_it_held(image, loops, tmp_path: Path, kind: str) -> None:
    card = image(kind)
    card.plug()
    fill(card, loops)
    huge = tmp_path / "huge.mp4"
    with huge.open("wb") as file:
        file.truncate(60 << 20)
    before = {p.name: p.read_bytes() for p in card.mount.iterdir()}
    plan_for = CardOrder((*loops[:1], huge), card.mount, replace=True)

    told = card.ask(card.mount)
    card.ask = lambda path: dataclasses.replace(told, free_bytes=10**9)
    with pytest.raises(JobError, match=r"no room is left|EPERM"):
        fill_card(plan_card(plan_for))
    assert {p.name: p.read_bytes() for p in card.mount.iterdir()} == before
    card.unplug()
    card.check()


class Pulled(SystemCalls):
    """The volume vanishes before a call to it."""

    def __init__(self, card: Image, call: str, count: int) -> None:
        self._card, self._call, self._count = card, call, count

    def __getattribute__(self, name: str) -> object:
        if not name.startswith("_") and name == self._call:
            self._count -= 1
            if not self._count:
                self._card.pull()
        return super().__getattribute__(name)


PULLS = [
    ("create", 1),
    ("write", 2),
    ("flush", 1),
    ("flush", 3),
    ("read", 2),
    ("rename", 1),
    ("rename", 2),
    ("rename", 4),
    ("rename", 6),
    ("rename", 7),
    ("flush_folder", 3),
    ("flush_folder", 5),
    ("remove", 2),
    ("remove", 4),
    ("remove_folder", 1),
]


@pytest.mark.parametrize("kind", ["FAT32", "exFAT"])
@pytest.mark.parametrize(("call", "count"), PULLS)
def test_a_volume_that_vanishes_loses_nothing(image, loops, kind: str, call: str, count: int) -> None:
    card = image(kind)
    card.plug()
    (card.mount / "HOLIDAY.JPG").write_bytes(b"not ours")
    fill(card, loops[:2])
    old = {p.name: p.read_bytes() for p in card.mount.iterdir()}
    with pytest.raises(JobError, match="does not answer"):
        fill(card, loops[1:], calls=Pulled(card, call, count), replace=True)
    card.unplug()
    card.plug()
    calls = SystemCalls()
    folder = calls.open_folder(card.mount)
    try:
        undo(calls, folder)
    finally:
        calls.close_folder(folder)
    new = {"01_B.MP4": loops[1].read_bytes(), "02_LANTE.MP4": loops[2].read_bytes()}
    holds = {p.name: p.read_bytes() for p in card.mount.iterdir()}
    if holds != old:
        assert {n: d for n, d in holds.items() if n != "GHOSTPRP.LST"} == {"HOLIDAY.JPG": b"not ours", **new}
        assert call in ("remove", "remove_folder", "flush_folder")
    fill(card, loops[1:], replace=True)
    card.unplug()
    card.check(pulled=True)
