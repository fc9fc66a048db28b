"""What each rule of the key on black is good for, on clips drawn at random.

    python tests/bench/keying_stages_black.py [--count N] [--seed N]

Each rule is switched off in turn, on the same draws; ratios are to the oracle of `draws_scores`.
"""

from __future__ import annotations

import argparse
import contextlib
import secrets
import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any
from unittest import mock

import cv2
import numpy as np
from draws_clips import STILL, Shot, draw_case, make
from draws_scores import SCORED, errors, learned, oracle
from rich.console import Console
from rich.progress import track
from rich.table import Table

from ghostprep.picture import Key
from ghostprep.picture.key import black
from ghostprep.picture.learn import black_level, black_mix, detect

RULES: dict[str, tuple[Callable[[], Any], Callable[[Key], Key]]] = {
    "nothing: the whole key": (contextlib.nullcontext, lambda key: key),
    "the toe": (contextlib.nullcontext, lambda key: replace(key, toe=0.0)),
    "a body hides the black": (contextlib.nullcontext, lambda key: replace(key, body=False)),
    "a glow beside a body hides nothing": (
        lambda: mock.patch.object(
            black, "falls_off", lambda above, bare: np.zeros(above.shape[:2], np.bool_)
        ),
        lambda key: key,
    ),
    "added in light": (contextlib.nullcontext, lambda key: replace(key, linear=False)),
    "painted in codes": (
        lambda: mock.patch.object(black_mix, "_MIXES", (black_mix._MIXES[1], *black_mix._MIXES[1:])),
        lambda key: key,
    ),
    "the slope": (lambda: mock.patch.object(black_level, "_SLOPE", 1e-3), lambda key: key),
    "the lowest level where little is bare": (
        lambda: mock.patch.object(black_level, "_ENOUGH", 0.0),
        lambda key: key,
    ),
    "a colour that fades out is light": (
        lambda: mock.patch.object(detect, "_fades", return_value=False),
        lambda key: key,
    ),
}


def measured(shot: Shot) -> dict[str, tuple[float, float]]:
    """Return for each rule the MSE without it over the oracle's, and the code that stays where nothing is."""
    which = np.linspace(1, len(shot.frames) - STILL - 1, SCORED).astype(int)
    size = (shot.frames.shape[2], shot.frames.shape[1])
    floor = errors(np.stack([oracle(shot, int(i)) for i in which]), shot, which)
    found = {}
    for name, (switch, change) in RULES.items():
        with switch():
            key = learned(shot)
            keyer = (change(key) if key.backing.kind == "black" else key).at(None, size, size)
            figures = np.stack([keyer(np.ascontiguousarray(shot.frames[i])).codes for i in which])
        ours = errors(figures, shot, which)
        found[name] = (ours["mse"] / max(floor["mse"], 1 / 12), ours["back"])
    return found


def main() -> None:
    """Run the bench."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--count", type=int, default=16, help="how many clips to draw")
    parser.add_argument("--seed", type=int, default=None, help="draw an earlier run again")
    asked = parser.parse_args()
    seed = secrets.randbelow(1_000_000) if asked.seed is None else asked.seed
    cv2.setNumThreads(1)
    console = Console(width=120)
    rows = []
    for number in track(range(asked.count), console=console, transient=True):
        with tempfile.TemporaryDirectory(prefix="draws-") as folder:
            rows.append(measured(make(draw_case(seed * 100_003 + number, "black"), Path(folder))))
    table = Table(title=f"The key on black, {asked.count} draws, seed {seed}: median / nine in ten / worst")
    for name in ("switched off", "MSE over the oracle's", "code where nothing is"):
        table.add_column(name, justify="left" if name == "switched off" else "right")
    for name in RULES:
        cells = []
        for k in (0, 1):
            values = np.array([row[name][k] for row in rows])
            ranks = np.percentile(values[~np.isnan(values)], (50, 90, 100))
            cells.append(" / ".join(f"{v:.2f}" for v in ranks))
        table.add_row(name, *cells)
    console.print(table)


if __name__ == "__main__":
    main()
