"""Decodes what is shown of a finished loop, once, and measures it."""

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
from ghostprep.errors import InputError
from ghostprep.eye.backdrop import Backdrop
from ghostprep.eye.page.sheets import Sheets, SheetWriter
from ghostprep.eye.report import FileRun, parts_of
from ghostprep.finding import Finding
from ghostprep.prepare.setup import seen_screen
from ghostprep.progress import Progress
from ghostprep.proof.flash import FlashProof
from ghostprep.proof.join import JoinMeter
from ghostprep.verdict import Proof

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


def watch(
    loop: Path, report: Mapping[str, Any], setting: Backdrop, facts: ClipFacts, progress: Progress
) -> Watched:
    """Decode what is shown of a loop and measure it; InputError: it holds no frame."""
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
    """Return the facts of a loop's file; InputError: it is no moving picture."""
    facts = probe(loop)
    if facts.still:
        raise InputError("is a still picture", where=str(loop), remedy="give the loop that make wrote")
    return facts
