"""What a drawing and a template cost: process CPU time of the whole command, run by hand.

python tests/bench/drawings.py [--out FOLDER] [--runs N]
"""

from __future__ import annotations

import argparse
import resource
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

from rich.console import Console
from rich.table import Table

from ghostprep.scene.starter import starter_text

RUN = "from ghostprep.cli import main; main()"


def cpu_seconds(arguments: list[str], folder: Path) -> float:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, "-c", RUN, *arguments], cwd=folder, check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path)
    parser.add_argument("--runs", type=int, default=8)
    options = parser.parse_args()
    folder = options.out or Path(tempfile.mkdtemp(prefix="drawings-"))
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "scene.toml").write_text(starter_text(), encoding="utf-8")
    ways = {
        "plan": [],
        **{f"--drawing .{k}": ["--drawing", f"scene.{k}", "--overwrite"] for k in ("svg", "pdf", "png")},
        "--template": ["--template", "parts.pdf", "--overwrite"],
    }
    found: dict[str, list[float]] = {name: [] for name in ways}
    for _ in range(options.runs):  # interleaved, so that whatever else runs here slows all alike
        for name, arguments in ways.items():
            found[name].append(cpu_seconds(["plan", "scene.toml", *arguments], folder))
    table = Table(title="Process CPU time of the whole command, s", title_justify="left", box=None)
    for column in ("command", "least", "median", "file, kB"):
        table.add_column(column)
    for name, seconds in found.items():
        file = folder / ways[name][1] if ways[name] else None
        size = f"{file.stat().st_size / 1000:.0f}" if file else ""
        table.add_row(name, f"{min(seconds):.2f}", f"{statistics.median(seconds):.2f}", size)
    console = Console()
    console.print(table)
    console.print(f"files in {folder}", markup=False)


if __name__ == "__main__":
    main()
