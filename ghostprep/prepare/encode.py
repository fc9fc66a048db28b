"""Encodes the raster frames within the player's limits, attempt by attempt."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from ghostprep.clip import write_frames
from ghostprep.errors import JobError
from ghostprep.player import Attempt, RateControl, StreamFacts, measured, read_stream_facts
from ghostprep.prepare.prove import measure_black
from ghostprep.prepare.reel import Reel
from ghostprep.prepare.setup import Setup
from ghostprep.progress import Progress

Frame: TypeAlias = npt.NDArray[np.uint8]


def encode(part: Path, reel: Reel, setup: Setup, progress: Progress) -> StreamFacts:
    """Write the best file that the profile allows to `part`.

    Parameters
    ----------
    part : Path
        A temporary path with the container's ending.
    reel : Reel
    setup : Setup
    progress : Progress

    Returns
    -------
    StreamFacts
        Of the file as it lies at `part`.

    Raises
    ------
    JobError
        The encoder failed, or nothing stays within the limits.
    """

    def noted() -> Iterator[Frame]:
        for number, frame in enumerate(shown, 1):
            progress("encode", number, len(shown))
            yield frame

    profile, raster = setup.profile, setup.raster
    shown, rate = reel.frames, reel.rate
    control = RateControl(profile, raster, rate, len(shown), keyed=reel.keyed)
    attempt: Attempt | None = control.first()
    written = attempt
    while attempt is not None:
        facts = _write(part, noted(), attempt, raster, rate)
        written = attempt
        near = far = None
        if control.asks_for_black:
            shares = measure_black(part, shown, profile)
            near, far = shares.near, shares.far
        made = measured(facts, rate_kbps=profile.bits.rate_kbps, black_near=near, black_far=far)
        attempt = control.next(attempt, made)
    if control.best != written:
        facts = _write(part, noted(), control.best, raster, rate)
    return facts


def _write(
    part: Path, frames: Iterable[Frame], attempt: Attempt, raster: tuple[int, int], rate: Fraction
) -> StreamFacts:
    count = write_frames(
        part,
        attempt.prepared(frames),
        size=raster,
        rate=rate,
        arguments=attempt.arguments,
        pixels=attempt.pixels,
    )
    facts = read_stream_facts(part)
    if facts.frames != count:
        raise JobError(
            f"{count} frames went to the encoder, {facts.frames} are in the file",
            where=part.name,
            remedy="please report this with the clip's facts from ghostprep inspect",
        )
    return facts
