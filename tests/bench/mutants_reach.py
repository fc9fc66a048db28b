"""Which tests reach which line of the code, and how long each takes."""

from __future__ import annotations

import hashlib
import json
import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

import coverage

SECONDS = 25.0
"""So long the tests for one mistake may take together, the quickest first; those marked slow are left out."""
_TOOK = re.compile(r"^([\d.]+)s (?:call|setup)\s+(\S.*)$", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Reach:
    """The tests that reach each line, by file, and the seconds that each test takes."""

    lines: dict[str, dict[int, list[str]]]
    seconds: dict[str, float]
    sources: dict[str, str]
    """The text of each file of tests."""

    def tests(self, file: Path, line: int, *, once: bool) -> list[str]:
        """Return the tests that reach a line, the quickest first: one case of each, then the second ones, and so on.

        A line that is run once, at import or in a function that keeps its result, is reached by the tests of files
        that import it by name, and by those that reach any other line of its file.
        """
        by_line = self.lines.get(str(file), {})
        them = set(by_line.get(line, ()))
        if once or not them:
            module = ".".join(file.with_suffix("").parts)
            them |= {t for tests in by_line.values() for t in tests}
            them |= {name for name, text in self.sources.items() if f"{module} import" in text}
        seen: Counter[str] = Counter()
        turns = []
        for test in sorted(them, key=lambda test: (self.took(test), test)):
            name = test.split("[")[0]
            turns.append((seen[name], self.took(test), test))
            seen[name] += 1
        chosen, total = [], 0.0
        for _, _, test in sorted(turns):
            total += self.took(test)
            if chosen and total > SECONDS:
                break
            chosen.append(test)
        return chosen

    def took(self, test: str) -> float:
        """Return the seconds that a test, or a file of tests, took; what is too short to be told takes none."""
        if test in self.sources:
            return sum(took for name, took in self.seconds.items() if name.startswith(f"{test}::"))
        return self.seconds.get(test, 0.0)


def reach_of(
    tests: list[str], code: Iterable[Path], copy: Path, pytest: Callable[..., object], kept: Path
) -> Reach:
    """Return which lines each test reaches; only files of tests that are new or changed are run.

    What was measured stands in the file `kept`; a change of the code makes all of it void.
    """
    files = [f for t in tests for f in _files(copy / t)]
    now = {str(f.relative_to(copy)): _digest([f]) for f in files} | {"code": _digest(sorted(code))}
    old = json.loads(kept.read_text()) if kept.exists() else {"files": {}, "contexts": {}, "seconds": {}}
    same = old["files"].get("code") == now["code"]
    stays = {f for f, d in now.items() if same and old["files"].get(f) == d}
    contexts = {t: v for t, v in old["contexts"].items() if t.split("::")[0] in stays}
    seconds = {t: v for t, v in old["seconds"].items() if t.split("::")[0] in stays}
    if new := [f for f in now if f not in stays and f != "code"]:
        more, took = _measured(new, copy, pytest)
        contexts |= more
        seconds |= took
        kept.parent.mkdir(parents=True, exist_ok=True)
        kept.write_text(json.dumps({"files": now, "contexts": contexts, "seconds": seconds}))
    lines: dict[str, dict[int, list[str]]] = defaultdict(lambda: defaultdict(list))
    for test, reached in contexts.items():
        for file, numbers in reached.items():
            for number in numbers:
                lines[file][number].append(test)
    sources = {
        str(f.relative_to(copy)): f.read_text(encoding="utf-8") for f in files if f.name.startswith("test_")
    }
    return Reach(lines, seconds, sources)


def _measured(
    files: list[str], copy: Path, pytest: Callable[..., object]
) -> tuple[dict[str, dict[str, list[int]]], dict[str, float]]:
    data = copy / ".coverage"
    data.unlink(missing_ok=True)
    options = ["--cov=ghostprep", "--cov-context=test", "--cov-report=", "--durations=0", "-vv"]
    done = pytest([*files, *options], copy)
    measured = coverage.CoverageData(basename=str(data))
    measured.read()
    contexts: dict[str, dict[str, list[int]]] = defaultdict(dict)
    for file in measured.measured_files():
        name = str(Path(file).resolve().relative_to(copy.resolve()))
        for line, tests in measured.contexts_by_lineno(file).items():
            for test in {_whose(t) for t in tests if t}:
                contexts[test].setdefault(name, []).append(line)
    seconds: dict[str, float] = defaultdict(float)
    for took, test in _TOOK.findall(done.stdout):
        seconds[test] += float(took)
    return contexts, seconds


def _whose(context: str) -> str:
    """Return the test of a context; of what was made for it, and perhaps for others, the whole file of tests."""
    test, _, phase = context.partition("|")
    return test if phase == "run" else test.split("::")[0]


def _files(path: Path) -> list[Path]:
    if path.is_file():
        return [path]
    return sorted(path.rglob("test_*.py"))


def _digest(files: Iterable[Path]) -> str:
    digest = hashlib.sha256()
    for file in files:
        digest.update(file.read_bytes())
    return digest.hexdigest()
