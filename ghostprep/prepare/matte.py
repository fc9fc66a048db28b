"""A matte from elsewhere: a clip of the figure's coverage beside the clip, frame for frame."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Final

import numpy as np

from ghostprep.arrays import Frame
from ghostprep.clip import ClipFacts, probe, read_frames, write_frames
from ghostprep.clip.pixels import Pixels
from ghostprep.errors import InputError
from ghostprep.prepare.recipe import plain
from ghostprep.prepare.timeline import shown_at_ticks
from ghostprep.progress import Progress
from ghostprep.scratch import scratch_folder
from ghostprep.words import counted

_CODING: Final = 3
"""Codes by which lossy coding moves a matte's black and white: H.264 at crf 18 does so in flat parts."""

_GREY: Final = 64
"""Codes by which the channels of a grey picture differ at most, however it was coded."""
_NEXT: Final = 8
"""Of so many pixels across and down, one tells whether there is colour."""

_WHOLE: Final = ("-c:v", "ffv1", "-level", "3", "-slices", "8", "-pix_fmt", "bgra", "-f", "matroska")


@contextmanager
def with_matte(facts: ClipFacts, matte: Path, progress: Progress) -> Iterator[ClipFacts]:
    """Lay a matte beside its clip, as alpha, in a temporary file that lives while the block runs.

    Parameters
    ----------
    facts : ClipFacts
        Of the clip. Where its times are uneven, frames stand in for one another on an even clock.
    matte : Path
        A clip, or numbered pictures: grey, or with alpha, which then is the coverage.

    Raises
    ------
    InputError
        The matte has another shape or length than the clip, or is in colour, or the clip has an alpha of its
        own.
    """
    if facts.alpha != "none":
        raise InputError(
            "the clip has an alpha channel of its own, which says where the figure is",
            where="--matte",
            remedy="leave --matte out, or take a clip without alpha",
        )
    coverage = probe(matte)
    if coverage.size != facts.size:
        raise InputError(
            f"is {plain(coverage.size)}, and the clip is {plain(facts.size)}",
            where=str(matte),
            remedy="export the matte at the clip's own size",
        )
    with scratch_folder() as folder:
        joined = folder / "with_matte.mkv"
        write_frames(
            joined,
            shown_at_ticks(_joined(facts, coverage, progress), facts.rate, lambda: facts.last_s),
            size=facts.size,
            rate=facts.rate,
            arguments=_WHOLE,
            pixels="rgba",
        )
        yield replace(probe(joined, ours=True), alpha="straight")


def _joined(facts: ClipFacts, coverage: ClipFacts, progress: Progress) -> Iterator[tuple[Fraction, Frame]]:
    """Yield the clip's frames (h, w, 4) with their coverage as alpha, and the time of each."""
    count = 0
    pixels: Pixels = "rgb24" if coverage.alpha == "none" else "rgba"
    with read_frames(facts) as clip, read_frames(coverage, pixels=pixels) as mattes:
        for frame in clip:
            matte = next(mattes, None)
            if matte is None:
                raise _uneven(coverage, f"ends after {counted(count, 'frame')}, and the clip goes on")
            if coverage.alpha == "none" and np.ptp(matte[::_NEXT, ::_NEXT], axis=2).max() > _GREY:
                raise InputError(
                    "is in colour, and a matte is grey: white where the figure is",
                    where=str(coverage.path),
                    remedy="export the matte alone, or the figure with alpha",
                )
            yield clip.times[-1], np.dstack([frame, _levels(matte)])
            count += 1
            progress("matte", count, facts.frames)
        if next(mattes, None) is not None:
            raise _uneven(coverage, f"goes on after frame {count}, and the clip ends")


def _levels(matte: Frame) -> Frame:
    """Return the coverage (h, w) of a grey picture (h, w, 3), or of one with alpha (h, w, 4)."""
    grey = matte[..., -1].astype(np.float32)
    wide = (grey - _CODING) * np.float32(255 / (255 - 2 * _CODING))
    return np.asarray(np.clip(np.rint(wide), 0, 255), np.uint8)


def _uneven(coverage: ClipFacts, what: str) -> InputError:
    return InputError(what, where=str(coverage.path), remedy="export the matte frame for frame with the clip")
