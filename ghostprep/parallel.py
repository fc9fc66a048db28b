"""Work on several frames at once, results in order, with a bounded number under way."""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TypeVar

A = TypeVar("A")
B = TypeVar("B")


def workers() -> int:
    """Return how many may work at once: one a core, 8 at most."""
    return min(os.cpu_count() or 1, 8)


def in_order(work: Callable[[A], B], items: Iterable[A]) -> Iterator[B]:
    """Yield ``work(item)`` for each item, in order, worked on by several threads: see `workers`.

    NumPy and OpenCV let go of the interpreter's lock, so threads are enough. At most
    twice as many items as threads are held, so memory does not depend on how many come.
    They are read in the caller's thread.
    """
    count = workers()
    if count == 1:
        yield from map(work, items)
        return
    waiting: deque[Future[B]] = deque()
    with ThreadPoolExecutor(count, thread_name_prefix="frame") as pool:
        try:
            for item in items:
                waiting.append(pool.submit(work, item))
                if len(waiting) >= 2 * count:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        finally:
            for job in waiting:
                job.cancel()
