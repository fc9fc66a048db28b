"""The C library's heap: one for all threads, and given back to the system where much was freed."""

from __future__ import annotations

import sys
from typing import Any, Final

_ARENA_MAX: Final = -8
"""glibc's number for the setting (mallopt(3), M_ARENA_MAX)."""


def share_heap() -> None:
    """Let all threads of this process share one heap, where the C library is glibc; nothing elsewhere.

    Left alone, each of them holds on to one of its own: a `make` for a large raster took 100 MB more, which
    held no frame. To be called before the first thread is started.
    """
    setting = _of_library("mallopt")
    if setting is not None:
        setting(_ARENA_MAX, 1)


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
