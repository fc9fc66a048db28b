"""The C library's heap: one for all threads, and given back to the system where much was freed."""

from __future__ import annotations

import sys
from typing import Any, Final

_ARENA_MAX: Final = -8
_MMAP_THRESHOLD: Final = -3
_TRIM_THRESHOLD: Final = -1
"""glibc's numbers for the settings (mallopt(3), M_ARENA_MAX and so on)."""

_PICTURE: Final = 32 << 20
"""Bytes up to which what is allocated lies on the heap: the most that glibc takes."""

_FREE: Final = 64 << 20
"""Free bytes at the heap's top that are kept for what comes next."""


def share_heap() -> None:
    """Let all threads share one heap, and pictures lie on it, where the C library is glibc; else nothing.

    Left alone, each thread holds on to a heap of its own: a `make` for a large raster took 100 MB more, which
    held no frame. And a picture's memory goes back to the system at once, to be fetched again for the next
    one, page by page: a sum of two planes then takes several times as long. To be called before the first
    thread is started.
    """
    setting = _of_library("mallopt")
    if setting is not None:
        for name, value in ((_ARENA_MAX, 1), (_MMAP_THRESHOLD, _PICTURE), (_TRIM_THRESHOLD, _FREE)):
            setting(name, value)


def give_back() -> None:
    """Give the system what was freed, where the C library is glibc; nothing elsewhere.

    Pictures that were freed leave holes below what was allocated after them: some 60 MB once a clip's
    glimpses have been looked at.
    """
    trim = _of_library("malloc_trim")
    if trim is not None:
        trim(0)


def _of_library(name: str) -> Any:
    """Return a function of the C library, None where it has none of that name."""
    found = None
    if sys.platform == "linux":
        import ctypes

        found = getattr(ctypes.CDLL(None), name, None)
    return found
