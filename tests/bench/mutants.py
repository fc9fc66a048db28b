"""How many small mistakes in the code do a room's own tests notice?

Mistakes are drawn anew at each run over all rooms (the seed is printed): a comparison turned round or moved to
its boundary, a number a third larger (a small count: one more; a limit of the key: three times), an operator swapped, a condition
negated, a call left out. Each is made alone in a copy of the project; of the room's own tests those run that reach the changed line.

    python tests/bench/mutants.py --count 160 [--room optics] [--seed 7] [--only 12] [--jobs 2]

A line's tests are run the quickest first, further cases of the same test later, a minute of them at most; those marked slow
are left out.
What is drawn, and what is not, says `mutants_draw.py`. Of a kept seed the same mistakes are drawn as long as the code stays
the same. Which tests reach which lines is measured once, and again where tests or the code that they reach have changed.
Each run is a fork of a process that has the libraries loaded, so this bench runs on Linux and macOS.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import random
import re
import tempfile
import time
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

from mutants_draw import Mistake, mistakes_in
from mutants_reach import Reach, reach_of
from mutants_run import load_libraries, make_copy, run

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "ghostprep"
TIMES, START = 5, 30
"""Tests that with a mistake take so many times their own seconds, and these to start, hang, which is noticed."""
ELSEWHERE = {"test_readme.py", "test_house.py"}
"""Tests of the project as a whole, which are no room's own."""


def rooms() -> dict[str, list[Path]]:
    """Return the files of each room; the small files beside the rooms are one room, `beside`."""
    found = {
        p.name: sorted(p.rglob("*.py")) for p in sorted(PACKAGE.iterdir()) if (p / "__init__.py").exists()
    }
    return found | {"beside": sorted(PACKAGE.glob("*.py"))}


def tests_of(room: str) -> list[str]:
    """Return the room's own tests; a command's also stand in the room of what it does."""
    if room == "cli":
        calls = (
            p
            for p in (ROOT / "tests").glob("*/test_*.py")
            if re.search(r"^from ghostprep\.cli[. ]", p.read_text("utf-8"), re.MULTILINE)
        )
        return sorted(str(p.relative_to(ROOT)) for p in calls)
    if (ROOT / "tests" / room).is_dir():
        return [f"tests/{room}", *_with_examples((PACKAGE / room).rglob("*.py"))]
    if room != "beside":
        return [f"tests/test_{room}.py", *_with_examples((PACKAGE / room).rglob("*.py"))]
    alone = [p for p in (ROOT / "tests").glob("test_*.py") if p.name not in ELSEWHERE]
    return [
        *sorted(str(p.relative_to(ROOT)) for p in alone),
        *_with_examples(PACKAGE.glob("*.py")),
        "tests/faults",
    ]


def _with_examples(files: Iterable[Path]) -> list[str]:
    return sorted(str(p.relative_to(ROOT)) for p in files if ">>>" in p.read_text(encoding="utf-8"))


def draw(count: int, only: str | None, dice: random.Random) -> list[Mistake]:
    """Draw mistakes over the rooms, a room with more places getting more, none fewer than four."""
    places = {room: [m for file in files for m in mistakes_in(file)] for room, files in rooms().items()}
    places = {room: them for room, them in places.items() if them and only in {None, room}}
    total = sum(map(len, places.values()))
    drawn = []
    for room, them in places.items():
        share = min(max(4, round(count * len(them) / total)), len(them))
        drawn += [m.of(room) for m in dice.sample(them, share)]
    return drawn


def noticed(mistake: Mistake, reach: Reach, copy: Path) -> str:
    """Make one mistake in the copy and return which test noticed it; "" if none did."""
    tests = reach.tests(mistake.file.relative_to(ROOT), mistake.line, once=mistake.once)
    if not tests:
        return ""
    file = copy / mistake.file.relative_to(ROOT)
    right = file.read_text(encoding="utf-8")
    file.write_text(mistake.apply(right), encoding="utf-8")
    try:
        done = run([*tests, "-x"], copy, timeout=START + TIMES * sum(map(reach.took, tests)))
    finally:
        file.write_text(right, encoding="utf-8")
    if done.code == 0:
        return ""
    failed = [line for line in done.text.splitlines() if line.startswith(("FAILED", "ERROR"))]
    if done.code is None:
        return "it hangs"
    return failed[0].split(" - ")[0] if failed else f"exit {done.code}"


class Worker:
    """One of the processes that make mistakes, each in its own copy of the project."""

    copy: Path
    kept: Path

    @classmethod
    def start(cls, folder: Path, kept: Path) -> None:
        """Make this process' copy."""
        cls.copy, cls.kept = make_copy(ROOT, folder / str(os.getpid())), kept

    @classmethod
    def reach(cls, room: str) -> tuple[str, Reach]:
        """Return what the tests of a room reach."""
        return room, reach_of(tests_of(room), cls.copy, run, cls.kept)

    @classmethod
    def notice(cls, job: tuple[int, Mistake, Reach]) -> tuple[int, Mistake, str]:
        """Return which test notices a mistake."""
        number, mistake, reach = job
        return number, mistake, noticed(mistake, reach, cls.copy)


def main() -> None:
    """Draw, make and count mistakes; name those that nothing noticed."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--count", type=int, default=160)
    parser.add_argument("--room", help="only this room")
    parser.add_argument("--seed", type=int, default=int(time.time()))
    parser.add_argument(
        "--keep",
        type=Path,
        default=Path(tempfile.gettempdir()) / "ghostprep-mutants",
        help="where it stays which test reaches which line, so that the next run need not measure it again",
    )
    parser.add_argument("--jobs", type=int, default=1, help="so many mistakes at a time")
    parser.add_argument("--only", type=int, help="only the mistake of this number")
    chosen = parser.parse_args()
    print(f"seed {chosen.seed}")
    drawn = draw(chosen.count, chosen.room, random.Random(chosen.seed))
    load_libraries()
    seen: Counter[str] = Counter()
    made: Counter[str] = Counter()
    forked = multiprocessing.get_context("fork")
    with (
        tempfile.TemporaryDirectory() as folder,
        forked.Pool(chosen.jobs, Worker.start, (Path(folder), chosen.keep)) as pool,
    ):
        mistakes = [(n, m) for n, m in enumerate(drawn) if chosen.only in {None, n}]
        reaches = dict(pool.imap_unordered(Worker.reach, dict.fromkeys(m.room for _, m in mistakes)))
        jobs = ((n, m, reaches[m.room].near(m.file.relative_to(ROOT))) for n, m in mistakes)
        for number, mistake, by in pool.imap(Worker.notice, jobs):
            made[mistake.room] += 1
            seen[mistake.room] += bool(by)
            if not by:
                print(f"{number:4} NOT NOTICED {mistake}", flush=True)
            elif chosen.only is not None:
                print(f"{number:4} {mistake}: {by}")
    print(f"\n{'room':<10} noticed of made")
    for room in made:
        print(f"{room:<10} {seen[room]:3} of {made[room]:3}  {seen[room] / made[room]:.0%}")
    print(f"{'all':<10} {seen.total():3} of {made.total():3}  {seen.total() / max(made.total(), 1):.0%}")


if __name__ == "__main__":
    main()
