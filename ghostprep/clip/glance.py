"""A few frames, evenly over the whole clip, small."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from typing import Final, NamedTuple

from ghostprep.clip.facts import ClipFacts
from ghostprep.clip.read import INDEXED, read_frames
from ghostprep.clip.stream import Frame

_LONG_S: Final = 60.0
"""From here on single jumps are cheaper than reading all key frames."""
_ENOUGH: Final = 12
"""So few frames still show how a clip goes on."""
_SHORT_S: Final = 20.0
"""Up to here a pass through all frames costs little."""
_FEW: Final = 6
"""In longer clips this many do: reading all of them would take as long as the survey itself."""


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

    Notes
    -----
    Only key frames are decoded where there are enough of them; in long clips only those that
    lie next to the wanted times. The times are those of the frames taken, not of the even grid.
    """
    shrink = min(1.0, longest / max(facts.size))
    size = max(round(facts.size[0] * shrink), 1), max(round(facts.size[1] * shrink), 1)
    enough = min(count, _FEW if (facts.duration_s or 0) > _SHORT_S else _ENOUGH)
    if facts.duration_s and facts.container.startswith(INDEXED):
        seen = _jumps(facts, count, size) if facts.duration_s > _LONG_S else _key_frames(facts, count, size)
        if len(seen) >= enough:
            return seen
    return _all_through(facts, count, size)


def _jumps(facts: ClipFacts, count: int, size: tuple[int, int]) -> list[Glimpse]:
    """Jump to the key frame before each of the even times."""
    seen: dict[Fraction, Frame] = {}
    length = facts.duration_s or 0.0
    for i in range(count):
        at = float(facts.start) + length * i / count
        here = replace(
            facts, input=("-noaccurate_seek", "-seek_timestamp", "1", "-ss", f"{at:.6f}", *facts.input)
        )
        for glimpse in _frames(here, size, stop=1):
            seen.setdefault(glimpse.time, glimpse.frame)
    return [Glimpse(time, seen[time]) for time in sorted(seen)]


def _key_frames(facts: ClipFacts, count: int, size: tuple[int, int]) -> list[Glimpse]:
    """Decode the key frames alone.

    The decoder leaves the others out; if the demuxer did, times would come out wrong.
    """
    only = replace(facts, input=("-skip_frame", "nokey", *facts.input))
    return _thinned(_frames(only, size), count)


def _all_through(facts: ClipFacts, count: int, size: tuple[int, int]) -> list[Glimpse]:
    expected = facts.frames or round((facts.duration_s or 1) * facts.rate)
    return _thinned(_frames(facts, size, step=max(expected // count, 1)), count)


def _thinned(glimpses: Iterator[Glimpse], count: int) -> list[Glimpse]:
    """Keep `count` of however many come, evenly, and never more than twice as many on the way."""
    kept: list[Glimpse] = []
    stride = 1
    for i, glimpse in enumerate(glimpses):
        if i % stride == 0:
            kept.append(glimpse)
        if len(kept) > 2 * count:
            kept = kept[::2]
            stride *= 2
    if len(kept) <= count:
        return kept
    return [kept[i * len(kept) // count] for i in range(count)]


def _frames(
    facts: ClipFacts, size: tuple[int, int], *, step: int = 1, stop: int | None = None
) -> Iterator[Glimpse]:
    pixels = "rgba" if facts.alpha != "none" else "rgb24"
    with read_frames(facts, size=size, step=step, stop=stop, pixels=pixels) as frames:  # type: ignore[arg-type]
        yield from (Glimpse(frames.times[-1], frame) for frame in frames)
