"""What earlier runs made of a clip, kept in the cache: frames and values."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Sequence
from typing import Any, Final, TypeVar

from ghostprep.arrays import Frame
from ghostprep.clip.cache import (
    Cache,
    cache_folder,
    code_digest,
    read_archive,
    read_value,
    write_archive,
    write_value,
)
from ghostprep.clip.store import FrameStore

T = TypeVar("T")
MADE_BYTES: Final = 600 << 20
"""More is not put into the cache at once: it shall hold what several clips gave."""


class Recall:
    """Finds in the cache what earlier runs made of a clip, and adds to it.

    Without a `sha256`, the clip's, in hex, nothing is found and nothing is kept.
    """

    def __init__(self, sha256: str) -> None:
        self._sha256 = sha256
        self._cache = Cache(cache_folder()) if sha256 else None

    def made(
        self,
        about: object,
        count: int,
        size: tuple[int, int],
        make: Callable[[], Iterable[Frame]],
        *,
        channels: int,
    ) -> FrameStore:
        """Return frames that are made from the clip, from the cache where an earlier run made the same.

        The text of `about` tells all, besides clip and code, that they depend on; `channels`: bytes a pixel.
        The store is the caller's to close.
        """
        name = self.name("made", about, count, size)
        wanted = count * size[0] * size[1] * channels <= MADE_BYTES
        if wanted and (found := self.frames(name, size, channels)) is not None:
            return found[0]
        store = FrameStore(size, channels)
        try:
            for frame in make():
                store.append(frame)
            if wanted and len(store) == count:
                self.keep_frames(name, store)
        except BaseException:
            store.close()
            raise
        return store

    def worked_out(self, about: object, work: Callable[[], T]) -> T:
        """Return what was worked out from the clip, from the cache where an earlier run did.

        The text of `about` tells all, besides clip and code, that it depends on. It is not None, and can be
        kept: see `write_value`.
        """
        found: T | None = self.value(about)
        if found is None:
            found = work()
            self.keep_value(about, found)
        return found

    def value(self, about: object) -> Any:
        """Return a value that an earlier run has put into the cache; None if there is none."""
        return None if self._cache is None else self._cache.find(self.name("value", about), read_value)

    def keep_value(self, about: object, value: object) -> None:
        """Put a value into the cache, where it can be kept; see `worked_out`."""
        if self._cache is not None:
            with self._cache.adding(self.name("value", about)) as part:
                if part is not None:
                    write_value(part, value)

    def name(self, kind: str, *about: object) -> str:
        """Return a digest of all that some frames depend on."""
        if self._cache is None:
            return ""
        return hashlib.sha256(f"{kind} {code_digest()} {self._sha256} {about}".encode()).hexdigest()

    def holds(self, kind: str, *about: object) -> bool:
        """Return whether there are frames that depend on this."""
        return self._cache is not None and self._cache.holds(self.name(kind, *about))

    def frames(
        self, name: str, size: tuple[int, int], channels: int
    ) -> tuple[FrameStore, dict[str, Any]] | None:
        """Return the frames of a name, and what was kept with them; None if there are none."""
        if self._cache is None:
            return None
        return self._cache.find(name, lambda path: read_archive(path, size, channels))

    def keep_frames(self, name: str, frames: Sequence[Frame] | FrameStore, **about: object) -> None:
        """Put frames into the cache, where they can be kept."""
        if self._cache is not None:
            with self._cache.adding(name) as part:
                if part is not None:
                    write_archive(part, frames, about)
