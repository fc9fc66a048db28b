"""Runs of pytest on copies of the project, each in a fork of a process that has the libraries loaded already."""

from __future__ import annotations

import compileall
import contextlib
import ctypes
import importlib
import os
import py_compile
import re
import shutil
import signal
import sys
import tempfile
import time
import traceback
from dataclasses import dataclass
from pathlib import Path

import pytest

LIBRARIES = (
    "av", "click.testing", "cv2", "imageio_ffmpeg", "jinja2", "matplotlib.figure", "numpy.testing",
    "matplotlib.backends.backend_agg", "platformdirs", "psutil", "pydantic", "rich.console", "rich.table", "tomlkit",
)  # fmt: skip
"""What most tests import; not the project, whose mistakes are to be read anew."""

NOT_RUN = 70
_COUNTED = re.compile(r"^\d+ (?:passed|failed|errors?)\b", re.MULTILINE)
"""The line in which pytest counts what it ran."""
_DIE_WITH_PARENT = 1
"""PR_SET_PDEATHSIG of Linux' prctl."""


@dataclass(frozen=True, slots=True)
class Done:
    """How a run of pytest ended."""

    code: int | None
    """None if it did not end in time."""
    text: str


def load_libraries() -> None:
    """Import once what every fork then has."""
    for name in LIBRARIES:
        importlib.import_module(name)


def make_copy(root: Path, copy: Path) -> Path:
    """Copy the project; its compiled files are told by what they were compiled from, since times are too coarse."""
    shutil.copytree(root, copy, ignore=shutil.ignore_patterns(".*", "__pycache__", "bench"))
    mode = py_compile.PycInvalidationMode.CHECKED_HASH
    compileall.compile_dir(copy / "ghostprep", quiet=2, invalidation_mode=mode)
    return copy


def run(args: list[str], copy: Path, *, timeout: float | None = None) -> Done:
    """Run pytest in a fork, in the copy; whatever it started ends with it."""
    with tempfile.TemporaryFile() as out:
        child = os.fork()
        if child == 0:
            _run_here(args, copy, out.fileno())
        try:
            code = _ended(child, timeout)
        finally:
            with contextlib.suppress(ProcessLookupError, PermissionError):
                os.killpg(child, signal.SIGKILL)
        if code is None:
            os.waitpid(child, 0)
        out.seek(0)
        text = out.read().decode("utf-8", "replace")
    # what a test left behind can still break pytest's own end: its tests have run all the same
    if code == NOT_RUN and not _COUNTED.search(text):
        raise RuntimeError(f"pytest did not run:\n{text}")
    return Done(code, text)


def _run_here(args: list[str], copy: Path, out: int) -> None:
    code = NOT_RUN
    try:
        os.setsid()
        with contextlib.suppress(
            AttributeError, OSError
        ):  # Linux: whoever waits for it is killed, and so is it
            ctypes.CDLL(None).prctl(_DIE_WITH_PARENT, signal.SIGKILL)
        for stream in (1, 2):
            os.dup2(out, stream)
        os.chdir(copy)
        sys.path.insert(0, str(copy))
        os.environ["PYTHONPATH"] = str(copy)
        sys.argv = ["pytest"]
        # a folder of its own: another run of pytest clears away those that all share
        alone = f"--basetemp={copy}-tmp"
        options = ["-q", "-p", "no:cacheprovider", "-p", "no:xdist", "-m", "not slow", alone]
        code = int(pytest.main([*options, *args]))
    except BaseException:
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code)


def _ended(child: int, timeout: float | None) -> int | None:
    latest = None if timeout is None else time.monotonic() + timeout
    while latest is None or time.monotonic() < latest:
        pid, status = os.waitpid(child, 0 if latest is None else os.WNOHANG)
        if pid:
            return os.waitstatus_to_exitcode(status)
        time.sleep(0.02)
    return None
