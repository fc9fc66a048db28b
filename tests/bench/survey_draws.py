"""The survey's rough key on clips drawn at random: the figure's box against the truth, beside the full key's.

    python tests/bench/survey_draws.py [--count N] [--backing green|blue|hue|black|plate] [--seed N]

Every run draws anew; `--seed` draws a run again. The full key works at 320 pixels, the rough one at what the survey
uses. Errors are in percent of the figure's true height: of its height, of the row of its feet, of its middle (median
over the frames), and how far the figure reaches past the box that is cut for it (`lost`, with the fit's margin).
"""

from __future__ import annotations

import argparse
import secrets
import tempfile
import time
from pathlib import Path

import cv2
import numpy as np
from draws_clips import Shot, draw_case, make
from rich.console import Console
from rich.table import Table

from ghostprep.box import small_size
from ghostprep.picture import Keyed, Keyer, learn_key
from ghostprep.prepare.begin import SEEN_PX
from ghostprep.prepare.figure import Measures, measured

FULL_PX = 320
MARGIN = 0.04
COLUMNS = ("height %", "feet %", "middle %", "lost %", "ms")


def boxes(shot: Shot, keyer: Keyer, longest: int) -> tuple[Measures, float]:
    """Return what a key sees in each frame, and its milliseconds a frame, measuring included."""
    full = shot.draw.size
    size = small_size(full, longest)
    small = [np.asarray(cv2.resize(f, size, interpolation=cv2.INTER_AREA), np.uint8) for f in shot.frames]
    begun = time.process_time()
    on_black = shot.draw.backing == "black"
    rows = [measured(keyer(frame), full, on_black=on_black) for frame in small]
    return Measures.of(rows), (time.process_time() - begun) / len(small) * 1000


def true_boxes(shot: Shot) -> Measures:
    """Return the same of the truth itself."""
    matte = (shot.alpha * 255).astype(np.uint8)
    return Measures.of(
        [
            measured(Keyed(figure, alpha), shot.draw.size)
            for figure, alpha in zip(shot.truth, matte, strict=True)
        ]
    )


def errors(found: Measures, true: Measures, size: tuple[int, int], took: float) -> list[float]:
    """Return a row of the table."""
    ours, wanted = found.body(size), true.body(size)
    if wanted is None:
        return [np.nan] * 4 + [took]
    if ours is None:
        return [100.0] * 4 + [took]
    cut = ours.reach.grown(round(MARGIN * ours.reach.height) + 1)
    reach = wanted.reach
    lost = max(cut.x - reach.x, cut.y - reach.y, reach.right - cut.right, reach.bottom - cut.bottom, 0)
    apart = (ours.height - wanted.height, ours.feet[1] - wanted.feet[1], ours.feet[0] - wanted.feet[0], lost)
    return [100 * abs(x) / wanted.height for x in apart] + [took]


def main() -> None:
    """Run by hand."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=40)
    parser.add_argument("--backing", default="")
    parser.add_argument("--seed", type=int, default=secrets.randbelow(1 << 20))
    given = parser.parse_args()
    cv2.setNumThreads(1)
    rows: dict[tuple[str, str], list[list[float]]] = {}
    with tempfile.TemporaryDirectory(prefix="ghostprep-bench-") as folder:
        for number in range(given.count):
            shot = make(draw_case(given.seed * 100_003 + number, given.backing), Path(folder))
            full = shot.draw.size
            plate = shot.plate.clip(0, 255).astype(np.uint8) if shot.draw.given else None
            key = learn_key(list(shot.frames[:: max(len(shot.frames) // 12, 1)]), plate=plate)
            if key.backing.kind == "none":
                continue
            true = true_boxes(shot)
            keyers = (
                (f"full, {FULL_PX} px", key.at(None, full, small_size(full, FULL_PX)), FULL_PX),
                (f"rough, {SEEN_PX} px", key.rough(full, small_size(full, SEEN_PX)), SEEN_PX),
            )
            for name, keyer, longest in keyers:
                found, took = boxes(shot, keyer, longest)
                rows.setdefault((shot.draw.backing, name), []).append(errors(found, true, full, took))
    table = Table(title=f"seed {given.seed}: median / nine in ten / worst", title_justify="left", box=None)
    for column in ("backing", "key", "clips", *COLUMNS):
        table.add_column(column, justify="left" if column in ("backing", "key") else "right")
    for (backing, name), found_rows in sorted(rows.items()):
        ranks = np.nanpercentile(np.array(found_rows), (50, 90, 100), axis=0).T
        cells = (" / ".join(f"{value:.1f}" for value in each) for each in ranks)
        table.add_row(backing, name, str(len(found_rows)), *cells)
    Console(width=130).print(table)


if __name__ == "__main__":
    main()
