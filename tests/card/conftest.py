"""Doubles of the system's calls to a card, and small loops to put there."""

import contextlib
import errno
import os
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from ghostprep.card import Drive
from ghostprep.card.calls import Folder, SystemCalls
from ghostprep.card.drives import FileSystem
from ghostprep.player import Profile, load_profile


class Watched(SystemCalls):
    """Real calls, written down."""

    def __init__(self) -> None:
        self.made: list[tuple[str, str]] = []

    def __getattribute__(self, name: str) -> object:
        call = super().__getattribute__(name)
        if name.startswith("_") or not callable(call) or name in ("made", "about"):
            return call

        def watched(*args: object) -> object:
            return self.about(name, args, call)

        return watched

    def about(self, name: str, args: tuple[object, ...], call: Callable[..., object]) -> object:
        self.made.append((name, " ".join(a for a in args if isinstance(a, str))))
        return call(*args)


class FatOrder(Watched):
    """Lists a folder as FAT keeps it: a new entry takes the first gap that is long enough.

    An entry is one slot of 32 bytes, and one more for each 13 characters of a name that is not
    upper-case 8.3 (Microsoft FAT32 specification 1.03, "Long Directory Entries").
    """

    def __init__(self) -> None:
        super().__init__()
        self._slots: dict[tuple[int, int], list[str | None]] = {}

    @staticmethod
    def _length(name: str) -> int:
        stem, _, ending = name.partition(".")
        short = name == name.upper() and len(stem) <= 8 and len(ending) <= 3
        return 1 if short else 1 + -(-len(name) // 13)

    def _slots_of(self, at: Folder) -> list[str | None]:
        facts = os.fstat(at.handle) if at.handle is not None else at.path.stat()
        key = (facts.st_dev, facts.st_ino)
        if key not in self._slots:
            self._slots[key] = []
            for entry in sorted(at.path.iterdir()):
                self._put(self._slots[key], entry.name)
        return self._slots[key]

    def _put(self, slots: list[str | None], name: str) -> None:
        length = self._length(name)
        for start in range(len(slots) + 1):
            gap = slots[start : start + length]
            if not any(gap):
                slots[start : start + length] = [name] * length
                return

    def about(self, name: str, args: tuple[object, ...], call: Callable[..., object]) -> object:
        slots = self._slots_of(args[0]) if args and isinstance(args[0], Folder) else []
        into = self._slots_of(args[2]) if name == "rename" else slots
        if name.startswith("flush"):
            call = do_nothing  # waiting for a disk proves nothing here and takes long
        result = super().about(name, args, call)
        if name in ("create", "make_folder"):
            self._put(slots, str(args[1]))
        elif name in ("remove", "remove_folder", "rename"):
            if name == "rename":
                self._put(into, str(args[3]))
            slots[:] = [None if s == args[1] else s for s in slots]
        elif name == "names":
            assert sorted(set(filter(None, slots))) == sorted(result)
            return list(dict.fromkeys(filter(None, slots)))
        return result


class Failing(FatOrder):
    """Calls of which the `at`-th fails.

    ``once``: only that one; ``late``: it is done but reported as failed; ``gone``: so do all that
    follow, as when the card is pulled out.
    """

    def __init__(self, at: int, how: str, error: BaseException) -> None:
        super().__init__()
        self._at, self._how, self._error = at, how, error

    def about(self, name: str, args: tuple[object, ...], call: Callable[..., object]) -> object:
        count = len(self.made) + 1
        if count == self._at or (self._how == "gone" and count > self._at):
            if self._how == "late" or name.startswith("close"):  # an open handle would outlive the test
                with contextlib.suppress(OSError):
                    let_go(name, super().about(name, args, call))
            else:
                self.made.append((name, ""))
            raise self._error
        return super().about(name, args, call)


def let_go(name: str, result: object) -> None:
    """Close what a call has opened whose caller will be told that it has failed."""
    handle = result.handle if isinstance(result, Folder) else result
    if name in ("create", "open_back", "open_folder", "open_inner") and isinstance(handle, int):
        os.close(handle)


def do_nothing(*args: object) -> None:
    pass


@dataclass
class Card:
    """A folder that stands for a card, with a file on it that is not ours."""

    folder: Path
    loops: list[Path]
    drive: Drive
    foreign: dict[str, bytes] = field(default_factory=dict)

    def ask(self, path: Path) -> Drive:
        return self.drive

    def holds(self) -> dict[str, bytes]:
        return {
            str(p.relative_to(self.folder)): p.read_bytes() for p in self.folder.rglob("*") if p.is_file()
        }


@pytest.fixture
def tmp_path(tmp_path: Path) -> Iterator[Path]:
    """Use memory where the system lends it: hundreds of runs that each wait for the disk take minutes."""
    memory = Path("/dev/shm")
    if not os.access(memory, os.W_OK):
        yield tmp_path
        return
    with tempfile.TemporaryDirectory(dir=memory) as folder:
        yield Path(folder)


@pytest.fixture
def bytes_do(monkeypatch: pytest.MonkeyPatch) -> None:
    """Take any bytes for a loop."""
    monkeypatch.setattr("ghostprep.card.loops.has_pictures", lambda loop: True)


@pytest.fixture
def card(tmp_path: Path, bytes_do: None, monkeypatch: pytest.MonkeyPatch) -> Card:
    folder = tmp_path / "CARD"
    folder.mkdir()
    foreign = {"HOLIDAY.JPG": b"not ours", "notes of mine.txt": b"nor this"}
    for name, data in foreign.items():
        (folder / name).write_bytes(data)
    loops = []
    for number, name in enumerate(("purser.mp4", "lantern.mp4")):
        loop = tmp_path / name
        loop.write_bytes(bytes((number * 7 + i * i) % 251 for i in range(3000 + 1000 * number)))
        loops.append(loop)
    drive = Drive(
        mount=folder,
        device="",
        file_system=FileSystem("FAT32", "system"),
        removable=True,
        writable=True,
        total_bytes=10**9,
        free_bytes=10**8,
        cluster_bytes=4096,
    )
    made = Card(folder, loops, drive, foreign)

    def told(path: Path) -> Drive:
        return made.ask(path)

    monkeypatch.setattr("ghostprep.card.place.drive_of", told)
    return made


@pytest.fixture
def taken(monkeypatch: pytest.MonkeyPatch) -> Callable[[str], Profile]:
    """Return a player's profile by its name; loops need not be what it takes, for none is read."""
    monkeypatch.setattr("ghostprep.card.plan.look_at_loops", lambda loops, player: ())
    return load_profile


@pytest.fixture
def watched() -> Watched:
    return Watched()


@pytest.fixture
def fat_order() -> FatOrder:
    return FatOrder()


@pytest.fixture
def failing() -> Callable[[int, str], Failing]:
    def make(at: int, how: str, error: BaseException | None = None) -> Failing:
        return Failing(at, how, error or OSError(errno.EIO, os.strerror(errno.EIO)))

    return make
