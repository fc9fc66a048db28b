"""What each system does in its own way, with the other one's answers put in its place."""

from __future__ import annotations

import os
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from ghostprep import deliver, scratch, system
from ghostprep.deliver import whole_files
from ghostprep.errors import InputError
from ghostprep.scratch import Claim, is_held, scratch_folder

posix = pytest.mark.skipif(os.name != "posix", reason="puts Windows in the place of POSIX")


@pytest.fixture
def windows(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let every decision be taken as on Windows, where nothing that is POSIX's alone may be called."""
    for module in (system, scratch, deliver):
        if hasattr(module, "is_windows"):
            monkeypatch.setattr(module, "is_windows", lambda: True)

    def missing(*_: object) -> None:
        raise AssertionError("Windows has no such call")

    if os.name == "posix":
        import fcntl

        monkeypatch.setattr(fcntl, "flock", missing)
        monkeypatch.setattr(os, "geteuid", missing)


def owned_by(uid: int) -> os.stat_result:
    return cast("os.stat_result", SimpleNamespace(st_uid=uid))


@posix
def test_another_users_file_is_not_our_own() -> None:
    me = os.geteuid()
    assert system.is_own(owned_by(me))
    assert not system.is_own(owned_by(me + 1))


@posix
def test_a_lock_is_had_by_one(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    handles = [os.open(tmp_path / "file", os.O_RDWR) for _ in range(2)]
    assert [system.try_lock(handle) for handle in handles] == [True, False]
    os.close(handles[0])
    assert system.try_lock(handles[1])
    os.close(handles[1])


@posix
def test_a_folder_is_flushed_where_that_can_be_done(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    flushed: list[int] = []
    monkeypatch.setattr(os, "fsync", flushed.append)
    system.flush_folder(tmp_path)
    assert len(flushed) == 1

    def cannot(_: int) -> None:
        raise OSError(22, "not here")

    monkeypatch.setattr(os, "fsync", cannot)
    system.flush_folder(tmp_path)


@posix
def test_windows_locks_and_flushes_no_folder(
    windows: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened: list[Any] = []
    monkeypatch.setattr(os, "open", lambda *words: opened.append(words))
    system.flush_folder(tmp_path)
    assert opened == []
    assert system.try_lock(5)
    assert system.is_own(owned_by(-1))


@posix
def test_files_are_delivered_and_temporaries_cleared_as_on_windows(
    windows: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is open cannot be renamed there, so each claim is free before its file moves."""
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    held: list[Claim] = []
    first = Claim.__init__

    def noted(self: Claim, path: Path) -> None:
        first(self, path)
        held.append(self)

    monkeypatch.setattr(Claim, "__init__", noted)
    replace = Path.replace

    def moved(self: Path, target: Path) -> Path:
        assert all(claim._handle < 0 for claim in held), "what is open cannot be renamed"
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", moved)
    out = tmp_path / "loop.mp4", tmp_path / "loop.json"
    for text in ("old", "new"):
        with whole_files(out, overwrite=True, theirs=True) as parts:
            for part in parts:
                part.write_text(text)
    assert [path.read_text() for path in out] == ["new", "new"]
    with scratch_folder() as folder:
        (folder / "frame").write_bytes(b"x")
    assert not is_held(tmp_path / "none")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["loop.json", "loop.mp4"]


@posix
def test_on_windows_what_cannot_be_renamed_is_held(
    windows: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Windows refuses to rename what a process has open (sharing violation, error 32)."""
    claim = tmp_path / "claim"
    claim.touch()
    assert not is_held(claim)
    assert claim.exists()

    def open_elsewhere(self: Path, target: Path) -> Path:
        raise PermissionError(13, "The process cannot access the file", str(self))

    monkeypatch.setattr(Path, "rename", open_elsewhere)
    assert is_held(claim)
    assert not is_held(tmp_path / "none")


@posix
@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("con.mp4", "is a device name"),
        ("nul", "is a device name"),
        ("Com1.loop.mp4", "is a device name"),
        ("lpt² .mp4", "is a device name"),
        ("conout$.mp4", "is a device name"),
        ("loop.", "ends with a dot or a blank"),
        ("loop.mp4 ", "ends with a dot or a blank"),
        ("what?.mp4", "holds '\\?'"),
        ("a\tb.mp4", "holds"),
    ],
)
def test_windows_own_names_are_refused_there_and_taken_elsewhere(
    windows: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, why: str
) -> None:
    with pytest.raises(InputError, match=f"{why}.*, which Windows does not allow; name another file"):
        deliver.check_destination(tmp_path / name, overwrite=False)
    monkeypatch.setattr(deliver, "is_windows", lambda: False)
    deliver.check_destination(tmp_path / name, overwrite=False)


@pytest.mark.parametrize(
    "name", ["console.mp4", "com10.mp4", "com0.mp4", "nul1.mp4", "01_con.mp4", ".loop", "a+b=c;.mp4"]
)
def test_names_that_windows_takes(name: str) -> None:
    assert system.why_windows_refuses(name) is None
