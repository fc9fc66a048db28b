"""Which frames of a file are shown, and where its join lies, by the report of `make`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

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
    schedule = report.get("schedule")
    if isinstance(schedule, dict):
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
    loop, output = report.get("loop"), report.get("output")
    told = loop.get("frames") if isinstance(loop, dict) else None
    whole = output.get("frames") if isinstance(output, dict) else None
    if isinstance(told, int) and isinstance(whole, int) and told > 0 and whole % told == 0:
        return [FileRun(0, told)]
    return []


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
    loop = {} if "schedule" in report else report.get("loop")
    told = loop.get("join_steps") if isinstance(loop, dict) else None
    joins = {s for s in told if isinstance(s, int) and 0 <= s < count} if isinstance(told, list) else set()
    of_join = joins or {count - 1}
    first = last = max(of_join, key=lambda step: steps[step])
    while (first - 1) % count in of_join and (first - 1) % count != last:
        first = (first - 1) % count
    while (last + 1) % count in of_join and (last + 1) % count != first:
        last = (last + 1) % count
    return Join(tuple(sorted(joins | {count - 1})), first, last)
