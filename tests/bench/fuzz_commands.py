"""Runs commands with odd scene files and odd options: nothing but a result or one line may come of any.

Run by hand: ``python tests/bench/fuzz_commands.py [--scenes N] [--options N] [--makes N] [--seed S]``, and with
``--atheris SECONDS`` the scene reader alone under a fuzzer that follows the code's branches (needs atheris).
A case fails on any exception, on another exit status than 0, 1 and 2, on a complaint of more than one
line, on a time over the limit, and on any file outside the folder it was run in.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from unittest import mock

from fault_calls import Calls, patched
from fault_grounds import SCENE, small_clip
from fuzz_words import command_lines, meant_makes, scenes
from hypothesis import HealthCheck, given, seed, settings
from rich.console import Console
from rich.table import Table

from ghostprep.cli import group
from ghostprep.cli.run import status_of

LIMIT_S = 60.0
ASKING = {"--ask", "--seen"}


class Yard:
    """A folder to run in, with a clip, a scene and what is none of both; it is put back after each run."""

    def __init__(self, root: Path) -> None:
        self.folder, self.outside = root / "yard", root
        (self.folder / "folder").mkdir(parents=True)
        (root / "temp").mkdir()
        small_clip(self.folder / "clip.mp4", frames=12)
        (self.folder / "scene.toml").write_text(SCENE, encoding="utf-8")
        (self.folder / "bad.toml").write_text("= [[[", encoding="utf-8")
        (self.folder / "text.mp4").write_text("no film\n" * 9, encoding="utf-8")
        self._kept = {p: p.read_bytes() for p in self.folder.iterdir() if p.is_file()}
        self.counts: Counter[str] = Counter()

    def put_back(self) -> None:
        for path in sorted(self.folder.rglob("*"), reverse=True):
            if path.is_dir() and not path.is_symlink():
                if path != self.folder / "folder":
                    path.rmdir()
            elif path not in self._kept:
                path.unlink()
        for path, data in self._kept.items():
            path.write_bytes(data)

    @contextlib.contextmanager
    def around(self) -> Iterator[tuple[io.StringIO, Calls]]:
        """Run a block in the yard, with all that is said and written noted."""
        said, calls, here = io.StringIO(), Calls([Path("/")]), Path.cwd()
        os.chdir(self.folder)
        try:
            with (
                mock.patch.object(tempfile, "tempdir", str(self.outside / "temp")),
                mock.patch.dict(os.environ, {"GHOSTPREP_CACHE": str(self.outside / "temp" / "cache")}),
                mock.patch.object(sys, "stdin", io.StringIO()),
                contextlib.redirect_stderr(said),
                contextlib.redirect_stdout(io.StringIO()),
                patched(calls),
            ):
                yield said, calls
        finally:
            os.chdir(here)

    def run(self, arguments: list[str]) -> str:
        """Run a command; return what is wrong with how it went, empty if nothing."""
        begun = time.monotonic()
        with self.around() as (said, calls):
            try:
                status = status_of(group, arguments)
            except Exception as error:
                return f"{type(error).__name__}: {error}"
        self.counts[f"{arguments[0]} {status}"] += 1
        fault = judged(
            status,
            said.getvalue(),
            time.monotonic() - begun,
            asked=bool(ASKING & set(arguments)),
            many="--out-dir" in arguments,
        )
        homes = tuple(f"{folder}{os.sep}" for folder in (self.outside.resolve(), "/dev", "/proc"))
        strangers = [
            path for _, path in calls.made if not path.startswith(homes) and "__pycache__" not in path
        ]
        if strangers and not fault:
            fault = f"wrote {strangers[0]}"
        if not fault and (left := [p.name for p in self.folder.iterdir() if ".ghostprep" in p.name]):
            fault = f"left {left}"
        self.put_back()
        return fault


def judged(status: int, said: str, seconds: float, *, asked: bool = False, many: bool = False) -> str:
    """Return what is wrong with a status and what was said: questions may be asked, many clips get a line each."""
    every = said.strip().splitlines()
    lines = [line for line in every if line.startswith("ghostprep: ")]
    if status not in ((0, 1, 2, 130) if asked else (0, 1, 2)):
        return f"status {status}: {said}"
    if "Traceback" in said:
        return said
    quiet = asked or "Usage:" in said
    if status == 2 and not quiet and (len(every) != len(lines) or not lines or (len(lines) > 1 and not many)):
        return f"{len(every)} lines: {said!r}"
    if not all(character.isprintable() for line in lines for character in line):
        return f"not printable: {said!r}"
    return f"took {seconds:.0f} s" if seconds > LIMIT_S else ""


def run_scenes(yard: Yard, count: int, number: int | None = None) -> None:
    """Run `plan` on so many odd scene files."""

    @_settings(count, number)
    @given(scenes())
    def go(text: str) -> None:
        path = yard.folder / "odd.toml"
        path.write_text(text, encoding="utf-8", errors="surrogatepass")
        assert not (fault := yard.run(["plan", "odd.toml", "--json"])), f"{fault}\n{text}"

    go()


def run_options(
    yard: Yard, count: int, number: int | None = None, *, without: frozenset[str] = frozenset()
) -> None:
    """Run so many odd command lines."""

    @_settings(count, number)
    @given(command_lines(without=without))
    def go(arguments: list[str]) -> None:
        assert not (fault := yard.run(arguments)), f"{fault}\n{arguments}"

    go()


def run_makes(yard: Yard, count: int, number: int | None = None) -> None:
    """Run so many jobs on the clip with options that could be meant."""

    @_settings(count, number)
    @given(meant_makes())
    def go(arguments: list[str]) -> None:
        assert not (fault := yard.run(arguments)), f"{fault}\n{arguments}"

    go()


def _settings(count: int, number: int | None) -> Any:
    # one number, one run: what failed by hand fails again in a test
    chosen = settings(
        max_examples=count,
        deadline=None,
        database=None,
        derandomize=number is None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much],
    )
    return (lambda test: chosen(seed(number)(test))) if number is not None else chosen


def run_atheris(seconds: int) -> None:
    """Let atheris look for bytes that the scene reader does not take in one line."""
    import atheris

    with atheris.instrument_imports(include=["ghostprep"]):
        from ghostprep.errors import GhostprepError
        from ghostprep.optics import make_plan
        from ghostprep.scene import parse_scene

    def one(data: bytes) -> None:
        try:
            make_plan(parse_scene(data.decode("utf-8", "replace"), "odd.toml")).as_dict()
        except GhostprepError as error:
            if not str(error).isprintable():
                raise AssertionError(repr(str(error))) from error

    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "scene.toml").write_text(SCENE, encoding="utf-8")
        atheris.Setup([sys.argv[0], f"-max_total_time={seconds}", "-max_len=4000", folder], one)
        atheris.Fuzz()


def main() -> int:
    """Run by hand."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--scenes", type=int, default=3000)
    parser.add_argument("--options", type=int, default=1000)
    parser.add_argument("--makes", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--atheris", type=int, metavar="SECONDS")
    options = parser.parse_args()
    if options.atheris:
        run_atheris(options.atheris)
        return 0
    with tempfile.TemporaryDirectory(prefix="ghostprep-fuzz-") as folder:
        yard = Yard(Path(folder))
        begun = time.monotonic()
        run_scenes(yard, options.scenes, options.seed)
        run_options(yard, options.options, options.seed)
        run_makes(yard, options.makes, options.seed)
        table = Table(title=f"{sum(yard.counts.values())} runs in {time.monotonic() - begun:.0f} s, no fault")
        for column in ("command", "status", "runs"):
            table.add_column(column)
        for what, runs in sorted(yard.counts.items()):
            table.add_row(*what.rsplit(" ", 1), str(runs))
        Console(width=100).print(table)
    return 0


if __name__ == "__main__":
    sys.exit(main())
