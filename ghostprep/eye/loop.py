"""Which frames of a finished loop are shown, decoded once, and what its preview shows of them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from ghostprep.arrays import Frame, Mask
from ghostprep.black import LIT_CODE
from ghostprep.channels import largest_channel
from ghostprep.clip import ClipFacts, probe, read_frames
from ghostprep.digest import sha256_of
from ghostprep.errors import InputError
from ghostprep.eye.backdrop import Backdrop
from ghostprep.eye.page.sheets import Sheets, SheetWriter
from ghostprep.finding import Finding
from ghostprep.prepare.setup import seen_screen
from ghostprep.progress import Progress
from ghostprep.proof.flash import FlashProof
from ghostprep.proof.join import JoinMeter
from ghostprep.provenance import digest_in, report_beside, value_in
from ghostprep.verdict import Proof

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


_MOST_FRAMES: Final = 1800
"""A browser cannot hold many more; of longer loops every second (third ...) frame is shown."""


@dataclass(frozen=True, slots=True, eq=False)
class Watched:
    """A loop as decoded."""

    facts: ClipFacts
    frames: int
    """That were looked at: of one repeat, or of one appearance of each ghost."""
    every: int
    """The page shows each frame whose number is a multiple of this."""
    parts: tuple[FileRun, ...]
    sheets: Sheets
    lit: tuple[float, float, float, float]
    """The part of the raster that is ever lit, as shares: left, top, right, bottom."""
    steps: tuple[float, ...]
    """RMS steps, cyclic."""
    best: Frame
    """(h, w, 3): the frame with the most light: a good still."""
    proofs: tuple[Proof, ...]
    findings: tuple[Finding, ...]
    """What could be measured on the file alone."""

    @property
    def ghosts(self) -> list[FileRun]:
        """The appearances of several ghosts; none for a loop."""
        return [part for part in self.parts if part.name]

    def usual(self, inside: Sequence[int]) -> float:
        """Return the 95th percentile of the steps outside the join."""
        elsewhere = np.delete(np.asarray(self.steps), list(inside))
        return float(np.quantile(elsewhere, 0.95)) if len(elsewhere) else 0.0


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


def watch(
    loop: Path, report: Mapping[str, Any], setting: Backdrop, facts: ClipFacts, progress: Progress
) -> Watched:
    """Decode what is shown of a loop and measure it.

    Raises
    ------
    InputError
        It holds no frame.
    JobError
        The decoder failed.
    """
    parts = parts_of(report)
    end = max((part.stop for part in parts), default=None)
    expected = end or facts.about_frames
    wanted = sum(part.stop - part.first for part in parts) or expected
    every = max(math.ceil(wanted / _MOST_FRAMES), 1)
    writer, join = SheetWriter(facts.size), JoinMeter(())
    flash = FlashProof(facts.size, facts.rate, None if setting.assumed else seen_screen(setting.plan))
    wide, high = facts.size
    lit, best = np.zeros((high, wide), np.bool_), np.zeros((high, wide, 3), np.uint8)
    most, kept = -1, 0
    with read_frames(facts, stop=end) as stream:
        for number, frame in enumerate(stream):
            progress("look", number + 1, expected or None)
            flash.add(frame)
            if parts and not any(part.first <= number < part.stop for part in parts):
                continue
            join.add(frame)
            lit |= largest_channel(frame) >= LIT_CODE
            light = int(frame.sum(dtype=np.int64))
            if light > most:
                best, most = frame.copy(), light
            if kept % every == 0:
                writer.add(frame)
            kept += 1
    if not kept:
        raise InputError("holds no frame", where=str(loop), remedy="make the loop again")
    return Watched(
        facts=facts,
        frames=kept,
        every=every,
        parts=tuple(parts) or (FileRun(0, kept),),
        sheets=writer.finish(),
        lit=_bounds(lit),
        steps=tuple(join.steps),
        best=best,
        proofs=tuple(flash.proofs()),
        findings=tuple(flash.findings()),
    )


def _bounds(lit: Mask) -> tuple[float, float, float, float]:
    rows, columns = np.flatnonzero(lit.any(axis=1)), np.flatnonzero(lit.any(axis=0))
    if not len(rows):
        return 0.0, 0.0, 1.0, 1.0
    high, wide = lit.shape
    return columns[0] / wide, rows[0] / high, (columns[-1] + 1) / wide, (rows[-1] + 1) / high


def open_loop(loop: Path) -> ClipFacts:
    """Return the facts of a loop's file.

    Raises
    ------
    InputError
        It is no moving picture.
    """
    facts = probe(loop)
    if facts.still:
        raise InputError("is a still picture", where=str(loop), remedy="give the loop that make wrote")
    return facts
