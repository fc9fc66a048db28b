"""Odd scene files and odd options give a result or one line; a longer run: tests/bench/fuzz_commands.py."""

import os
import subprocess
import sys
from types import ModuleType
from typing import Any

import pytest

pytestmark = pytest.mark.skipif(
    sys.platform != "linux", reason="open files are told by their handles as Linux shows them"
)

AS_C = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}


def test_odd_scene_files(bench: ModuleType, yard: Any) -> None:
    before = sum(yard.counts.values())
    bench.run_scenes(yard, 150)
    kinds = {what for what in yard.counts if what.startswith("plan ")}
    assert sum(yard.counts.values()) - before >= 150
    # a fuzz that only ever is refused, or never, would be a fuzz of nothing
    assert kinds == {"plan 0", "plan 2"}


def test_odd_options(bench: ModuleType, yard: Any) -> None:
    bench.run_options(yard, 120, without=frozenset({"make", "inspect"}))
    assert len({what.split()[0] for what in yard.counts}) >= 5


def test_odd_options_of_clips(bench: ModuleType, yard: Any) -> None:
    others = frozenset({"scene", "plan", "preview", "chart", "card", "players"})
    bench.run_options(yard, 40, without=others)
    assert {"make 2", "inspect 2"} <= set(yard.counts)


def test_options_that_could_be_meant(bench: ModuleType, yard: Any) -> None:
    bench.run_makes(yard, 8)
    assert yard.counts["make 0"] >= 1


@pytest.mark.parametrize(
    "arguments",
    [
        [b"inspect", b"\xff\xfe.mp4"],
        [b"make", b"a\nb\x1b[31m\xe6\x97\xa5.mp4", b"o.mp4"],
        [b"make", b"clip.mp4", b"out.mp4", b"--tint", b"\xff"],
        [b"plan", b"\xc3\xa9.toml", b"--drawing", b"\xf0\x9f\x91\xbb.svg"],
        [b"\xff"],
    ],
)
@pytest.mark.parametrize("console", ["C", "UTF-8"])
def test_names_that_are_no_text_on_any_console(
    arguments: list[bytes], console: str, bench: ModuleType, yard: Any
) -> None:
    done = subprocess.run(
        [sys.executable.encode(), b"-c", b"from ghostprep.cli import main; main()", *arguments],
        cwd=yard.folder, capture_output=True, timeout=60, check=False,
        env={**os.environ, **(AS_C if console == "C" else {"PYTHONUTF8": "1"})},
    )  # fmt: skip
    said = done.stderr.decode("ascii" if console == "C" else "utf-8")
    assert done.returncode == 2, said
    assert bench.judged(2, said, 0) == ""
    yard.put_back()
