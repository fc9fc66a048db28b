"""A few frames, evenly over the whole clip, small."""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from ghostprep.clip.facts import ClipFacts
from ghostprep.clip.read import read_frames
from ghostprep.clip.stream import Frame


class Glimpse(NamedTuple):
    """One frame and its time in seconds from the clip's first frame."""

    time: Fraction
    frame: Frame


def glance(facts: ClipFacts, count: int = 32, *, longest: int = 640) -> list[Glimpse]:
    """Take a few frames evenly over the whole clip.

    Parameters
    ----------
    facts : ClipFacts
        From `probe`.
    count : int
        At most so many frames.
    longest : int
        The longer side of what comes out is at most so many pixels.

    Returns
    -------
    list of Glimpse
        In order; frames (h, w, 3), or (h, w, 4) if the clip has alpha.
    """
    width, height = facts.size
    shrink = min(1.0, longest / max(width, height))
    size = max(round(width * shrink), 1), max(round(height * shrink), 1)
    expected = facts.frames or round((facts.duration_s or 1) * facts.rate)
    step = max(expected // count, 1)
    seen: list[Glimpse] = []
    with read_frames(
        facts, size=size, step=step, pixels="rgba" if facts.alpha != "none" else "rgb24"
    ) as frames:
        for frame in frames:
            seen.append(Glimpse(frames.times[-1], frame))
            if len(seen) > 2 * count:
                seen = seen[::2]
    if len(seen) > count:
        seen = [seen[i * len(seen) // count] for i in range(count)]
    return seen
