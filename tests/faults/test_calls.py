"""Each call to the system that changes a file fails once: one line, and whole outputs, the old or the new.

The whole table, with three errors at each call, and with the disk gone from there on:
``python tests/bench/faults.py``.
"""

import errno
import hashlib
import itertools
import json
import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from ghostprep.deliver import check_destination, whole_files
from ghostprep.errors import InputError, JobError
from ghostprep.scratch import one_at_a_time

Bench = Callable[[str], ModuleType]
pytestmark = pytest.mark.skipif(
    sys.platform != "linux", reason="open files are told by their handles as Linux shows them"
)


@pytest.fixture(scope="module")
def grounds(bench: Bench, tmp_path_factory: pytest.TempPathFactory) -> Any:
    return bench("fault_grounds").grounds(tmp_path_factory.mktemp("grounds"))


def test_a_run_meets_every_kind_of_call(bench: Bench, grounds: Any) -> None:
    steps = bench("fault_runs").steps_of(grounds["make"])
    assert {kind for kind, _ in steps} == {"open", "write", "flush", "rename", "make folder"}
    names = {bench("fault_runs").plain_name(path, grounds["make"]) for _, path in steps}
    assert {
        "temp/unnamed",
        "temp/ghostprep-*",
        "out/.loop.*.ghostprep.mkv",
        "out/.loop.*.ghostprep.json",
    } <= names


def test_make_survives_a_failure_of_any_kind_of_call(bench: Bench, grounds: Any) -> None:
    """One call of each kind at each place, with the errors in turn."""
    runs = bench("fault_runs")
    steps = runs.steps_of(grounds["make"])
    seen: set[tuple[str, str]] = set()
    errors = itertools.cycle(runs.ERRORS)
    outcomes = []
    for at, (kind, path) in enumerate(steps, 1):
        place = kind, runs.plain_name(path, grounds["make"])
        if place not in seen and not place[1].startswith("cache"):
            seen.add(place)
            outcomes.append(runs.one_fault(grounds["make"], at, next(errors)))
    assert len(outcomes) > 10
    assert [o for o in outcomes if o.fault] == []
    # a temporary without a name has another way to be made, a copy another way to be written, and a frame
    # that could not be kept is decoded again;
    # the folder's flush comes when all is done
    other_ways = {
        ("open", "temp"), ("write", "out/.loop.*.ghostprep.mkv"), ("flush", "out"),
        ("write", "out/.loop.*.ghostprep-copy.json"), ("write", "temp/unnamed"),
    }  # fmt: skip
    assert {(o.kind, o.where) for o in outcomes if o.status == 0} <= other_ways
    assert {(o.status, o.left) for o in outcomes if o.status} == {(1, "old")}


@pytest.mark.parametrize(
    "name",
    [
        "preview",
        "chart",
        "plan --drawing svg",
        "plan --drawing pdf",
        "plan --drawing png",
        "scene",
    ],
)
def test_other_commands_survive_it(name: str, bench: Bench, grounds: Any) -> None:
    outcomes = list(bench("fault_runs").each_fault(grounds[name], [errno.ENOSPC], most_alike=1))
    assert len(outcomes) >= 4
    assert [o for o in outcomes if o.fault] == []
    # the folder is flushed when all is in place; caches (matplotlib's list of fonts) may fail
    assert {(o.status, o.left) for o in outcomes if o.where.startswith("out/")} == {(1, "old")}


class Pair:
    """A loop and its report in a folder."""

    def __init__(self, folder: Path, had: Sequence[str]) -> None:
        self.folder = folder
        self.files = folder / "loop.mp4", folder / "loop.json"
        self.had = had
        self.reset()

    def reset(self) -> None:
        for path in self.folder.iterdir():
            path.unlink()
        for path in self.files:
            if path.suffix in self.had:
                path.write_bytes(b"old" + path.suffix.encode())

    def write(self, *, overwrite: bool) -> None:
        with whole_files(self.files, overwrite=overwrite, theirs=True) as parts:
            for path, part in zip(self.files, parts, strict=True):
                part.write_bytes(b"new" + path.suffix.encode())

    def holds(self) -> dict[str, str]:
        return {path.name: path.read_text() for path in self.folder.iterdir()}


OLD = {".mp4": ("loop.mp4", "old.mp4"), ".json": ("loop.json", "old.json")}
NEW = {"loop.mp4": "new.mp4", "loop.json": "new.json"}


@pytest.mark.parametrize("had", [[".mp4", ".json"], [".json"], [".mp4"], []], ids=" ".join)
@pytest.mark.parametrize("links", [True, False], ids=["links", "no links"])
def test_files_that_belong_together_change_together(
    had: list[str], links: bool, bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every call fails in turn; where the disk is gone from there on, the next run mends what was left."""
    if not links:

        def no_links(*_: object) -> None:
            raise OSError(errno.EPERM, "no hard links here")

        monkeypatch.setattr(os, "link", no_links)
    calls = bench("fault_calls")
    pair, old = Pair(tmp_path, had), dict(OLD[kind] for kind in had)
    with calls.patched(calls.Calls([tmp_path])) as counted:
        pair.write(overwrite=bool(had))
    assert pair.holds() == NEW
    assert len(counted.made) > 8
    for at, gone in itertools.product(range(1, len(counted.made) + 1), (False, True)):
        pair.reset()
        error = None
        try:
            with calls.patched(calls.Calls([tmp_path], at, errno.ENOSPC, gone=gone)):
                pair.write(overwrite=bool(had))
        except JobError as caught:
            error = caught
        holds = {name: text for name, text in pair.holds().items() if not name.startswith(".")}
        if error is None:
            # a flush of the folder, or a link that a rename stood in for
            assert holds == NEW
        elif gone and holds != old:
            assert "of another run than the files beside it" in str(error)
        else:
            assert holds == old, (at, gone)
            assert "No space left on device; free some space" in str(error)
        if gone:
            pair.write(overwrite=True)
            assert pair.holds() == NEW, (at, gone)
        else:
            assert not [name for name in pair.holds() if name.startswith(".")]


def test_a_copy_that_was_cut_off_is_never_put_back(tmp_path: Path) -> None:
    """Killed while it copies the old report, a run leaves a torn copy: loop and report stay as they are."""
    pair = Pair(tmp_path, [".mp4", ".json"])
    (tmp_path / ".loop.0123abcd.ghostprep-copy.json").write_text("old.j")
    (tmp_path / ".loop.0123abcd.ghostprep.mp4").write_text("new.mp4")
    check_destination(*pair.files, overwrite=True, theirs=True)
    assert pair.holds() == {"loop.mp4": "old.mp4", "loop.json": "old.json"}


def test_what_a_run_killed_between_two_renames_left_is_taken_back(tmp_path: Path) -> None:
    """The report is new, the loop is old: the next run puts the old report back before it begins."""
    pair = Pair(tmp_path, [".mp4", ".json"])
    loop, report = pair.files
    report.write_text("new.json")
    (tmp_path / ".loop.0123abcd.ghostprep-old.json").write_text("old.json")
    (tmp_path / ".loop.0123abcd.ghostprep.mp4").write_text("new.mp4")
    other = tmp_path / ".other.0123abcd.ghostprep.mp4"
    other.write_text("of another output")

    def look_and_fail() -> None:
        with whole_files(pair.files, overwrite=True, theirs=True):
            assert (loop.read_text(), report.read_text()) == ("old.mp4", "old.json")
            raise ZeroDivisionError("the second run fails too")

    with pytest.raises(ZeroDivisionError, match="the second run"):
        look_and_fail()
    assert pair.holds() == {"loop.mp4": "old.mp4", "loop.json": "old.json", other.name: "of another output"}


def test_the_parts_of_a_living_run_are_left_alone(tmp_path: Path) -> None:
    pair = Pair(tmp_path, [])
    with whole_files(pair.files, overwrite=True, theirs=True) as first:
        for part in first:
            part.write_text("the first run's")
        pair.write(overwrite=True)
        assert all(part.exists() for part in first)
    assert pair.holds() == {"loop.mp4": "the first run's", "loop.json": "the first run's"}


def test_a_second_file_that_came_into_being_takes_the_first_back(tmp_path: Path) -> None:
    pair = Pair(tmp_path, [])

    def lose_the_race() -> None:
        with whole_files(pair.files, overwrite=False) as parts:
            for part in parts:
                part.write_text("ours")
            pair.files[1].write_text("theirs")

    with pytest.raises(InputError, match="came into being while we worked"):
        lose_the_race()
    assert pair.holds() == {"loop.json": "theirs"}


def test_a_run_does_not_look_between_the_two_renames_of_another(tmp_path: Path) -> None:
    """The report is replaced before its loop: in between, the loop seems to be nobody's."""
    loop, report = tmp_path / "loop.mp4", tmp_path / "loop.json"
    loop.write_text("the first")
    told = {"output": {"sha256": hashlib.sha256(b"the second").hexdigest()}}
    report.write_text(json.dumps(told))
    with pytest.raises(InputError, match="not as ghostprep wrote it"):
        check_destination(loop, report, overwrite=True)
    with ThreadPoolExecutor(1) as pool:
        with one_at_a_time(tmp_path):
            looked = pool.submit(check_destination, loop, report, overwrite=True)
            assert wait([looked], timeout=0.3).not_done
            loop.write_text("the second")
        looked.result(timeout=30)


def test_two_runs_on_one_output_do_not_mix(bench: Bench, tmp_path: Path, clip: Path) -> None:
    """Whichever of three is the last, the loop is that of the report beside it."""
    command = [sys.executable, "-c", "from ghostprep.cli import main; main()", "make", str(clip)]
    command += [str(tmp_path / "loop.mkv"), "--player", "master-ffv1-mkv", "--raster", "96x72", "--overwrite"]
    runs = [
        subprocess.Popen(
            [*command, "--gain", str(gain)], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
        )
        for gain in (0.5, 0.8, 1.1)
    ]
    said = [run.communicate(timeout=120)[1] for run in runs]
    assert [run.returncode for run in runs] == [0, 0, 0], said
    report = json.loads((tmp_path / "loop.json").read_text(encoding="utf-8"))
    assert report["output"]["sha256"] == hashlib.sha256((tmp_path / "loop.mkv").read_bytes()).hexdigest()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["loop.json", "loop.mkv"]
