"""What each stage of the coloured key costs and what it buys.

    python tests/bench/keying_stages.py [--out FOLDER]

Every stage is switched off in turn, all variants frame by frame in one run, so that a busy machine slows
them alike. CPU time of one thread; `ms` is what the stage itself takes.
"""

from __future__ import annotations

import argparse
import contextlib
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from unittest import mock

import cv2
import numpy as np
from keying import our_key
from keying_clips import Made, Recipe, make
from rich.console import Console
from rich.table import Table

import ghostprep.picture.key.chroma as chroma
import ghostprep.picture.key.unmix as unmix
from ghostprep.picture.key.region import Region

CLIPS = [
    Recipe("green painted", "painted2", "#2f9a4a", seed=21),
    Recipe("green photograph", "astronaut", "#2f9a4a", seed=21),
    Recipe("red scarf, green", "painted2 #b02a2a", "#2f9a4a", seed=34),
]


def _everywhere(seen: np.ndarray, step: int = 1) -> Region:
    return Region(0, 0, seen.shape[0], seen.shape[1])


STAGES: dict[str, Callable[[], Any]] = {
    "all stages": contextlib.nullcontext,
    "a lamp's glow": lambda: mock.patch.object(chroma, "find_glow", return_value=None),
    "smoothing along the picture's edges": lambda: mock.patch.object(
        chroma, "windows", lambda guide, share, *a: (np.zeros_like(share), share)
    ),
    "thin light has the hue that was found": lambda: mock.patch.object(chroma, "_have_hue"),
    "only the figure's part of the frame": lambda: mock.patch.object(Region, "around", _everywhere),
    "even places once, in small": lambda: mock.patch.object(unmix, "_EVEN", -1.0),
}


def measured(made: Made) -> Iterator[tuple[str, float, float, float, float]]:
    """Yield each variant's name, CPU ms at 640x480 and at 320x240, MSE and edge MSE."""
    key, size = our_key(made), (made.frames.shape[2], made.frames.shape[1])
    keyers = {n: (key.at(None, size, size), key.at(None, size, (320, 240))) for n in STAGES}
    times: dict[str, tuple[list[float], list[float]]] = {n: ([], []) for n in STAGES}
    errors: dict[str, list[tuple[float, float]]] = {n: [] for n in STAGES}
    for i in range(0, len(made.frames), 5):
        frame = np.ascontiguousarray(made.frames[i])
        frames = (frame, cv2.resize(frame, (320, 240), interpolation=cv2.INTER_AREA))
        for _ in range(4):
            for name, switch in STAGES.items():
                with switch():
                    for spent, keyer, one in zip(times[name], keyers[name], frames, strict=True):
                        before = time.thread_time()
                        keyer(one)
                        spent.append(time.thread_time() - before)
        edge = (made.alpha[i] > 5) & (made.alpha[i] < 250)
        for name, switch in STAGES.items():
            with switch():
                apart = (keyers[name][0](frame).codes.astype(np.float32) - made.truth[i]) ** 2
            errors[name].append((float(apart.mean()), float(apart[edge].mean())))
    for name in STAGES:
        large, half = (1e3 * float(np.percentile(t, 20)) for t in times[name])
        yield name, large, half, *(float(x) for x in np.mean(errors[name], axis=0))


def main() -> None:
    """Run the bench."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--out", type=Path, default=None, help="folder for the table")
    folder = parser.parse_args().out or Path(tempfile.mkdtemp(prefix="keying-stages-"))
    folder.mkdir(parents=True, exist_ok=True)
    cv2.setNumThreads(1)
    table = Table(title="What the key's stages cost (CPU ms a frame, one core) and buy")
    for name in (
        "clip",
        "switched off",
        "its ms, 640x480",
        "its ms, 320x240",
        "MSE without",
        "edge MSE without",
    ):
        table.add_column(name, justify="left" if name in ("clip", "switched off") else "right")
    for recipe in CLIPS:
        whole = (0.0, 0.0)
        for name, large, half, mse, edge in measured(make(recipe, folder)):
            if name == "all stages":
                whole = (large, half)
                cells = (recipe.name, "nothing: the whole key", f"{large:.2f}", f"{half:.2f}")
            else:
                cells = ("", name, f"{whole[0] - large:.2f}", f"{whole[1] - half:.2f}")
            table.add_row(*cells, f"{mse:.1f}", f"{edge:.0f}")
    console = Console(width=130, record=True)
    console.print(table)
    (folder / "stages.txt").write_text(console.export_text(), encoding="utf-8")
    console.print(f"table: {folder}")


if __name__ == "__main__":
    main()
