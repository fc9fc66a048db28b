"""A file appears whole or not at all, and nothing that was there is lost."""

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest

from ghostprep import deliver
from ghostprep.deliver import whole_file, whole_files, write_text
from ghostprep.errors import GhostprepError, InputError, JobError


def left_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_a_file_appears_at_the_end(tmp_path: Path) -> None:
    out = tmp_path / "loop.mp4"
    with whole_file(out, overwrite=False) as part:
        part.write_bytes(b"new")
        assert part.suffix == ".mp4"
        assert not out.exists()
    assert out.read_bytes() == b"new"
    assert left_in(tmp_path) == ["loop.mp4"]


def test_a_failure_leaves_what_was_there(tmp_path: Path) -> None:
    out = tmp_path / "loop.mp4"
    out.write_bytes(b"old")

    def fail(part: Path) -> None:
        part.write_bytes(b"half")
        raise ZeroDivisionError("division")

    with (
        pytest.raises(ZeroDivisionError, match="division"),
        whole_file(out, overwrite=True, theirs=True) as part,
    ):
        fail(part)
    assert out.read_bytes() == b"old"
    assert left_in(tmp_path) == ["loop.mp4"]


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_a_refusal_of_the_system_is_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    out = tmp_path / "loop.mp4"
    out.write_bytes(b"old")

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full) if call == "fsync" else monkeypatch.setattr(Path, "replace", full)
    with (
        pytest.raises(JobError, match=r"loop\.mp4: No space left"),
        whole_file(out, overwrite=True, theirs=True) as part,
    ):
        part.write_bytes(b"new")
    assert out.read_bytes() == b"old"
    assert left_in(tmp_path) == ["loop.mp4"]


def test_an_existing_file_is_never_replaced_unasked(tmp_path: Path) -> None:
    out = tmp_path / "loop.mp4"
    with whole_file(out, overwrite=False) as part:
        part.touch()
    with pytest.raises(InputError, match="exists already; name another file or add --overwrite"):
        write_text(out, "new", overwrite=False)
    assert out.read_bytes() == b""


@pytest.mark.parametrize("links", [True, False])
def test_of_two_runs_on_one_destination_one_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, links: bool
) -> None:
    if not links:

        def no_links(*_: object) -> None:
            raise OSError(errno.EPERM, "no hard links here")

        monkeypatch.setattr(deliver.os, "link", no_links)
    out = tmp_path / "loop.mp4"

    def lose_the_race(part: Path) -> None:
        part.write_bytes(b"second")
        out.write_bytes(b"first")

    with (
        pytest.raises(InputError, match="came into being while we worked"),
        whole_file(out, overwrite=False) as part,
    ):
        lose_the_race(part)
    assert out.read_bytes() == b"first"
    assert left_in(tmp_path) == ["loop.mp4"]


def test_a_missing_folder_and_a_folder_as_a_name_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="the folder does not exist"):
        write_text(tmp_path / "no" / "a.json", "", overwrite=False)
    with pytest.raises(InputError, match="is a folder"):
        write_text(tmp_path, "", overwrite=True)


def test_an_error_is_one_line_whatever_a_file_is_called() -> None:
    error = GhostprepError("is\nbroken", where="a\x1b[31m.mp4", remedy="mend it", tool_line=" last words\n")
    assert error.one_line() == "a\\x1b[31m.mp4: is\\nbroken (last words); mend it"
    assert "\n" not in str(error)


KILLED = """
import os, sys
from pathlib import Path
from ghostprep.deliver import whole_files
replace = Path.replace
def once(self, target):
    replace(self, target)
    os._exit(9)  # as SIGKILL does: nothing is cleared up
Path.replace = once
out = [Path(word) for word in sys.argv[1:]]
with whole_files(out, overwrite=True, theirs=True) as parts:
    for part in parts:
        part.write_text("new")
"""


def test_a_run_killed_between_two_renames_leaves_a_pair_of_one_run(tmp_path: Path) -> None:
    out = [tmp_path / "loop.mp4", tmp_path / "loop.json"]
    for path in out:
        path.write_text("old")
    status = subprocess.run([sys.executable, "-c", KILLED, *map(str, out)], check=False).returncode
    assert status == 9
    # the report goes first: the main file, which may be large, is replaced last and in one step
    assert [path.read_text() for path in out] == ["old", "new"]
    with pytest.raises(ZeroDivisionError, match="next run"), whole_files(out, overwrite=True, theirs=True):
        raise ZeroDivisionError("the next run")
    assert [path.read_text() for path in out] == ["old", "old"]
    assert left_in(tmp_path) == ["loop.json", "loop.mp4"]


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="tells files by their handles as Linux does")
def test_all_is_on_the_disk_before_the_first_rename(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = [tmp_path / "loop.mp4", tmp_path / "loop.json"]
    for path in out:
        path.write_text("old")
    steps: list[str] = []
    fsync, replace = os.fsync, Path.replace

    def flush(handle: int) -> None:
        steps.append(f"flush {'.'.join(Path(f'/proc/self/fd/{handle}').readlink().name.split('.')[-2:])}")
        fsync(handle)

    def move(self: Path, target: Path) -> Path:
        steps.append(f"rename {target.name}")
        return replace(self, target)

    monkeypatch.setattr(os, "fsync", flush)
    monkeypatch.setattr(Path, "replace", move)
    with whole_files(out, overwrite=True, theirs=True) as parts:
        for part in parts:
            part.write_text("new")
    assert steps[:5] == [
        "flush ghostprep.mp4",
        "flush ghostprep.json",
        "flush ghostprep-copy.json",  # what the way back needs
        "rename loop.json",
        "rename loop.mp4",
    ]
    assert len(steps) == 6, "and the folder at the end"


def test_a_main_file_without_a_forerunner_comes_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Better a loop without its report than the reverse: what is killed between two renames leaves that."""
    out = [tmp_path / "loop.mp4", tmp_path / "loop.json"]
    out[1].write_text("of another run")
    moved: list[str] = []
    replace = Path.replace

    def move(self: Path, target: Path) -> Path:
        moved.append(target.name)
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", move)
    with whole_files(out, overwrite=True, theirs=True) as parts:
        for part in parts:
            part.write_text("new")
    assert moved == ["loop.mp4", "loop.json"]
