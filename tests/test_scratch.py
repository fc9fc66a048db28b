"""Temporaries of the dead are removed, those of the living are not."""

import errno
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from ghostprep.errors import JobError
from ghostprep.scratch import Claim, is_held, one_at_a_time, scratch_folder

HOLDER = """
import sys, time
from ghostprep.scratch import scratch_folder
with scratch_folder() as folder:
    (folder / "once.mp4").write_bytes(b"half")
    print(folder, flush=True)
    time.sleep(60)
"""


@pytest.fixture
def temp(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    return tmp_path


def test_a_scratch_folder_goes_with_its_block(temp: Path) -> None:
    with scratch_folder() as folder:
        (folder / "inner").mkdir()
        (folder / "inner" / "frame").write_bytes(b"x")
        assert folder.parent == temp
    assert list(temp.iterdir()) == []


@pytest.mark.skipif(os.name != "posix", reason="kills as POSIX does")
def test_the_next_run_removes_what_a_killed_one_left(temp: Path) -> None:
    process = subprocess.Popen(
        [sys.executable, "-c", HOLDER],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "TMPDIR": str(temp)},
    )
    assert process.stdout is not None
    with process, process.stdout:
        left = Path(process.stdout.readline().strip())
        with scratch_folder():
            assert (left / "once.mp4").exists()  # it lives, and is let alone
        process.kill()
        process.wait()
        assert (left / "once.mp4").exists()
        with scratch_folder():
            assert not left.exists()
    assert list(temp.iterdir()) == []


def test_what_is_not_ours_is_let_alone(temp: Path) -> None:
    """Other names, files, links, and folders without a claim that hold something."""
    (temp / "ghostprep-notes").mkdir()
    (temp / "ghostprep-abcdefgh").mkdir()
    (temp / "ghostprep-abcdefgh" / "file").write_bytes(b"x")
    (temp / "ghostprep-12345678").write_bytes(b"a file")
    before = sorted(temp.iterdir())
    with scratch_folder():
        pass
    assert sorted(temp.iterdir()) == before


@pytest.mark.skipif(os.name != "posix", reason="links as POSIX has them")
def test_a_link_is_never_followed(temp: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    others = tmp_path_factory.mktemp("others")
    Claim(others / "claim").free()
    (temp / "ghostprep-abcdefgh").symlink_to(others)
    with scratch_folder():
        pass
    assert (others / "claim").exists()


@pytest.mark.skipif(os.name != "posix", reason="owners as POSIX has them")
def test_another_users_folder_stays(temp: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (temp / "ghostprep-abcdefgh").mkdir()
    Claim(temp / "ghostprep-abcdefgh" / "claim").free()
    me = os.geteuid()
    monkeypatch.setattr(os, "geteuid", lambda: me + 1)
    with scratch_folder():
        pass
    assert (temp / "ghostprep-abcdefgh" / "claim").exists()
    monkeypatch.setattr(os, "geteuid", lambda: me)
    with scratch_folder():
        assert not (temp / "ghostprep-abcdefgh").exists()


def test_a_claim_is_held_until_it_is_freed(tmp_path: Path) -> None:
    with Claim(tmp_path / "claim") as claim:
        assert is_held(tmp_path / "claim")
        with pytest.raises(FileExistsError, match="claim"):
            Claim(tmp_path / "claim")
        claim.free()
        assert not is_held(tmp_path / "claim")
    assert not is_held(tmp_path / "none")


def test_no_room_for_temporaries_is_one_line(temp: Path) -> None:
    def fill() -> None:
        with scratch_folder():
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with pytest.raises(JobError, match=r"cannot be written or read \(No space left.*set TMPDIR"):
        fill()
    assert list(temp.iterdir()) == []


@pytest.mark.skipif(os.name != "posix", reason="folders are locked on POSIX only")
def test_one_at_a_time(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A second one waits, though not for ever."""
    monkeypatch.setattr("ghostprep.scratch._PATIENCE_S", 0.2)
    entered = []
    with one_at_a_time(tmp_path):
        entered.append("first")
        begun = time.monotonic()
        with one_at_a_time(tmp_path):
            entered.append("second, its patience gone")
        assert time.monotonic() - begun >= 0.2
    with one_at_a_time(tmp_path / "none"):
        entered.append("no such folder")
    assert len(entered) == 3


def test_a_claim_is_freed_once_whatever_number_its_handle_has(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A process without standard input gets handle 0 for the first file that it opens."""
    closed: list[int] = []
    claim = Claim(tmp_path / "claim")
    own, claim._handle = claim._handle, 0
    with monkeypatch.context() as patch:
        patch.setattr(os, "close", closed.append)
        claim.free()
        claim.free()
    os.close(own)
    assert closed == [0]


@pytest.mark.parametrize(("age_s", "stays"), [(3500, True), (3700, False)])
def test_a_folder_without_a_claim_is_nobodys_after_an_hour(temp: Path, age_s: float, stays: bool) -> None:
    left = temp / "ghostprep-abcdefgh"
    left.mkdir()
    (left / "frame").write_bytes(b"x")
    then = time.time() - age_s
    os.utime(left, (then, then))
    with scratch_folder():
        assert left.exists() is stays
