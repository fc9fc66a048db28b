"""Frames from a running ffmpeg, exactly counted, one array after another, with the time of each."""

from __future__ import annotations

import re
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from functools import partial
from typing import Final, Self

import numpy as np

from ghostprep.arrays import Frame
from ghostprep.box import Box
from ghostprep.clip.child import AGAIN, Child, complaint
from ghostprep.clip.facts import ClipFacts
from ghostprep.clip.pixels import Pixels
from ghostprep.clip.request import Request
from ghostprep.errors import InputError, JobError
from ghostprep.words import counted

_TIME: Final = re.compile(r"@(-?\d+) (\d+)/(\d+)@")
Arrived = Callable[[int, Frame], Frame]
"""What becomes of a frame, told its place among those that come, as soon as it is read."""
_AHEAD_BYTES: Final = 16_000_000
_AHEAD_SMALL_BYTES: Final = 80_000_000
"""Bytes of frames that may wait to be taken; the second of frames made small: 30 s of them at 60 a second."""


def read_frames(
    facts: ClipFacts,
    *,
    size: tuple[int, int] | None = None,
    crop: Box | None = None,
    start: int = 0,
    stop: int | None = None,
    step: int = 1,
    times: Sequence[Fraction] | None = None,
    pixels: Pixels = "rgb24",
    arrived: Arrived | None = None,
) -> FrameStream:
    """Decode frames of a clip.

    Parameters
    ----------
    size : (int, int), optional
        Width and height wanted; default: that of the crop, or of the whole frame.
    crop : Box, optional
        Part of the frame, in delivered (upright, square) pixels; cut first, then scaled.
    start, stop, step : int
        Which frames, counted in the clip as a slice counts: every frame that the file holds is one.
    times : sequence of Fraction, optional
        Presentation time of every frame, from an earlier whole pass (`FrameStream.times`, all frames)
        whose clock did not jump.
        Allows to jump near ``start`` instead of decoding all that comes before.
    pixels : {"rgb24", "rgba", "i420"}
        ``rgb24``: (h, w, 3), BT.709/sRGB full range; a clip with alpha is laid on black. ``rgba``:
        (h, w, 4), alpha straight unless the facts say premultiplied. ``i420``: (h*3//2, w), the file's
        own 8-bit codes, planes Y, U, V; sizes must be even.
    arrived : callable, optional
        Called in the reading thread; what it returns is yielded in the frame's place, and is so much smaller
        that many may wait.

    Raises
    ------
    InputError
        Settings that fit no frame of this clip; while iterating: no frame of it can be decoded.
    JobError
        While iterating: the decoder was ended, or stood still.
    """
    if size is None:
        size = facts.size if crop is None else (crop.width, crop.height)
    return FrameStream(Request(facts, size, crop, start, stop, step, times, pixels), arrived)


class FrameStream:
    """Frames in presentation order; a context manager and an iterator.

    Made by `read_frames`. The decoder runs ahead by a few frames in its own process; it is
    ended when the stream is closed, runs out, or is forgotten.
    """

    def __init__(self, request: Request, arrived: Arrived | None = None) -> None:
        self.size = request.size
        self.rate = request.facts.rate
        # presentation time in seconds of each frame yielded so far, from the clip's first frame
        self.times: list[Fraction] = []
        # whether the file's own clock went back or stood still so far, as where recordings were joined, or
        # where a Matroska file begins before 0: nothing can be sought by `times` then
        self.clock_jumped = False
        # after the end: what the decoder complained of, in one line; None if it did not
        self.damage: str | None = None
        self._request = request
        self._attempts = request.attempts()
        self._origin = request.facts.start
        self._step = request.step / self.rate
        self._reader: _Reader | None = None
        self._arrived = arrived

    def __iter__(self) -> Iterator[Frame]:
        return self

    def __next__(self) -> Frame:
        reader = self._reader = self._reader or self._open()
        taken = reader.take() if reader else None
        if reader is None or taken is None:
            if reader is not None:
                self._settle(reader)
            raise StopIteration
        if reader.changed_after is not None and self._request.picked:
            reader.end()
            after, remedy = f"after frame {reader.changed_after}", "cut the clip there, or use all of it"
            what = f"its pictures change their size or kind {after}, and the count with them"
            raise JobError(what, where=self._request.where, remedy=remedy)
        frame, clock = taken
        self.times.append(self._time(clock))
        return frame

    def _time(self, clock: Fraction | None) -> Fraction:
        """Return a frame's time; clocks that jump, where recordings were joined, go on by one step."""
        last = self.times[-1] if self.times else None
        if clock is None:
            return Fraction(0) if last is None else last + self._step
        time = clock - self._origin
        if last is not None and (time <= last or time - last > self._request.gap_max_s):
            time = last + self._step
            self._origin = clock - time
            self.clock_jumped = True
        return time

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def __del__(self) -> None:
        self.close()

    def start(self) -> None:
        """Let the decoder run ahead before the first frame is asked for."""
        self._reader = self._reader or self._open()

    def gather(self, progress: Callable[[int], None]) -> bool:
        """Wait until all frames have come, and return whether they did: no more may wait than have room.

        `progress` is told how many there are. A decoder that failed raises here, as at the last frame.
        """
        self.start()
        reader = self._reader
        if reader is None:
            return True
        while not reader.full(within_s=0.2):
            progress(reader.count)
        if reader.done:
            self._settle(reader)
        return reader.done

    def close(self) -> None:
        """End the decoder. What was read stays valid."""
        self._attempts.clear()
        if self._reader is not None:
            self._reader.end()
            self._reader = None

    def _open(self) -> _Reader | None:
        """Start the decoder; the first attempt that begins with the wanted frame counts."""
        while self._attempts:
            arguments, wanted = self._attempts.pop(0)
            reader = self._reader = _Reader(arguments, self._request, self._arrived)
            if wanted is None or not self._attempts or reader.first_time() == wanted:
                return reader
            reader.end()  # the container's index led elsewhere: count from the start instead
        return None

    def _settle(self, reader: _Reader) -> None:
        """See how the decoder ended; what was read may still be taken."""
        if reader.ended:
            return
        if reader.failure is not None:
            raise reader.failure
        child, where = reader.child, self._request.where
        status = child.finish()
        left_over, after = reader.left_over, reader.frames_at_error
        reader.end()
        failed = partial(JobError, where=where, tool_line=child.reason)
        if child.stalled:
            raise failed("the decoder stopped without a word")
        if status < 0 or (status != 0 and not child.errors):
            raise JobError("the decoder was ended", where=where, tool_line=f"status {status}", remedy=AGAIN)
        if status != 0 and not reader.count:
            what, remedy = "not one picture in it can be decoded", "copy or export it again"
            raise InputError(what, where=where, tool_line=child.reason, remedy=remedy)
        if left_over:
            raise failed("the decoder ended in the middle of a frame")
        if child.error_count:
            told, first = counted(child.error_count, "complaint"), child.errors[0]
            self.damage = f"{told} while decoding, the first after frame {after}: {first}"
        elif reader.changed_after is not None:
            self.damage = f"the pictures change their size or kind after frame {reader.changed_after}"


class _Reader:
    """Reads ahead in a thread; pairs each frame with the time that ffmpeg reports for it."""

    def __init__(self, arguments: list[str], request: Request, arrived: Arrived | None) -> None:
        self._shape = request.shape
        self._arrived = arrived
        self._most = _AHEAD_SMALL_BYTES if arrived else _AHEAD_BYTES
        self.left_over = 0
        self.frames_at_error: int | None = None
        self.changed_after: int | None = None
        self._clocks: deque[Fraction] = deque()
        self._frames: deque[Frame] = deque()
        self._held = 0
        self._change = threading.Condition()
        self.done = False
        self._closed = False
        self.ended = False
        self.count = 0
        self.failure: BaseException | None = None
        self.child = Child(
            arguments, take=True, on_line=self._take_line, stall_s=request.stall_s, folder=request.folder
        )
        self._thread = threading.Thread(target=self._fill, daemon=True)
        self._thread.start()

    def first_time(self) -> Fraction | None:
        """Return the time of the first frame, or None if there is no frame."""
        with self._change:
            self._wait(lambda: bool(self._clocks) or self.done)
            # frames and their times come by two pipes: of a short part all frames may be here first
            if self._frames:
                self._change.wait_for(lambda: self._clocks, timeout=2)
            return self._clocks[0] if self._clocks else None

    def take(self) -> tuple[Frame, Fraction | None] | None:
        """Return the next frame and its time, if the file gives it one; None after the last."""
        with self._change:
            self._wait(lambda: bool(self._frames) or self.done)
            if not self._frames:
                return None
            frame = self._frames.popleft()
            self._held -= frame.nbytes
            self._change.notify_all()
            # its time was written before it, but comes by another pipe
            self._change.wait_for(lambda: self._clocks, timeout=2)
            return frame, self._clocks.popleft() if self._clocks else None

    def full(self, *, within_s: float) -> bool:
        """Wait up to `within_s` until all frames have come or no more may wait; return whether it is so."""
        with self._change:
            return self._change.wait_for(lambda: self.done or self._held >= self._most, timeout=within_s)

    def _wait(self, ready: Callable[[], bool]) -> None:
        # with a limit, so that Ctrl-C gets through on Windows too
        while not self._change.wait_for(ready, timeout=1):
            pass

    def end(self) -> None:
        """End the decoder. May be called twice."""
        if self.ended:
            return
        self.ended = True
        with self._change:
            self._closed = True
            self._change.notify_all()
        self.child.kill()
        self._thread.join(timeout=10)
        self.child.end()

    def _take_line(self, line: str) -> bool:
        if found := _TIME.search(line):
            with self._change:
                self._clocks.append(int(found[1]) * Fraction(int(found[2]), int(found[3])))
                self._change.notify_all()
            return True
        if self.changed_after is None and "Reconfiguring filter graph" in line:
            self.changed_after = self.count
        if self.frames_at_error is None and complaint(line):
            self.frames_at_error = self.count
        return False

    def _fill(self) -> None:
        try:
            while True:
                frame = np.empty(self._shape, np.uint8)
                got = self.child.read_into(frame.data.cast("B"))
                if got < frame.nbytes:
                    self.left_over = got
                    return
                if self._arrived is not None:
                    frame = self._arrived(self.count, frame)
                with self._change:
                    self.count += 1
                    self._frames.append(frame)
                    self._held += frame.nbytes
                    self._change.notify_all()
                    self._change.wait_for(lambda: self._held < self._most or self._closed)
                    if self._closed:
                        return
        except (OSError, ValueError, MemoryError) as error:
            self.failure = error if not self._closed else None
        finally:
            with self._change:
                self.done = True
                self._change.notify_all()
