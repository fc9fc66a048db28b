"""Wall time, processor time and peak memory of a command with all its children."""

from __future__ import annotations

import resource
import subprocess
import threading
import time
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import psutil

_EVERY_S = 0.03


@dataclass(frozen=True, slots=True)
class Run:
    """What one run of a command took."""

    wall_s: float
    cpu_s: float
    peak_mb: float


def run(command: Sequence[str], folder: Path) -> Run:
    """Run a command in `folder` and measure it; a command that fails ends the bench with what it said."""
    before, begun = _children_cpu_s(), time.perf_counter()
    with (folder / "said.txt").open("w+") as said:
        process = subprocess.Popen(
            command, cwd=folder, stdin=subprocess.DEVNULL, stdout=said, stderr=subprocess.STDOUT
        )
        watch = _Watch(process.pid)
        status = process.wait()
        wall_s = time.perf_counter() - begun
        watch.stop()
        if status:
            said.seek(0)
            raise SystemExit(f"{' '.join(command)}\nended with {status}:\n{said.read()[-2000:]}")
    return Run(wall_s, _children_cpu_s() - before, watch.peak / 1e6)


def _children_cpu_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


class _Watch:
    """Looks at the memory of a process and its children again and again, shared pages counted once."""

    def __init__(self, pid: int) -> None:
        self.peak = 0
        self._pid = pid
        self._running = True
        self._thread = threading.Thread(target=self._look, daemon=True)
        self._thread.start()

    def stop(self) -> None:
        self._running = False
        self._thread.join()

    def _look(self) -> None:
        while self._running:
            with suppress(psutil.Error):
                root = psutil.Process(self._pid)
                self.peak = max(self.peak, sum(map(_held, [root, *root.children(recursive=True)])))
            time.sleep(_EVERY_S)


def _held(process: psutil.Process) -> int:
    with suppress(psutil.Error):
        memory = process.memory_full_info()
        return int(getattr(memory, "pss", memory.uss))
    return 0
