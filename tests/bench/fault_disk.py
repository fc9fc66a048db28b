"""Lets the disk run full under ffmpeg itself: a file size limit, or a small disk of its own."""

from __future__ import annotations

import os
import shutil
import stat
import subprocess
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from unittest import mock

from fault_calls import Calls
from fault_runs import Ground, Outcome, judged

from ghostprep.clip.child import ffmpeg_path

BLOCK = 512
SIZES_KB = (8, 16, 32, 64, 128, 256, 512, 1024)


def each_limit(ground: Ground, folder: Path, blocks: Sequence[int]) -> Iterator[Outcome]:
    """Run with an ffmpeg that may write files of so many blocks of 512 bytes."""
    for count in blocks:
        with limited(folder / "ffmpeg", count) as program:
            yield _run(ground, "file limit", f"{count * BLOCK} bytes", program)


@contextmanager
def limited(script: Path, blocks: int) -> Iterator[str]:
    """Give an ffmpeg whose writes past a size are refused, as a full disk refuses them."""
    # an ignored signal stays ignored in what the shell becomes: the write fails, and ffmpeg tells of it
    script.write_text(f"#!/bin/sh\ntrap '' XFSZ\nulimit -f {blocks}\nexec '{ffmpeg_path()}' \"$@\"\n")
    script.chmod(script.stat().st_mode | stat.S_IXUSR)
    yield str(script)


def may_mount() -> bool:
    """Return whether small disks can be made here."""
    return os.name == "posix" and os.geteuid() == 0 and shutil.which("mount") is not None


def each_small_disk(ground: Ground, sizes_kb: Sequence[int] = SIZES_KB) -> Iterator[Outcome]:
    """Run with the outputs, then with the temporaries, on a disk of so many KiB."""
    for name, folder in (("outputs", ground.out), ("temporaries", ground.temp)):
        for size in sizes_kb:
            with small_disk(folder, size):
                yield _run(ground, f"{name} on a small disk", f"{size} KiB", ffmpeg_path())


@contextmanager
def small_disk(folder: Path, size_kb: int) -> Iterator[None]:
    """Put a disk of so many KiB in the place of a folder while the block runs."""
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size_kb}k", "tmpfs", str(folder)], check=True)
    try:
        yield
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def _run(ground: Ground, kind: str, where: str, program: str) -> Outcome:
    ground.reset()
    try:
        with mock.patch("ghostprep.clip.child.ffmpeg_path", return_value=program):
            status, said = ground.run(Calls(ground.watched))
    except BaseException as error:
        status, said = -1, f"{type(error).__name__}: {error}"
    return judged(ground, kind, where, 28, status, said, gone=False)
