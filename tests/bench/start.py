"""How long the command line takes to start, beside a bare interpreter. Run: python tests/bench/start.py."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time

from rich.console import Console
from rich.table import Table

RUNS = 9
MAIN = "from ghostprep.cli import main; main()"
CASES = {
    "python alone": ["-c", "pass"],
    "ghostprep --help": ["-c", MAIN, "--help"],
    "ghostprep make --help": ["-c", MAIN, "make", "--help"],
    "ghostprep plan --help": ["-c", MAIN, "plan", "--help"],
    "ghostprep players": ["-c", MAIN, "players"],
}


def once(arguments: list[str]) -> float:
    begin = time.perf_counter()
    subprocess.run([sys.executable, *arguments], capture_output=True, check=True)
    return time.perf_counter() - begin


def main() -> None:
    times: dict[str, list[float]] = {name: [] for name in CASES}
    for _ in range(RUNS):  # in turn, so that all see the same machine
        for name, arguments in CASES.items():
            times[name].append(once(arguments))
    table = Table(title=f"Time to start, seconds, {RUNS} runs in turn", title_justify="left", box=None)
    for column in ("command", "least", "median"):
        table.add_column(column, justify="left" if column == "command" else "right")
    for name, found in times.items():
        table.add_row(name, f"{min(found):.3f}", f"{statistics.median(found):.3f}")
    Console().print(table)


if __name__ == "__main__":
    main()
