"""Which tests reach which line of the code."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import coverage

MOST = 40
"""Tests that are run for one mistake, those that reach the fewest lines first: they are the ones about it."""


@dataclass(frozen=True, slots=True)
class Reach:
    """The tests that reach each line, by file."""

    lines: dict[str, dict[int, list[str]]]
    breadth: dict[str, int]

    def tests(self, file: Path, line: int) -> list[str]:
        """Return the tests that reach a line; for a line that is run at import, those that reach the file."""
        by_line = self.lines.get(str(file), {})
        them = by_line.get(line) or sorted({t for tests in by_line.values() for t in tests})
        return sorted(them, key=lambda test: self.breadth[test])[:MOST]


def reach_of(tests: list[str], copy: Path, pytest: Callable[[list[str], Path], object]) -> Reach:
    """Run the tests once and return which lines each reaches."""
    there = [t for t in tests if (copy / t).exists()]
    data = copy / ".coverage"
    data.unlink(missing_ok=True)
    pytest([*there, "-n", "2", "--cov=ghostprep", "--cov-context=test", "--cov-report="], copy)
    measured = coverage.CoverageData(basename=str(data))
    measured.read()
    lines: dict[str, dict[int, list[str]]] = {}
    breadth: defaultdict[str, int] = defaultdict(int)
    for file in measured.measured_files():
        by_line: dict[int, list[str]] = {}
        for line, contexts in measured.contexts_by_lineno(file).items():
            them = sorted({c.split("|")[0] for c in contexts if c})
            if them:
                by_line[line] = them
            for test in them:
                breadth[test] += 1
        lines[str(Path(file).resolve().relative_to(copy.resolve()))] = by_line
    return Reach(lines, breadth)
