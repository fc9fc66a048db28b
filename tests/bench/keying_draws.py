"""The key on clips drawn at random: every run draws anew.

    python tests/bench/keying_draws.py [--count N] [--backing green|blue|hue|black|plate] [--seed N] [--only K] [--told] [--jobs N] [--out FOLDER]

Case K of a run follows from its seed and K alone: `--seed N --only K` (or `K,L,M`) draws it again, and with --out
writes its frame, truth, oracle, our figure, and our errors (six times). Ratios are to an oracle that knows coverage
and backing exactly, has the clip's noise, and leaves black where nothing is; see `scores`. With --told, cloths
that were taken wrong are told by --solid and --sheer, as somebody would who looks at what `inspect` says of them.
"""

from __future__ import annotations

import argparse
import secrets
import tempfile
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path

import cv2
import numpy as np
from draws_clips import BACKINGS, draw_case, make
from draws_figures import SOFT
from draws_scores import scores
from rich.console import Console
from rich.progress import track
from rich.table import Table

COLUMNS = ("mse", "edge", "back", "cloth", "faint", "flicker", "ms")
WORST = 6


def one_case(seed: int, number: int, backing: str, told: bool, out: Path | None) -> dict[str, object]:
    """Draw, key and measure one case."""
    cv2.setNumThreads(1)
    draw = draw_case(seed * 100_003 + number, backing)
    with tempfile.TemporaryDirectory(prefix="draws-") as folder:
        found = scores(make(draw, Path(folder)), told=told)
    pictures = found.pop("pictures")
    if out is not None:
        wrong = np.clip(np.abs(pictures[3].astype(int) - pictures[1]) * 6, 0, 255).astype(np.uint8)  # type: ignore[index]
        cv2.imwrite(str(out / f"{number}.png"), np.hstack([*pictures, wrong])[..., ::-1])  # type: ignore[misc]
    group = draw.backing
    if group == "black":
        # light that a camera added to a lifted black cannot be told from light added in codes
        group += f", soft in {draw.mix}" if draw.figure in SOFT else f", {draw.figure}"
    elif draw.figure == "photograph":
        group += ", photograph"
    return {"number": number, "backing": group, "draw": str(draw), **found}


def summary(rows: list[dict[str, object]]) -> Table:
    """Return median, nine in ten and worst of every measure, backing by backing."""
    table = Table(title="Median / nine in ten / worst; mse, edge and flicker over the oracle's")
    for name in ("backing", "draws", *COLUMNS):
        table.add_column(name, justify="left" if name == "backing" else "right")
    for backing in sorted({str(r["backing"]) for r in rows}):
        some = [r for r in rows if r["backing"] == backing]
        cells = []
        for name in COLUMNS:
            values = np.abs([float(r[name]) for r in some])  # type: ignore[arg-type]
            values = values[~np.isnan(values)]
            ranks = np.percentile(values, (50, 90, 100)) if len(values) else []
            cells.append(" / ".join(f"{v:.2f}" if name != "ms" else f"{v:.1f}" for v in ranks))
        table.add_row(backing, str(len(some)), *cells)
    return table


def worst(rows: list[dict[str, object]], seed: int) -> Table:
    """Return the draws to look at: the worst of each backing by MSE, and how they came out."""
    table = Table(title=f"The worst by MSE: draw one again with --seed {seed} --only NUMBER")
    for name in ("number", *COLUMNS, "told", "codes", "best", "draw"):
        table.add_column(name, justify="left" if name in ("told", "draw") else "right")
    for backing in sorted({str(r["backing"]) for r in rows}):
        some = sorted((r for r in rows if r["backing"] == backing), key=lambda r: -float(r["mse"]))  # type: ignore[arg-type]
        for r in some[:WORST]:
            cells = [f"{float(r[n]):.2f}" for n in COLUMNS]  # type: ignore[arg-type]
            cells += [str(r["told"]), f"{r['codes']:.2f}", f"{r['best']:.2f}", str(r["draw"])]
            table.add_row(str(r["number"]), *cells)
    return table


def main() -> None:
    """Run the bench."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--count", type=int, default=60, help="how many clips to draw")
    parser.add_argument("--backing", choices=BACKINGS, default="", help="only this backing")
    parser.add_argument("--seed", type=int, default=None, help="draw an earlier run again")
    parser.add_argument("--only", default="", help="only these numbers of the run, with commas")
    parser.add_argument("--told", action="store_true", help="tell the cloths that were taken wrong")
    parser.add_argument("--jobs", type=int, default=1, help="clips at the same time")
    parser.add_argument("--out", type=Path, default=None, help="folder for pictures of every draw")
    asked = parser.parse_args()
    seed = secrets.randbelow(1_000_000) if asked.seed is None else asked.seed
    numbers = [int(x) for x in asked.only.split(",")] if asked.only else range(asked.count)
    if asked.out is not None:
        asked.out.mkdir(parents=True, exist_ok=True)
    console = Console(width=240)
    console.print(f"seed {seed}")
    with ProcessPoolExecutor(asked.jobs) as pool:
        jobs = [pool.submit(one_case, seed, n, asked.backing, asked.told, asked.out) for n in numbers]
        rows = [
            job.result()
            for job in track(as_completed(jobs), total=len(jobs), console=console, transient=True)
        ]
    console.print(summary(rows))
    console.print(worst(rows, seed))


if __name__ == "__main__":
    main()
