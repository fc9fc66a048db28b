"""Which tests reach which line of the code, and how long each takes."""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path

import coverage
from mutants_run import Done

SECONDS = 60.0
"""So long the tests for one mistake may take together, the quickest first; those marked slow are left out."""
AT_IMPORT = ""
"""What stands in a test's place for a line that is run where a file is loaded, before any test."""
_FAILED = re.compile(r"^(?:FAILED|ERROR) (\S+)", re.MULTILINE)
_IMPORTED = re.compile(r"^from (ghostprep\.[\w.]+) import", re.MULTILINE)
_TOOK = re.compile(r"^([\d.]+)s (?:call|setup)\s+(\S.*)$", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Reach:
    """The tests that reach each line, by file, and the seconds that each test takes."""

    lines: dict[str, dict[int, list[str]]]
    seconds: dict[str, float]
    sources: dict[str, str]
    """The text of each file of tests."""
    importers: dict[str, list[str]]
    """The files of the same room that import each file of the code by name."""

    def tests(self, file: Path, line: int, *, once: bool) -> list[str]:
        """Return the tests that reach a line, the quickest first, further cases of the same test later.

        A line that is run once, at import or in a function that keeps its result, is reached by the tests of files
        that import it by name, by those that reach any other line of its file, and by both of files of the room that
        import it: a table of constants is read there.
        """
        them = set(self.lines.get(str(file), {}).get(line, ()))
        if once or not them or AT_IMPORT in them:
            for one in (str(file), *self.importers.get(str(file), ())):
                module = one.removesuffix(".py").replace("/", ".")
                them |= {t for tests in self.lines.get(one, {}).values() for t in tests}
                them |= {name for name, text in self.sources.items() if f"{module} import" in text}
        them.discard(AT_IMPORT)
        seen: Counter[str] = Counter()
        turns = []
        for test in sorted(them, key=lambda test: (self.took(test), test)):
            name = test.split("[")[0]
            seen[name] += 1
            # each further case of a test waits as if it took that much longer
            turns.append((seen[name] * self.took(test), seen[name], test))
        chosen, total = [], 0.0
        for _, _, test in sorted(turns):
            total += self.took(test)
            if chosen and total > SECONDS:
                break
            chosen.append(test)
        return chosen

    def near(self, file: Path) -> Reach:
        """Return only what reaches one file, to be sent to another process."""
        names = (str(file), *self.importers.get(str(file), ()))
        return replace(self, lines={name: self.lines.get(name, {}) for name in names})

    def took(self, test: str) -> float:
        """Return the seconds that a test, or a file of tests, took; what is too short to be told takes none."""
        if test in self.sources:
            return sum(took for name, took in self.seconds.items() if name.startswith(f"{test}::"))
        return self.seconds.get(test, 0.0)


def reach_of(tests: list[str], copy: Path, run: Callable[[list[str], Path], Done], kept: Path) -> Reach:
    """Return which lines each test reaches.

    What was measured of each file of tests stands in the folder `kept`, for every room that it belongs to; those run
    anew that have changed, or reach a file of the code that has.
    """
    files = [f for t in tests for f in _files(copy / t)]
    names = [str(f.relative_to(copy)) for f in files]
    known = {name: found for name in names if (found := _recalled(kept, name, copy)) is not None}
    if new := [name for name in names if name not in known]:
        known |= _measured(new, copy, run)
        for name in new:
            _keep(kept, name, known[name])
    lines: dict[str, dict[int, list[str]]] = defaultdict(lambda: defaultdict(list))
    for it in known.values():
        for test, reached in it.contexts.items():
            for file, numbers in reached.items():
                for number in numbers:
                    lines[file][number].append(test)
    sources = {name: f.read_text(encoding="utf-8") for name, f in zip(names, files, strict=True)}
    return Reach(
        {file: dict(numbers) for file, numbers in lines.items()},
        {test: took for it in known.values() for test, took in it.seconds.items()},
        {name: text for name, text in sources.items() if Path(name).name.startswith("test_")},
        _importers(copy),
    )


def _importers(copy: Path) -> dict[str, list[str]]:
    found: dict[str, list[str]] = defaultdict(list)
    for path in sorted((copy / "ghostprep").glob("*/**/*.py")):
        importer = path.relative_to(copy)
        for module in _IMPORTED.findall(path.read_text(encoding="utf-8")):
            imported = Path(*module.split(".")).with_suffix(".py")
            if imported.parts[:2] == importer.parts[:2]:
                found[str(imported)].append(str(importer))
    return dict(found)


@dataclass(slots=True)
class _Measured:
    """What one file of tests reached, and what of."""

    made_from: dict[str, str] = field(default_factory=dict)
    contexts: dict[str, dict[str, list[int]]] = field(default_factory=dict)
    seconds: dict[str, float] = field(default_factory=dict)


def _recalled(kept: Path, name: str, copy: Path) -> _Measured | None:
    path = kept / f"{name.replace('/', '.')}.json"
    if not path.exists():
        return None
    found = _Measured(**json.loads(path.read_text(encoding="utf-8")))
    return found if found.made_from == _digests(found.made_from, copy) else None


def _keep(kept: Path, name: str, measured: _Measured) -> None:
    kept.mkdir(parents=True, exist_ok=True)
    part = kept / f"{os.getpid()}.part"
    part.write_text(json.dumps(asdict(measured)), encoding="utf-8")
    part.replace(kept / f"{name.replace('/', '.')}.json")


def _measured(files: list[str], copy: Path, run: Callable[[list[str], Path], Done]) -> dict[str, _Measured]:
    data = copy / ".coverage"
    data.unlink(missing_ok=True)
    options = ["--cov=ghostprep", "--cov-context=test", "--cov-report=", "--durations=0", "-vv"]
    done = run([*files, *options], copy)
    if done.code not in {0, 1}:
        raise RuntimeError(f"the tests cannot be run:\n{done.text[-4000:]}")
    fail = set(_FAILED.findall(done.text))
    for test in sorted(fail):
        print(f"{test} fails without any mistake: left out", flush=True)
    measured = coverage.CoverageData(basename=str(data))
    measured.read()
    found = {name: _Measured() for name in files}
    for file in measured.measured_files():
        name = str(Path(file).resolve().relative_to(copy.resolve()))
        for line, tests in measured.contexts_by_lineno(file).items():
            for test in {_whose(t) for t in tests if t} - fail:
                of = found[test.split("::")[0]]
                of.contexts.setdefault(test, {}).setdefault(name, []).append(line)
            for of in found.values() if AT_IMPORT in tests else ():
                of.contexts.setdefault(AT_IMPORT, {}).setdefault(name, []).append(line)
    for took, test in _TOOK.findall(done.text):
        seconds = found[test.split("::")[0]].seconds
        seconds[test] = seconds.get(test, 0.0) + float(took)
    for name, it in found.items():
        reached = {file for test, files in it.contexts.items() if test != AT_IMPORT for file in files}
        it.made_from = _digests([name, *sorted(reached)], copy)
    return found


def _whose(context: str) -> str:
    """Return the test of a context; of what was made for it, and perhaps for others, the whole file of tests."""
    test, _, phase = context.partition("|")
    return test if phase == "run" else test.split("::")[0]


def _files(path: Path) -> list[Path]:
    if path.is_file():
        return [path]
    return sorted(path.rglob("test_*.py"))


def _digests(files: Iterable[str], copy: Path) -> dict[str, str]:
    return {
        file: hashlib.sha256((copy / file).read_bytes()).hexdigest()
        for file in files
        if (copy / file).is_file()
    }
