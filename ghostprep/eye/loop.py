"""Decodes a finished loop once and measures what its preview shows."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Frame
from ghostprep.black import LIT_CODE
from ghostprep.channels import largest_channel
from ghostprep.clip import ClipFacts, probe, read_frames
from ghostprep.digest import sha256_of
from ghostprep.errors import InputError
from ghostprep.eye.join import FileRun, parts_of
from ghostprep.eye.page import Sheets, SheetWriter
from ghostprep.eye.setting import Backdrop
from ghostprep.finding import Finding
from ghostprep.progress import Progress
from ghostprep.proof.flash import FlashProof
from ghostprep.proof.join import JoinMeter
from ghostprep.provenance import report_beside, told_digest
from ghostprep.verdict import Proof

_MOST_FRAMES: Final = 1800
"""A browser cannot hold many more; of longer loops every second (third ...) frame is shown."""


@dataclass(frozen=True, slots=True, eq=False)
class Watched:
    """A loop as decoded.

    Attributes
    ----------
    frames : int
        That were looked at: of one repeat, or of one appearance of each ghost.
    every : int
        Only every so-manyth of them is in the page.
    lit : tuple of float
        The part of the raster that is ever lit, as shares: left, top, right, bottom.
    steps : tuple of float
        RMS steps, cyclic.
    best : ndarray of uint8 (h, w, 3)
        The frame with the most light: a good still.
    proofs, findings : tuple
        What could be measured on the file alone.
    """

    facts: ClipFacts
    frames: int
    every: int
    parts: tuple[FileRun, ...]
    sheets: Sheets
    lit: tuple[float, float, float, float]
    steps: tuple[float, ...]
    best: Frame
    proofs: tuple[Proof, ...]
    findings: tuple[Finding, ...]

    def usual(self, inside: Sequence[int]) -> float:
        """Return the 95th percentile of the steps outside the join."""
        elsewhere = np.delete(np.asarray(self.steps), list(inside))
        return float(np.quantile(elsewhere, 0.95)) if len(elsewhere) else 0.0


def read_report(loop: Path) -> tuple[Mapping[str, Any], str]:
    """Return what `make` wrote beside a loop, and why it is not used where one lies there.

    Returns
    -------
    report : mapping
        Empty if there is none about this very file.
    trouble : str
        One sentence; empty where the report is used or none is there.
    """
    path = loop.with_suffix(".json")
    report = report_beside(loop)
    if not report:
        return (
            {},
            f"{path.name} lies beside the loop and cannot be read as its report" if path.exists() else "",
        )
    told = told_digest(report)
    if told is None:
        return {}, f"{path.name} lies beside the loop and is no report of a loop"
    if told != sha256_of(loop):
        return (
            {},
            f"{path.name} is about another file: the loop was changed or replaced since",
        )
    return report, ""


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
    expected = end or facts.frames or round((facts.duration_s or 0) * facts.rate)
    wanted = sum(part.stop - part.first for part in parts) or expected
    every = max(math.ceil(wanted / _MOST_FRAMES), 1)
    writer, join = SheetWriter(facts.size), JoinMeter(())
    flash = _flash(facts, setting)
    lit = np.zeros((facts.size[1], facts.size[0]), np.bool_)
    best, most, kept = np.zeros((facts.size[1], facts.size[0], 3), np.uint8), -1, 0
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


def _flash(facts: ClipFacts, setting: Backdrop) -> FlashProof:
    if setting.assumed:
        return FlashProof(facts.size, facts.rate)
    plan = setting.plan
    return FlashProof(
        facts.size,
        facts.rate,
        screen_mm=plan.scene.screen.active,
        distance_mm=float(np.linalg.norm(plan.layout.ghost - plan.layout.eye)),
        white_cd_m2=plan.light.ghost,
    )


def _bounds(lit: npt.NDArray[np.bool_]) -> tuple[float, float, float, float]:
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


def rate_words(rate: Fraction) -> str:
    """Return a rate as people write it."""
    return f"{float(rate):.4g} fps"
