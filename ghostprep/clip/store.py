"""Frames set aside on the disk, so that memory does not grow with the stretch."""

from __future__ import annotations

import shutil
import tempfile
import threading
from collections.abc import Iterator
from typing import Final, Self

import numpy as np

from ghostprep.arrays import Frame, Frames
from ghostprep.errors import InputError, JobError
from ghostprep.scratch import no_temporaries
from ghostprep.words import size_words

MAX_BYTES: Final = 8 << 30
"""The most that one store may take; a stretch that needs more is refused with its size."""


class FrameStore:
    """Frames of one size in an unnamed temporary file, in the order in which they came.

    The file has no name, so nothing is left behind however the process ends. `channels` is bytes a pixel.
    """

    def __init__(self, size: tuple[int, int], channels: int = 3) -> None:
        self.size = size
        self.shape = (size[1], size[0], channels) if channels > 1 else (size[1], size[0])
        self._bytes = size[0] * size[1] * channels
        self._count = 0
        self._lock = threading.Lock()
        try:
            # unbuffered: nothing is left that a close could fail to write
            self._file = tempfile.TemporaryFile(buffering=0, prefix="ghostprep-")  # noqa: SIM115 - see close()
        except OSError as error:
            raise no_temporaries(error) from error

    def __len__(self) -> int:
        return self._count

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Give the disk space back."""
        self._file.close()

    def append(self, frame: Frame) -> int:
        """Set a frame aside and return its place; JobError: the disk is full."""
        if frame.shape != self.shape or frame.dtype != np.uint8:
            raise ValueError(f"the frame is {frame.shape} {frame.dtype}, it must be {self.shape} uint8")
        with self._lock:
            try:
                self._file.seek(self._count * self._bytes)
                data = np.ascontiguousarray(frame).data.cast("B")
                while data:
                    data = data[self._file.write(data) :]
            except OSError as error:
                raise no_temporaries(error) from error
            self._count += 1
            return self._count - 1

    def __getitem__(self, place: int) -> Frame:
        if not 0 <= place < self._count:
            raise IndexError(f"frame {place} of {self._count}")
        frame = np.empty(self.shape, np.uint8)
        with self._lock:
            try:
                self._file.seek(place * self._bytes)
                space = frame.data.cast("B")
                while space:
                    got = self._file.readinto(space)
                    if not got:
                        raise JobError("the temporary file was cut short", where=tempfile.gettempdir())
                    space = space[got:]
            except OSError as error:
                raise no_temporaries(error) from error
        return frame

    def __iter__(self) -> Iterator[Frame]:
        for place in range(self._count):
            yield self[place]


class KeptFrames:
    """Frames by their numbers, one after another; none are left as soon as they take more than `most_bytes`.

    What is kept only saves work, so a full disk is no error: nothing is kept then.
    """

    def __init__(self, store: FrameStore, most_bytes: int, first: int = 0) -> None:
        self.store: FrameStore | None = store
        self.first = first
        self._most = most_bytes

    def put(self, number: int, frame: Frame) -> None:
        """Keep a frame; they come in order."""
        if self.store is None:
            return
        if not len(self.store):
            self.first = number
        try:
            self.store.append(frame)
        except JobError:
            self.close()
        else:
            if len(self.store) * frame.nbytes > self._most:
                self.close()

    def holds(self, first: int, last: int) -> bool:
        """Return whether the frames `first` to `last` are here."""
        return self.store is not None and self.first <= first and last < self.first + len(self.store)

    def __getitem__(self, number: int) -> Frame:
        if self.store is None:
            raise IndexError("nothing is kept")
        return self.store[number - self.first]

    def close(self) -> None:
        """Give the disk back."""
        if self.store is not None:
            self.store.close()
            self.store = None


class FrameRange:
    """Some of the frames, one after another; a window, not a copy."""

    def __init__(self, frames: Frames, first: int, after: int) -> None:
        self._frames = frames
        self._numbers = range(first, after)

    def __len__(self) -> int:
        return len(self._numbers)

    def __iter__(self) -> Iterator[Frame]:
        return (self._frames[number] for number in self._numbers)

    def __getitem__(self, place: int) -> Frame:
        return self._frames[self._numbers[place]]


def check_room(frames: int, size: tuple[int, int], channels: int = 3) -> None:
    """Refuse a stretch whose frames, `channels` bytes a pixel, would not fit the temporary disk.

    Raises
    ------
    InputError
        More than `MAX_BYTES`, or more than nine tenths of what is free.
    """
    needed = frames * size[0] * size[1] * channels
    free = shutil.disk_usage(tempfile.gettempdir()).free * 9 // 10
    if needed > min(MAX_BYTES, free):
        raise InputError(
            f"{frames} frames of {size[0]}x{size[1]} need {size_words(needed)} of temporary disk, "
            f"{size_words(min(MAX_BYTES, free))} may be used",
            where=tempfile.gettempdir(),
            remedy="use a shorter stretch (--start, --end, --length) or a smaller raster",
        )
