"""A clip's frames, asked for in one way: which frames, which part, which size."""

from __future__ import annotations

import functools
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Final, Self

import cv2
import numpy as np

from ghostprep.arrays import Frame
from ghostprep.box import Box, small_size
from ghostprep.clip.facts import ClipFacts
from ghostprep.clip.glance import COARSE, GLIMPSES, glance, thinned, waits_for_pass
from ghostprep.clip.recall import Recall
from ghostprep.clip.shrunk import KEPT_BYTES, cut_out, may_be_kept, serves, shrink_of, worth_keeping
from ghostprep.clip.store import FrameStore, KeptFrames
from ghostprep.clip.stream import FrameStream, read_frames
from ghostprep.digest import sha256_of
from ghostprep.progress import Progress, silent

PASS_BYTES: Final = 1 << 30
"""The most disk that the small frames of a pass may take; those of a longer clip are not kept."""
GLIMPSE_BYTES: Final = 40_000_000
"""Glimpses that take more do not go into the cache."""


class Footage:
    """A clip's frames: whoever wants some says which, and gets them in order.

    Whether they are decoded with a seek, shrunk by the decoder, kept from an earlier pass or recalled from
    the cache is known here alone. A context manager: what it keeps lies on temporary disk until it is closed.

    Parameters
    ----------
    facts : ClipFacts
        From `probe`.
    longest : int
        Longer side, pixels, of the small frames that a pass through the clip gives.
    start, end : Fraction, optional
        Only frames from `start` on and before `end`, seconds, pass.
    again : bool
        Whether parts of the frames will be asked for after the pass: they are kept where that saves a second
        decoding. See `shown_at`.
    recall : bool
        Whether frames may come from the cache, and go there for a later run.
    """

    def __init__(
        self,
        facts: ClipFacts,
        *,
        longest: int = COARSE,
        start: Fraction | None = None,
        end: Fraction | None = None,
        again: bool = False,
        recall: bool = False,
    ) -> None:
        self.facts = facts  # with the frames counted, after a pass
        self._again = again
        self.stretch = start, end
        self._size = small_size(facts.size, longest)
        # after a pass: presentation time of every frame read, from the clip's first, seconds
        self.times: tuple[Fraction, ...] = ()
        self.last_s = facts.last_s
        self._clock_jumped = False
        self.damage: str | None = None  # after a pass: what the decoder said where the clip breaks off
        self.recall = Recall(self.sha256 if recall else "")  # what earlier runs made of the clip
        self._small: KeptFrames | None = None
        self._shrunk: KeptFrames | None = None
        self._stream: FrameStream | None = None
        self._looks: list[Frame] | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Give the temporary disk back."""
        # the stream first: its frames go to what is kept
        for held in (self._stream, self._small, self._shrunk):
            if held is not None:
                held.close()
        self._small = self._shrunk = self._stream = None

    @functools.cached_property
    def sha256(self) -> str:
        """Of the clip, in hex; empty for numbered pictures, which are many files."""
        return sha256_of(self.facts.path) if self.facts.path.is_file() else ""

    @property
    def grid(self) -> int:
        """Parts that begin and end on multiples of this many pixels cost least, and lose nothing."""
        return max(shrink_of(self.facts), 2)

    def glimpses(self, longest: int, progress: Progress = silent) -> list[Frame]:
        """Return some frames, evenly over the clip, at most `longest` px on the longer side."""
        size = small_size(self.facts.size, longest)
        name = self.recall.name("glimpses", size)
        if (found := self.recall.frames(name, size, self._channels)) is not None:
            with found[0] as kept:
                return list(kept)
        frames: list[Frame] = []
        if self._stream is not None and self._looks is not None and longest <= COARSE:
            if self._stream.gather(lambda count: progress("survey", count, self.facts.frames)):
                frames = [_resized(frame, size) for frame in thinned(self._looks, GLIMPSES)]
            self._looks = None
        frames = frames or [glimpse.frame for glimpse in glance(self.facts, longest=longest)]
        if 0 < sum(frame.nbytes for frame in frames) <= GLIMPSE_BYTES:
            self.recall.keep_frames(name, frames)
        return frames

    def begin(self) -> None:
        """Say that `look_through` will be called: if it has to decode, the decoder begins now."""
        if not self.recall.holds("pass", self._size, *self.stretch):
            coarse = small_size(self.facts.size, COARSE)
            if waits_for_pass(self.facts) and not self.recall.holds("glimpses", coarse):
                self._looks = []
            self._stream = self._whole()
            if self._again and may_be_kept(self.facts):
                self._shrunk = KeptFrames(FrameStore(self._stream.size), KEPT_BYTES)
            self._stream.start()

    def shown_at(self, size: tuple[int, int]) -> None:
        """Say about how large parts of the frames will be asked for: what would be of no use is not kept."""
        self._again = worth_keeping(self.facts, size)

    def look_through(self) -> Iterator[tuple[int, Fraction, Frame]]:
        """Yield number, time from the clip's first frame (seconds) and picture of every frame, in small."""
        size = self._size
        name = self.recall.name("pass", size, *self.stretch)
        if (found := self.recall.frames(name, size, self._channels)) is not None:
            store, about = found
            self._small = KeptFrames(store, PASS_BYTES, int(about["first"]))
            self.times = tuple(map(Fraction, about["times"]))
            self._clock_jumped = bool(about["clock_jumped"])
            self.last_s = Fraction(about["last_s"])
            for number, frame in enumerate(store, self._small.first):
                yield number, self.times[number] - self.times[0], frame
        else:
            small = self._small = KeptFrames(FrameStore(size, self._channels), PASS_BYTES)
            yield from self._pass(small)
            if small.store and self.damage is None:
                self.recall.keep_frames(
                    name,
                    small.store,
                    first=small.first,
                    times=[str(time) for time in self.times],
                    clock_jumped=self._clock_jumped,
                    last_s=str(self.last_s),
                )
        self.facts = replace(self.facts, frames=len(self.times))

    @property
    def keeps_small(self) -> bool:
        """Whether `small` can be asked: the clip is not too long to keep what passed."""
        return self._small is not None and self._small.store is not None

    def small(self, number: int) -> Frame:
        """Return a frame as it passed in `look_through`."""
        if self._small is None:
            raise IndexError("no small frames are kept")
        return self._small[number]

    def frames(self, numbers: Sequence[int], part: Box, size: tuple[int, int]) -> Iterator[Frame]:
        """Yield frames (h, w, 3), or (h, w, 4) with alpha, after a pass, cut to a part and scaled.

        Parameters
        ----------
        numbers : sequence of int
            Which, rising, as the clip counts.
        part : Box
            In source pixels.
        size : tuple of int
            Width and height that come out.
        """
        shrink, (width, height) = shrink_of(self.facts), self.facts.size
        if not serves(part, size, shrink):
            yield from self._decoded(numbers, size, part)
        elif self._shrunk is not None and self._shrunk.holds(numbers[0], numbers[-1]):
            for number in numbers:
                yield cut_out(self._shrunk[number], part, shrink, size)
        else:
            for frame in self._decoded(numbers, (width // shrink, height // shrink)):
                yield cut_out(frame, part, shrink, size)

    def _pass(self, kept: KeptFrames) -> Iterator[tuple[int, Fraction, Frame]]:
        """Decode every frame once."""
        times: list[Fraction] = []
        start, end = self.stretch
        with self._stream or self._whole() as stream:
            for number, small in enumerate(stream):
                time = stream.times[number] - stream.times[0]
                if end is not None and time >= end:
                    self.last_s = end
                    break
                times.append(stream.times[number])
                if start is not None and time < start:
                    continue
                kept.put(number, small)
                yield number, time, small
            if end is not None and times:
                self.last_s = min(self.last_s, end - (times[-1] - times[0]))
            self.damage, self._clock_jumped = stream.damage, stream.clock_jumped
        self.times = tuple(times)

    def _arrived(self, number: int, frame: Frame) -> Frame:
        """Keep of a frame, as the decoder delivers it, what will be asked for, and return it in small."""
        if self._shrunk is not None and self._again:
            self._shrunk.put(number, frame)
        elif self._shrunk is not None:
            self._shrunk.close()
        # the next lower power of two: those that `thinned` would come down to, and no more are held
        every = 1 << max(self.facts.about_frames // GLIMPSES, 1).bit_length() - 1
        if (looks := self._looks) is not None and number % every == 0:
            looks.append(_resized(frame, small_size(self.facts.size, COARSE)))
        return _resized(frame, self._size)

    def _whole(self) -> FrameStream:
        """Return all frames for the pass, as small as it needs them or finer."""
        shrink, (width, height) = shrink_of(self.facts), self.facts.size
        size = self._size
        if shrink > 1:
            size = width // shrink, height // shrink
        elif waits_for_pass(self.facts):
            size = small_size(self.facts.size, COARSE)
        return read_frames(self.facts, size=size, pixels=self.facts.pixels, arrived=self._arrived)

    def _decoded(
        self, numbers: Sequence[int], size: tuple[int, int], crop: Box | None = None
    ) -> Iterator[Frame]:
        wanted, first, stop = set(numbers), numbers[0], numbers[-1] + 1
        with read_frames(
            self.facts,
            size=size,
            crop=crop,
            start=first,
            stop=stop,
            times=None if self._clock_jumped else self.times or None,
            pixels=self.facts.pixels,
        ) as stream:
            yield from (frame for number, frame in enumerate(stream, first) if number in wanted)

    @property
    def _channels(self) -> int:
        return 3 if self.facts.alpha == "none" else 4


def _resized(frame: Frame, size: tuple[int, int]) -> Frame:
    if frame.shape[1::-1] == size:
        return frame
    return np.asarray(cv2.resize(frame, size, interpolation=cv2.INTER_AREA), np.uint8)
