"""Carries out one attempt of the encoder: a file is written, and read again."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path

from ghostprep.arrays import Frame
from ghostprep.clip import write_frames
from ghostprep.errors import JobError
from ghostprep.player.attempt import Attempt
from ghostprep.player.read import StreamFacts, read_stream_facts


def carry_out(
    attempt: Attempt, path: Path, frames: Iterable[Frame], *, raster: tuple[int, int], rate: Fraction
) -> StreamFacts:
    """Write frames as an attempt says, in its own kind of pixels, and return what the file says of itself.

    Raises
    ------
    JobError
        The encoder failed, or the file does not hold as many frames as went in.
    """
    count = write_frames(
        path, frames, size=raster, rate=rate, arguments=attempt.arguments, pixels=attempt.pixels
    )
    facts = read_stream_facts(path)
    if facts.frames != count:
        raise JobError(
            f"{count} frames went to the encoder, {facts.frames} are in the file",
            where=path.name,
            remedy="please report this with what the same command prints with --json",
        )
    return facts
