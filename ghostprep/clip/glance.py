"""A few frames, evenly over the whole clip, small."""

from __future__ import annotations

import os
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from fractions import Fraction
from typing import Final, NamedTuple, TypeVar

from ghostprep.arrays import Frame
from ghostprep.box import small_size
from ghostprep.clip.facts import ClipFacts
from ghostprep.clip.request import jump_to
from ghostprep.clip.stream import FrameStream, read_frames

T = TypeVar("T")

GLIMPSES: Final = 32
"""Glimpses of a clip at most."""

COARSE: Final = 640
"""Longer side of glimpses, pixels."""

_LONG_S: Final = 60.0
"""Length of a clip from which single jumps are cheaper than reading all key frames."""
_ENOUGH: Final = 8
"""Glimpses that are enough to show how a clip goes on."""
_SHORT_S: Final = 20.0
"""Length of a clip up to which a pass through all frames costs little."""
_FEW: Final = 6
"""Glimpses that are enough of longer clips: a pass would take as long as the survey itself."""
_KEPT_S: Final = 30.0
"""Length of a clip up to which all frames are kept: of a longer one, reading the loop again costs less."""
_RARE: Final = 20
"""Frames to a key frame from which decoding these by themselves costs little beside the pass through all."""

_PARTS: Final = min(os.cpu_count() or 1, 4)
"""Readings that run at the same time."""
_LARGE: Final = 4_000_000
"""Pixels of a picture from which one reading runs at a time: each decoder holds several such pictures."""


class Glimpse(NamedTuple):
    """One frame and its time in seconds from the clip's first frame."""

    time: Fraction
    frame: Frame


def glance(facts: ClipFacts, count: int = GLIMPSES, *, longest: int = COARSE) -> list[Glimpse]:
    """Take at most `count` frames evenly over the clip, in order, their longer side `longest` pixels at most.

    Notes
    -----
    Only key frames are decoded where there are enough of them; in long clips only those that
    lie next to the wanted times. The times are those of the frames taken, not of the even grid.
    """
    size = small_size(facts.size, longest)
    enough = min(count, _enough(facts))
    if facts.duration_s and facts.indexed:
        seen = _jumps(facts, count, size) if facts.duration_s > _LONG_S else _key_frames(facts, count, size)
        if len(seen) >= enough:
            return seen
    return _all_through(facts, count, size)


def is_short(facts: ClipFacts) -> bool:
    """Return whether all frames of a clip may be kept as they pass."""
    return 0 < (facts.duration_s or 0) <= _KEPT_S


def waits_for_pass(facts: ClipFacts) -> bool:
    """Return whether a clip's glimpses shall come from the pass through all of its frames.

    A few key frames are decoded beside it, and the backing is learned meanwhile; but a second decoder of
    large pictures would take as much memory again.
    """
    few = facts.indexed and _enough(facts) <= (facts.key_frames or 0) <= facts.about_frames / _RARE
    return is_short(facts) and (_is_large(facts) or not few)


def _enough(facts: ClipFacts) -> int:
    return _FEW if (facts.duration_s or 0) > _SHORT_S else _ENOUGH


def _jumps(facts: ClipFacts, count: int, size: tuple[int, int]) -> list[Glimpse]:
    """Jump to the key frame before each of the even times, some at once; none is taken twice."""
    single = _single(facts)
    length = facts.duration_s or 0.0
    streams = [_read(_from(single, length * i / count), size, stop=1) for i in range(count)]
    seen: dict[Fraction, Frame] = {}
    with ThreadPoolExecutor(_at_once(facts), thread_name_prefix="glance") as pool:
        jobs = [pool.submit(_taken, stream, 1) for stream in streams]
        try:
            for job in jobs:
                for glimpse in job.result():
                    seen.setdefault(glimpse.time, glimpse.frame)
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            for stream in streams:
                stream.close()
            raise
    return [Glimpse(time, seen[time]) for time in sorted(seen)]


def _key_frames(facts: ClipFacts, count: int, size: tuple[int, int]) -> list[Glimpse]:
    """Decode the key frames alone.

    The decoder leaves the others out; if the demuxer did, times would come out wrong. In several parts at the
    same time they would cost a third more, and the pass, which takes longer, runs beside this.
    """
    single = _single(facts)
    return _taken(_read(replace(single, input=("-skip_frame", "nokey", *single.input)), size), count)


def _at_once(facts: ClipFacts) -> int:
    """Return how many readings may run at the same time."""
    return 1 if _is_large(facts) else _PARTS


def _is_large(facts: ClipFacts) -> bool:
    return facts.coded_size[0] * facts.coded_size[1] > _LARGE


def _single(facts: ClipFacts) -> ClipFacts:
    """Return the facts of the clip, read so that each decoder works on one picture at a time.

    More would be those that follow it, which nobody asked for. Where one decoder is all that runs, its
    threads share the picture, if its coding allows.
    """
    threads = ("-threads", "1") if _at_once(facts) > 1 else ("-thread_type", "slice")
    return replace(facts, input=(*threads, *facts.input))


def _from(facts: ClipFacts, seconds: float) -> ClipFacts:
    """Return the facts of the clip from the key frame at or before a time on, its times unchanged."""
    return replace(facts, input=(*jump_to(float(facts.start) + seconds), *facts.input))


def _all_through(facts: ClipFacts, count: int, size: tuple[int, int]) -> list[Glimpse]:
    """Decode all frames but those that no other is predicted from: as good a choice at half the work."""
    fewer = replace(facts, input=("-skip_frame", "noref", *facts.input))
    return _taken(_read(fewer, size, step=max(facts.about_frames // (2 * count), 1)), count)


def _taken(stream: FrameStream, count: int) -> list[Glimpse]:
    """Take up to `count` of the frames, evenly."""
    with stream:
        return thinned((Glimpse(stream.times[-1], frame) for frame in stream), count)


def thinned(things: Iterable[T], count: int) -> list[T]:
    """Keep `count` of however many come, evenly; never more than twice as many on the way."""
    kept: list[T] = []
    stride = 1
    for i, thing in enumerate(things):
        if i % stride == 0:
            kept.append(thing)
        if len(kept) > 2 * count:
            kept = kept[::2]
            stride *= 2
    most = min(count, len(kept))
    return [kept[i * len(kept) // most] for i in range(most)]


def _read(facts: ClipFacts, size: tuple[int, int], *, step: int = 1, stop: int | None = None) -> FrameStream:
    return read_frames(facts, size=size, step=step, stop=stop, pixels=facts.pixels)
