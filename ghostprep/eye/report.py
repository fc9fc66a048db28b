"""What a finished loop's own report says of it: which frames are shown, and where the join is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from ghostprep.digest import sha256_of
from ghostprep.provenance import digest_in, report_beside, value_in

_DARK: Final = 6
"""Dark frames shown before and after each of several ghosts."""


@dataclass(frozen=True, slots=True)
class FileRun:
    """A run of frames of the file that is shown."""

    first: int
    stop: int
    """Its first frame, and the first after it."""
    name: str = ""
    """The ghost's, in a file with several; else empty."""


def parts_of(report: Mapping[str, Any]) -> list[FileRun]:
    """Return what of the file is shown: each ghost once, or one repeat; nothing where only decoding tells.

    A file may hold many repeats; they are exact, so one is enough.
    """
    if (schedule := value_in(report, "schedule", kind=dict)) is not None:
        first: dict[int, FileRun] = {}
        try:
            for one in schedule["appearances"]:
                number = int(one["ghost"])
                part = FileRun(
                    max(int(one["start"]) - _DARK, 0), int(one["stop"]) + _DARK, _name(report, number)
                )
                first.setdefault(number, part)
        except (KeyError, TypeError, ValueError):
            return []
        return sorted(first.values(), key=lambda part: part.first)
    once, whole = (value_in(report, part, "frames", kind=int) for part in ("loop", "output"))
    return [FileRun(0, once)] if once and whole and once > 0 and whole % once == 0 else []


def _name(report: Mapping[str, Any], number: int) -> str:
    """Return the name of a ghost's clip; its number where the report has none."""
    try:
        return str(report["ghosts"][number]["source"]["name"])
    except (KeyError, IndexError, TypeError):
        return f"ghost {number + 1}"


@dataclass(frozen=True, slots=True)
class Join:
    """Where the loop's end was made to meet its start."""

    steps: tuple[int, ...]
    """All steps (from a frame to the next one) that belong to joins, and the one across the file's end."""
    first: int
    last: int
    """The run of such steps with the largest one, cyclic."""


def find_join(report: Mapping[str, Any], steps: Sequence[float]) -> Join:
    """Return where the report says that the join is; the file's end where it says nothing."""
    count = len(steps)
    marked = [] if "schedule" in report else value_in(report, "loop", "join_steps", kind=list) or []
    joins = {step for step in marked if isinstance(step, int) and 0 <= step < count}
    of_join = joins or {count - 1}
    first = last = max(of_join, key=lambda step: steps[step])
    while (first - 1) % count in of_join and (first - 1) % count != last:
        first = (first - 1) % count
    while (last + 1) % count in of_join and (last + 1) % count != first:
        last = (last + 1) % count
    return Join(tuple(sorted(joins | {count - 1})), first, last)


def read_report(loop: Path) -> tuple[Mapping[str, Any], str]:
    """Return what `make` wrote about this very file, empty if nothing, and why what is there is not used."""
    path = loop.with_suffix(".json")
    report = report_beside(loop)
    if not report:
        wrong = "cannot be read as its report" if path.exists() else ""
    elif (digest := digest_in(report)) is None:
        wrong = "is no report of a loop"
    elif digest != sha256_of(loop):
        return {}, f"{path.name} is about another file: the loop was changed or replaced since"
    else:
        return report, ""
    return {}, f"{path.name} lies beside the loop and {wrong}" if wrong else ""
