"""The frames of a loop's stretch as an earlier run decoded them, at the size at which they are keyed.

Who tries another tint, gain or player asks for the same stretch again; of a large clip, reading it
is most of that run.
"""

from __future__ import annotations

import hashlib
import zipfile
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType
from typing import Final, Self, TypeAlias

import numpy as np
import numpy.typing as npt

from ghostprep.clip import ClipFacts
from ghostprep.errors import JobError
from ghostprep.prepare.cache import Cache, cache_folder, code_digest
from ghostprep.prepare.delivery import LARGE
from ghostprep.prepare.fit import Fit
from ghostprep.prepare.store import FrameStore
from ghostprep.prepare.store_file import UNREADABLE, read_store, write_store

Frame: TypeAlias = npt.NDArray[np.uint8]

MOST_BYTES: Final = 400 << 20
"""A longer stretch is not kept: the cache shall hold that of several clips."""

_NAME: Final = "frames"


class ReadBefore:
    """What was read of one stretch: by an earlier run, or by this one for a later.

    Parameters
    ----------
    facts : ClipFacts
    fit : Fit
        Crop and size of the frames.
    needed : sequence of int
        Source frames of the stretch.
    content : str
        The clip's SHA-256; empty: nothing is recalled or kept.

    Attributes
    ----------
    frames : FrameStore or None
        The frames needed, in order, where an earlier run kept them.
    """

    def __init__(self, facts: ClipFacts, fit: Fit, needed: Sequence[int], content: str) -> None:
        channels = 3 if facts.alpha == "none" else 4
        self._count = len(needed)
        self._taken: FrameStore | None = None
        self.frames: FrameStore | None = None
        size = self._count * fit.size[0] * fit.size[1] * channels
        if not content or max(facts.size) < LARGE or size > MOST_BYTES:
            return
        about = (code_digest(), content, facts.size, fit.crop, fit.size, channels, tuple(needed))
        self._digest = hashlib.sha256(f"stretch {about}".encode()).hexdigest()
        self.frames = Cache(cache_folder()).find(
            self._digest, lambda path: _read(path, FrameStore(fit.size, channels), len(needed))
        )
        if self.frames is None:
            self._taken = FrameStore(fit.size, channels)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Give the temporary disk back."""
        for store in (self.frames, self._taken):
            if store is not None:
                store.close()

    def take(self, frame: Frame) -> None:
        """Take the next frame of the stretch; a full disk is no error, nothing is kept then."""
        if self._taken is None:
            return
        try:
            self._taken.append(frame)
        except JobError:
            self._taken.close()
            self._taken = None

    def keep(self) -> None:
        """Keep the frames for a later run, if all of them came."""
        if self._taken is None or len(self._taken) != self._count:
            return
        with Cache(cache_folder()).adding(self._digest) as part:
            if part is not None:
                # not packed, since a camera's noise does not pack
                with zipfile.ZipFile(part, "w", zipfile.ZIP_STORED) as archive:
                    write_store(archive, _NAME, self._taken)


def _read(path: Path, store: FrameStore, count: int) -> FrameStore | None:
    """Fill a store from a file of the cache; None where that is damaged, or not one of ours."""
    try:
        with zipfile.ZipFile(path) as archive:
            read_store(archive, _NAME, store, count)
    except UNREADABLE:
        store.close()
        return None
    return store
