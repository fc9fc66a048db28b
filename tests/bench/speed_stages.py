"""Where the time of `make` goes, stage by stage: wall time, our processor time, and that of the ffmpegs it ran.

    python tests/bench/speed_stages.py CLIP [--raster WxH] [--player NAME] [--length MIN-MAX]

Twice: looking at the clip anew, then recalling what was seen. Processor time of a decoder or encoder is counted
in the stage in which it ends.
"""

from __future__ import annotations

import argparse
import os
import resource
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table

import ghostprep.cli  # noqa: F401 - it sets what the command line sets before NumPy and OpenCV are loaded
from ghostprep.prepare import ghost, write
from ghostprep.prepare.make import make
from ghostprep.prepare.recipe import Recipe

STAGES = (
    *((ghost, name) for name in ("learn", "survey", "choose", "key_stretch")),
    *((write, name) for name in ("encode", "prove", "repeat_with_sound", "check_limits")),
)


@dataclass
class Clock:
    """Wall, own and children's seconds of each stage, and of all."""

    spent: dict[str, list[float]] = field(default_factory=dict)

    def timed(self, name: str, work: Callable[..., Any]) -> Callable[..., Any]:
        """Return the work, timed."""

        def done(*arguments: Any, **named: Any) -> Any:
            before = self.now()
            try:
                return work(*arguments, **named)
            finally:
                took = [after - begun for after, begun in zip(self.now(), before, strict=True)]
                self.spent[name] = [a + b for a, b in zip(self.spent.get(name, [0.0] * 3), took, strict=True)]

        return done

    @staticmethod
    def now() -> tuple[float, float, float]:
        own, theirs = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
        return time.perf_counter(), own.ru_utime + own.ru_stime, theirs.ru_utime + theirs.ru_stime


def main() -> None:
    """Run by hand."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("clip", type=Path)
    parser.add_argument("--raster", default="320x240")
    parser.add_argument("--player")
    parser.add_argument("--length", default="9-13")
    given = parser.parse_args()
    wide, high = map(int, given.raster.split("x"))
    least, most = map(float, given.length.split("-"))
    recipe = Recipe(raster=(wide, high), player=given.player, length=(least, most), overwrite=True)
    real = {(room, name): getattr(room, name) for room, name in STAGES}
    with tempfile.TemporaryDirectory(prefix="ghostprep-bench-") as folder:
        os.environ["GHOSTPREP_CACHE"] = str(Path(folder) / "seen")
        for title in ("anew", "recalled"):
            clock = Clock()
            for (room, name), work in real.items():
                setattr(room, name, clock.timed(name, work))
            clock.timed("all", make)(given.clip, Path(folder) / "loop.mp4", recipe)
            table = Table(title=f"{given.clip.name}, {title}", title_justify="left", box=None)
            for column in ("stage", "wall s", "ours s", "ffmpeg's s"):
                table.add_column(column, justify="left" if column == "stage" else "right")
            for name, spent in clock.spent.items():
                table.add_row(name, *(f"{seconds:.2f}" for seconds in spent))
            Console().print(table)


if __name__ == "__main__":
    main()
