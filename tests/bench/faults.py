"""Makes everything fail that can fail while a command writes, and prints what was left each time.

Run by hand: ``python tests/bench/faults.py [--part PART ...] [--command NAME ...]``. The parts:

calls    each open, write, flush, rename and folder that Python makes fails once, with three errors
gone     the same, and all later calls fail too: a disk pulled out; the next run must mend it
kills    each ffmpeg is killed at five moments of its work
signals  SIGINT, SIGTERM and SIGKILL at 20 moments of a run; after SIGKILL the next run must mend it
disk     ffmpeg and we write to a disk that is too small (small disks are made only by root)

A row a run. Exit status 1 if any run ended in anything but old outputs or new ones, whole and of one
run, with one line said and nothing left behind.
"""

from __future__ import annotations

import argparse
import errno
import os
import signal
import sys
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path

from fault_disk import each_limit, each_small_disk, may_mount
from fault_grounds import grounds
from fault_kills import each_kill
from fault_runs import Ground, Outcome, each_fault
from fault_signals import STEPS, Signalled, each_signal, moments, run_time_s
from rich.console import Console
from rich.table import Table

PARTS = ("calls", "gone", "kills", "signals", "disk")
SENT = ("SIGINT", "SIGTERM", "SIGKILL")


def main() -> int:
    """Run by hand."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--part", choices=PARTS, action="append", help="all if left out")
    parser.add_argument("--command", action="append", help="all if left out (signals: make and make h264)")
    options = parser.parse_args()
    failed = 0
    console = Console(width=200, highlight=False)
    with tempfile.TemporaryDirectory(prefix="faults-") as folder:
        root = Path(folder)
        with redirect_stdout(StringIO()):
            every = grounds(root)
        for part in options.part or PARTS:
            wanted = options.command or (["make", "make h264"] if part == "signals" else list(every))
            for name in wanted:
                table = signals_table(name) if part == "signals" else outcomes_table(f"{name}: {part}")
                for one in runs(part, every[name], root):
                    failed += bool(one.fault)
                    add_row(table, one, folder)
                console.print(table)
    sys.stdout.write(f"{failed} faults\n")
    return int(failed > 0)


def runs(part: str, ground: Ground, root: Path) -> Iterator[Outcome | Signalled]:
    """Run all of one part on one ground."""
    if part == "calls":
        yield from each_fault(ground)
    elif part == "gone":
        yield from each_fault(ground, [errno.EIO], gone=True)
    elif part == "kills":
        yield from each_kill(ground)
    elif part == "signals":
        numbers = [getattr(signal, name) for name in SENT]
        yield from each_signal(ground, moments(run_time_s(ground), STEPS), numbers)
    else:
        yield from each_limit(ground, root, (0, 1, 4, 16, 64))
        if may_mount():
            yield from each_small_disk(ground)


def outcomes_table(title: str) -> Table:
    """Return an empty table of runs."""
    return _table(title, ("what failed", "where", "error", "status", "outputs", "what was said", "fault"))


def signals_table(title: str) -> Table:
    """Return an empty table of signals."""
    columns = (
        "sent",
        "at s",
        "status",
        "ended s",
        "children",
        "gone s",
        "outputs",
        "left behind",
        "said",
        "fault",
    )
    return _table(f"{title}: signals", columns)


def _table(title: str, columns: Iterable[str]) -> Table:
    table = Table(title=title, title_justify="left")
    for column in columns:
        table.add_column(column, overflow="fold")
    return table


def add_row(table: Table, one: Outcome | Signalled, folder: str) -> None:
    """Enter one run."""
    said = one.line.replace(str(Path(folder).resolve()), "")
    if isinstance(one, Outcome):
        number = "" if one.kind.startswith(("killed", "already")) else errno.errorcode.get(one.number, "")
        table.add_row(one.kind, one.where, number, str(one.status), one.left, said, one.fault)
    else:
        left = ", ".join(one.strangers)
        table.add_row(
            one.sent.name, f"{one.at_s:.2f}", str(one.status), f"{one.ended_s:.2f}", str(one.children),
            f"{one.children_ended_s:.2f}", one.left, left, said, one.fault,
        )  # fmt: skip


if __name__ == "__main__":
    if os.name != "posix":
        sys.exit("this bench needs a POSIX system")
    sys.exit(main())
