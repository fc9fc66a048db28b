"""How long `make` takes, beside decoding the clip alone and beside the same job by hand.

    python tests/bench/speed.py [--clips FOLDER] [--out FOLDER] [--only WORD] [--rounds N] [--no-script]

All jobs of a case run in turn, round after round, as whole processes; wall, processor time and memory are those of a
process with all its children. The clips are made once and kept in --clips: about 1.3 GB and ten minutes.
"""

from __future__ import annotations

import argparse
import compileall
import os
import platform
import shutil
import statistics
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from rich.console import Console
from rich.table import Table
from speed_rivals import graph
from speed_sources import FFMPEG, SAMPLE, clip
from whole_process import Run, run

MAKE = (sys.executable, "-c", "from ghostprep.cli import main; main()", "make")


@dataclass(frozen=True, slots=True)
class Case:
    """One clip and what it becomes."""

    name: str
    seconds: int
    raster: tuple[int, int]
    size: tuple[int, int] = (1920, 1080)
    deep: bool = False
    player: str = "h264-baseline-qvga"
    by_hand: bool = True
    length_s: float = 10.0
    """Of the loop; the graph and the script are told the stretch."""
    sample: bool = False
    """The sample as it is, not a clip made of it."""

    @property
    def start_s(self) -> float:
        """Where the stretch begins that they are told."""
        return min(8.0, (self.seconds - self.length_s) / 2)


CASES = (
    Case("1080p H.264, 10 s, to 320x240", 10, (320, 240), length_s=5.0),
    Case("1080p H.264, 60 s, to 320x240", 60, (320, 240)),
    Case("1080p H.264, 60 s, to 800x480", 60, (800, 480), player="h264-main-720p"),
    Case("2160p HEVC 10 bit, 20 s, to 320x240", 20, (320, 240), (3840, 2160), deep=True),
    Case("1080p H.264, 10 min, to 320x240", 600, (320, 240), by_hand=False),
    Case("720p sample, 12 s, to 320x240", 12, (320, 240), (1280, 720), sample=True, length_s=9.0),
    Case(
        *("720p sample, 12 s, to 1080x1920", 12, (1080, 1920), (1280, 720)),
        player="h264-high-1080p",
        sample=True,
        length_s=9.0,
    ),
)


def jobs(case: Case, path: Path, folder: Path, *, script: bool) -> dict[str, Callable[[], Run]]:
    """Return the jobs of a case by name."""
    width, height = case.raster
    ours = (
        *(
            *MAKE,
            str(path),
            "ours.mp4",
            "--overwrite",
            "--length",
            f"{case.length_s - 1:g}-{case.length_s + 3:g}",
        ),
        *("--raster", f"{width}x{height}", "--player", case.player),
    )
    os.environ["GHOSTPREP_CACHE"] = str(folder / "seen")

    def anew() -> Run:
        shutil.rmtree(folder / "seen", ignore_errors=True)
        return run(ours, folder)

    found: dict[str, Callable[[], Run]] = {
        "decode alone": lambda: run(
            [FFMPEG, "-v", "error", "-nostdin", "-i", str(path), "-map", "0:V:0", "-f", "null", "-"], folder
        ),
        "make": anew,
        "make again, other gain and tint": lambda: run((*ours, "--gain", "1.1", "--tint", "#ffe0b0"), folder),
    }
    if not case.by_hand:
        return found
    hand = {"start": case.start_s, "length": case.length_s}
    last = {"start": max(case.seconds - case.length_s - 2, 0), "length": case.length_s}
    found["filter graph, the stretch at the end"] = lambda: run(
        graph(path, folder / "graph.mp4", case.raster, case.size, **last, jump=False), folder
    )
    found["filter graph, straight to the stretch"] = lambda: run(
        graph(path, folder / "graph.mp4", case.raster, case.size, **hand, jump=True), folder
    )
    if script:
        told = (
            "--size",
            str(width),
            str(height),
            "--start",
            str(case.start_s),
            "--length",
            str(case.length_s),
        )
        rival = str(Path(__file__).with_name("speed_rivals.py"))
        found["moviepy script, straight to the stretch"] = lambda: run(
            [sys.executable, rival, str(path), "script.mp4", *told], folder
        )
    return found


def measure(case: Case, clips: Path, rounds: int, *, script: bool) -> Table:
    """Run the jobs of a case in turn and return their table."""
    path = SAMPLE if case.sample else clip(clips, case.seconds, size=case.size, deep=case.deep)
    runs: dict[str, list[Run]] = {}
    with tempfile.TemporaryDirectory(prefix="ghostprep-bench-") as folder:
        for _ in range(rounds):
            for name, job in jobs(case, path, Path(folder), script=script).items():
                runs.setdefault(name, []).append(job())
    table = Table(title=f"{case.name}; medians of {rounds}", title_justify="left", box=None)
    for column in ("job", "wall s", "ratio", "processor s", "ratio", "peak MB"):
        table.add_column(column, justify="left" if column == "job" else "right")
    alone = runs["decode alone"]
    for name, found in runs.items():
        wall, cpu = _median(found, "wall_s"), _median(found, "cpu_s")
        table.add_row(
            *(name, f"{wall:.1f}", f"{wall / _median(alone, 'wall_s'):.2f}"),
            *(f"{cpu:.1f}", f"{cpu / _median(alone, 'cpu_s'):.2f}", f"{max(r.peak_mb for r in found):.0f}"),
        )
    return table


def _median(runs: list[Run], what: str) -> float:
    return statistics.median(getattr(one, what) for one in runs)


def main() -> None:
    """Run by hand."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clips", type=Path, default=Path(tempfile.gettempdir()) / "ghostprep-speed")
    parser.add_argument("--out", type=Path, help="write the tables to a file speed.txt here")
    parser.add_argument("--only", default="", help="cases whose name holds this")
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--no-script", action="store_true", help="leave moviepy out, which takes longest")
    given = parser.parse_args()
    given.clips.mkdir(parents=True, exist_ok=True)
    # as an installed package is, also where the interpreter is told to write no bytecode
    compileall.compile_dir(Path(__file__).parents[2] / "ghostprep", quiet=1)
    console = Console(width=110, record=True)
    console.print(f"{platform.node()}: {os.cpu_count()} cores, {platform.machine()}, {platform.system()}")
    for case in CASES:
        if given.only in case.name:
            console.print(measure(case, given.clips, given.rounds, script=not given.no_script))
    if given.out is not None:
        given.out.mkdir(parents=True, exist_ok=True)
        (given.out / "speed.txt").write_text(console.export_text(), encoding="utf-8")


if __name__ == "__main__":
    main()
