"""Runs a command in this process with one call to the system failing, and judges what it left."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import io
import json
import re
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

import psutil
from fault_calls import Calls, patched

from ghostprep.cli import group
from ghostprep.cli.run import status_of
from ghostprep.provenance import sign

ERRORS = (errno.ENOSPC, errno.EIO, errno.EACCES)


@dataclass(frozen=True)
class Outcome:
    """What came of one run; `fault` is empty if all was well."""

    kind: str
    where: str
    number: int
    status: int
    left: str
    line: str
    fault: str = ""


class Ground:
    """A folder for outputs and one for temporaries, with outputs of an earlier run in it."""

    def __init__(self, root: Path, arguments: Sequence[str], outputs: Sequence[str]) -> None:
        self.out, self.temp, self.cache = root / "out", root / "temp", root / "cache"
        for folder in (self.out, self.temp, self.cache):
            folder.mkdir(parents=True)
        self.arguments = [text.replace("OUT", str(self.out)) for text in arguments]
        self.outputs = tuple(self.out / name for name in outputs)
        self.old = _earlier(self.outputs)

    @property
    def watched(self) -> tuple[Path, Path, Path]:
        return self.out, self.temp, self.cache

    def reset(self) -> None:
        for folder in self.watched:
            for path in folder.iterdir():
                path.unlink() if path.is_file() else _remove(path)
        for path, old in zip(self.outputs, self.old, strict=True):
            path.write_bytes(old)

    def run(self, calls: Calls) -> tuple[int, str]:
        """Run the command; return its status and what it said on stderr."""
        said, shown = io.StringIO(), io.StringIO()
        with (
            mock.patch.object(tempfile, "tempdir", str(self.temp)),
            mock.patch.dict("os.environ", {"GHOSTPREP_CACHE": str(self.cache)}),
            contextlib.redirect_stderr(said),
            contextlib.redirect_stdout(shown),
            patched(calls),
        ):
            status = status_of(group, self.arguments)
        return status, said.getvalue()

    def state(self) -> str:
        """Return "old", "new" or what else the outputs are together."""
        if not all(path.is_file() for path in self.outputs):
            return "missing"
        now = [path.read_bytes() for path in self.outputs]
        same = [a == b for a, b in zip(now, self.old, strict=True)]
        if all(same):
            return "old"
        if any(same):
            return "MIXED"
        if len(now) == 2 and _told_sha256(now[1]) != hashlib.sha256(now[0]).hexdigest():
            return "MIXED"
        return "new"

    def strangers(self) -> list[str]:
        """Return what lies around that no finished run leaves."""
        names = {path.name for path in self.outputs}
        found = [p.name for p in self.out.iterdir() if p.name not in names]
        found += [f"temp/{p.name}" for p in self.temp.iterdir()]
        found += [str(p.name) for p in self.cache.rglob(".*")]
        return sorted(found)


def _earlier(outputs: Sequence[Path]) -> list[bytes]:
    """Return what an earlier run of ours might have written."""
    first = outputs[0]
    if len(outputs) == 2:
        loop = b"an earlier run's loop"
        return [loop, json.dumps({"output": {"sha256": hashlib.sha256(loop).hexdigest()}}).encode()]
    end = b"\x00\x00\x00\x00IEND\xaeB`\x82" if first.suffix == ".png" else b""
    first.write_bytes(b"an earlier run's file" + end)
    sign(first, first.suffix)
    return [first.read_bytes()]


def steps_of(ground: Ground) -> list[tuple[str, str]]:
    """Return the calls of a run in which nothing fails."""
    ground.reset()
    calls = Calls(ground.watched)
    status, said = ground.run(calls)
    if status or ground.state() != "new" or ground.strangers():
        raise RuntimeError(
            f"the run without a fault: {status}, {ground.state()}, {ground.strangers()}: {said}"
        )
    return calls.made


def thinned(steps: Sequence[tuple[str, str]], most_alike: int | None) -> list[int]:
    """Return the numbers of the steps to try, from 1: of many alike in a row only the ends and the middle."""
    rows: list[list[int]] = []
    for number, (kind, path) in enumerate(steps, 1):
        same = rows and steps[rows[-1][0] - 1] == (kind, path)
        rows[-1].append(number) if same else rows.append([number])
    chosen = []
    for row in rows:
        few = row if most_alike is None or len(row) <= most_alike else [row[0], row[len(row) // 2], row[-1]]
        chosen += few[: most_alike or len(few)]
    return chosen


def each_fault(
    ground: Ground, errors: Sequence[int] = ERRORS, *, most_alike: int | None = 3, gone: bool = False
) -> Iterator[Outcome]:
    """Let each step fail in turn."""
    steps = steps_of(ground)
    for at in thinned(steps, most_alike):
        for number in errors:
            yield one_fault(ground, at, number, gone=gone)


def one_fault(ground: Ground, at: int, number: int, *, gone: bool = False) -> Outcome:
    """Let one step fail, from 1, and judge what was left."""
    ground.reset()
    calls = Calls(ground.watched, at, number, gone=gone)
    try:
        status, said = ground.run(calls)
    except BaseException as error:
        status, said = -1, f"{type(error).__name__}: {error}"
    kind, path = calls.made[at - 1] if len(calls.made) >= at else ("not reached", "")
    return judged(ground, kind, path, number, status, said, gone=gone)


def judged(
    ground: Ground, kind: str, path: str, number: int, status: int, said: str, *, gone: bool
) -> Outcome:
    state, lines = ground.state(), said.strip().splitlines()
    strangers = ground.strangers()
    fault = ""
    if status not in (0, 1, 2):
        fault = f"status {status}: {said}"
    elif status and (len(lines) != 1 or not lines[0].startswith("ghostprep: ")):
        fault = f"{len(lines)} lines: {said!r}"
    elif "Traceback" in said:
        fault = "traceback"
    elif state not in ("old", "new") and not (gone and "of another run" in said):
        fault = f"outputs are {state}"
    elif not status and state != "new":
        fault = "says done, and the outputs are old"
    elif strangers and not gone:
        fault = f"left {strangers}"
    elif left := [p.pid for p in psutil.Process().children(recursive=True) if "ffmpeg" in p.name()]:
        fault = f"left processes {left}"
    if gone and not fault:
        # the disk is back: the next run does the job and removes what was left
        again, said_again = ground.run(Calls(ground.watched))
        if again or ground.state() != "new" or ground.strangers():
            fault = f"the next run: {again}, {ground.state()}, {ground.strangers()}: {said_again}"
    return Outcome(kind, plain_name(path, ground), number, status, state, lines[-1] if lines else "", fault)


def plain_name(path: str, ground: Ground) -> str:
    """Return a path without what differs from run to run."""
    for name, folder in (("out", ground.out), ("temp", ground.temp), ("cache", ground.cache)):
        path = path.replace(str(folder.resolve()), name)
    path = re.sub(r"ghostprep-[a-z0-9_]{8}(?=/|$)", "ghostprep-*", path)
    path = re.sub(r"\.[0-9a-f]{8}\.", ".*.", re.sub(r"[0-9a-f]{64}", "*", path))
    return re.sub(r"/#\d+ \(deleted\)/?|/#\d+/?", "/unnamed", path).rstrip("/")


def _remove(folder: Path) -> None:
    for path in folder.iterdir():
        path.unlink() if path.is_file() else _remove(path)
    folder.rmdir()


def _told_sha256(report: bytes) -> str | None:
    try:
        told = json.loads(report)["output"]["sha256"]
    except (ValueError, KeyError, TypeError):
        return None
    return str(told)
