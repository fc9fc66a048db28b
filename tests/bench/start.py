"""How long the command line takes to start, beside a bare interpreter. Run: python tests/bench/start.py.

The last rows are the time from starting ``make``, without a scene and with one, until it starts the first decoder of
pictures: ffmpeg's place is taken by a script that notes the time and becomes ffmpeg.
"""

from __future__ import annotations

import compileall
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import imageio_ffmpeg
from rich.console import Console
from rich.table import Table

RUNS = 9
MAIN = "from ghostprep.cli import main; main()"
ROOT = Path(__file__).parents[2]
SAMPLE = ROOT / "sample_media" / "purser_green.mp4"
SCENE = ROOT / "sample_media" / "scene.toml"
CASES = {
    "python alone": ["-c", "pass"],
    "ghostprep --help": ["-c", MAIN, "--help"],
    "ghostprep make --help": ["-c", MAIN, "make", "--help"],
    "ghostprep plan --help": ["-c", MAIN, "plan", "--help"],
    "ghostprep players": ["-c", MAIN, "players"],
}
DECODES = {
    "ghostprep make, until it decodes": [],
    "ghostprep make --scene, until it decodes": ["--scene", str(SCENE)],
}


def once(arguments: list[str]) -> float:
    begin = time.perf_counter()
    subprocess.run([sys.executable, *arguments], capture_output=True, check=True)
    return time.perf_counter() - begin


def until_decoding(folder: Path, options: list[str]) -> float:
    """Start `make`, wait until pictures are decoded, and stop it."""
    noted = folder / "begun"
    noted.unlink(missing_ok=True)
    stand_in = folder / "ffmpeg"
    real = imageio_ffmpeg.get_ffmpeg_exe()
    stand_in.write_text(
        f'#!/bin/sh\ncase "$*" in *rawvideo*) : > "{noted}";; esac\nexec "{real}" "$@"\n', encoding="utf-8"
    )
    stand_in.chmod(0o755)
    begin = time.perf_counter()
    run = subprocess.Popen(
        [sys.executable, "-c", MAIN, "make", str(SAMPLE), str(folder / "loop.mp4"), "--no-cache", *options],
        env={**os.environ, "IMAGEIO_FFMPEG_EXE": str(stand_in)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    while not noted.exists() and run.poll() is None:
        time.sleep(0.002)
    taken = time.perf_counter() - begin
    run.terminate()
    run.wait()
    return taken


def main() -> None:
    # as an installed package is, also where the interpreter is told to write no bytecode
    compileall.compile_dir(ROOT / "ghostprep", quiet=1)
    jobs: dict[str, Callable[[], float]] = {
        name: partial(once, arguments) for name, arguments in CASES.items()
    }
    with tempfile.TemporaryDirectory(prefix="ghostprep-bench-") as folder:
        if os.name == "posix":
            for name, options in DECODES.items():
                jobs[name] = partial(until_decoding, Path(folder), options)
        times: dict[str, list[float]] = {name: [] for name in jobs}
        for _ in range(RUNS):  # in turn, so that all see the same machine
            for name, job in jobs.items():
                times[name].append(job())
    table = Table(title=f"Time to start, seconds, {RUNS} runs in turn", title_justify="left", box=None)
    for column in ("command", "least", "median"):
        table.add_column(column, justify="left" if column == "command" else "right")
    for name, found in times.items():
        table.add_row(name, f"{min(found):.3f}", f"{statistics.median(found):.3f}")
    Console().print(table)


if __name__ == "__main__":
    main()
