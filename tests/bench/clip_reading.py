"""What reading costs against decoding alone, and the memory that it takes.

Run by hand: ``python tests/bench/clip_reading.py [CLIP] [--rounds N]``. Without a clip one of ten seconds of
1080p is made. Rounds of all jobs are interleaved, so that a busy machine slows all of them; the ratio
of processor times is the figure to look at. Memory is the sum over this process and its decoder.
"""

from __future__ import annotations

import argparse
import statistics
import subprocess
import tempfile
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import imageio_ffmpeg
import psutil
from rich.console import Console
from rich.table import Table

from ghostprep.clip import ClipFacts, glance, probe, read_frames

FFMPEG = imageio_ffmpeg.get_ffmpeg_exe()


def make_clip(folder: Path) -> Path:
    """Encode ten seconds of 1080p30 with the sensor's noise of a camera."""
    path = folder / "camera.mp4"
    source = "testsrc2=s=1920x1080:r=30:d=10,noise=alls=5:allf=t"
    encoder = ("-c:v", "libx264", "-preset", "veryfast", "-crf", "24", "-pix_fmt", "yuv420p")
    subprocess.run([FFMPEG, "-v", "error", "-f", "lavfi", "-i", source, *encoder, str(path)], check=True)
    return path


def decode_alone(path: Path) -> None:
    """Decode and throw away, by ffmpeg itself."""
    command = [FFMPEG, "-v", "error", "-nostdin", "-i", str(path), "-map", "0:V:0", "-f", "null", "-"]
    subprocess.run(command, check=True)


def read(facts: ClipFacts, size: tuple[int, int]) -> None:
    """Read all frames at one size."""
    with read_frames(facts, size=size) as frames:
        for _ in frames:
            pass


class Measured:
    """Processor time, wall time and peak memory of one run."""

    def __init__(self, job: Callable[[], object]) -> None:
        self._peak = 0
        self._running = True
        watcher = threading.Thread(target=self._watch)
        watcher.start()
        before, begun = self._cpu(), time.perf_counter()
        job()
        self.wall_s = time.perf_counter() - begun
        self.cpu_s = self._cpu() - before
        self._running = False
        watcher.join()
        self.peak_mb = self._peak / 1e6

    @staticmethod
    def _cpu() -> float:
        times = psutil.Process().cpu_times()
        return times.user + times.system + times.children_user + times.children_system

    def _watch(self) -> None:
        me = psutil.Process()
        while self._running:
            with suppress(psutil.Error):
                processes = [me, *me.children(recursive=True)]
                self._peak = max(self._peak, sum(p.memory_info().rss for p in processes))
            time.sleep(0.02)


def main() -> None:
    """Run by hand."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("clip", type=Path, nargs="?")
    parser.add_argument("--rounds", type=int, default=5)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="ghostprep-bench-") as folder:
        path = options.clip or make_clip(Path(folder))
        facts = probe(path)
        width, height = facts.size
        small = (320, max(round(320 * height / width), 1))
        jobs: dict[str, Callable[[], object]] = {
            "decode alone": lambda: decode_alone(path),
            "read {}x{}".format(*small): lambda: read(facts, small),
            f"read {width // 2}x{height // 2}": lambda: read(facts, (width // 2, height // 2)),
            f"read {width}x{height}": lambda: read(facts, facts.size),
            "glance, 32 frames": lambda: glance(facts),
        }
        results: dict[str, list[Measured]] = {name: [] for name in jobs}
        for _ in range(options.rounds):
            for name, job in jobs.items():
                results[name].append(Measured(job))
    table = Table(title=f"{path.name}: {width}x{height}, {facts.codec}; medians of {options.rounds} rounds")
    for column in ("job", "processor s", "ratio", "wall s", "ratio", "peak MB"):
        table.add_column(column, justify="left" if column == "job" else "right")
    cpu, wall = (
        statistics.median(getattr(m, name) for m in results["decode alone"]) for name in ("cpu_s", "wall_s")
    )
    for name, runs in results.items():
        own_cpu, own_wall = (
            statistics.median(m.cpu_s for m in runs),
            statistics.median(m.wall_s for m in runs),
        )
        peak = max(m.peak_mb for m in runs)
        table.add_row(
            name,
            f"{own_cpu:.2f}",
            f"{own_cpu / cpu:.2f}",
            f"{own_wall:.2f}",
            f"{own_wall / wall:.2f}",
            f"{peak:.0f}",
        )
    Console(width=110).print(table)


if __name__ == "__main__":
    main()
