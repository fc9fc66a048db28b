"""One heap for all threads, so that what one gives back another can take, or the system."""

from __future__ import annotations

import sys
from typing import Final

_ARENA_MAX: Final = -8
"""glibc's number for the setting (mallopt(3), M_ARENA_MAX)."""


def share_heap() -> None:
    """Let all threads of this process share one heap, where the C library is glibc; nothing elsewhere.

    Left alone, each of them holds on to one of its own: a `make` for a large raster took 100 MB more, which
    held no frame. To be called before the first thread is started.
    """
    if sys.platform != "linux":
        return
    import ctypes

    # other C libraries lack the function, and have no such heaps
    setting = getattr(ctypes.CDLL(None), "mallopt", None)
    if setting is not None:
        setting(_ARENA_MAX, 1)
