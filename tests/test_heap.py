"""What threads give back is not held in heaps of their own."""

from __future__ import annotations

import subprocess
import sys

import pytest

# some threads fill and leave 1 MB in small pieces, and a few pieces at the end stay
_WORK = """
import sys, threading
from ghostprep.heap import share_heap
if sys.argv[1] == "shared":
    share_heap()
barrier = threading.Barrier(4)
def fill():
    barrier.wait()
    pieces = [bytearray(600) for _ in range(2000)]
    barrier.wait()
threads = [threading.Thread(target=fill) for _ in range(4)]
for thread in threads: thread.start()
for thread in threads: thread.join()
heaps = 0
with open("/proc/self/maps") as maps:
    for line in maps:
        begin, end = (int(n, 16) for n in line.split()[0].split("-"))
        # glibc reserves 64 MB for each heap of a thread, aligned to as much, and keeps most of it closed
        heaps += begin % (64 << 20) == 0 and "rw-p" in line and len(line.split()) == 5
print(heaps)
"""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="heaps of threads are glibc's")
def test_threads_share_one_heap() -> None:
    def heaps(how: str) -> int:
        done = subprocess.run([sys.executable, "-c", _WORK, how], capture_output=True, text=True, check=True)
        return int(done.stdout)

    assert heaps("left") >= 3
    assert heaps("shared") <= 1


# pieces below the size that gets a mapping of its own, and one after them that pins the heap's end
_HOLE = """
import psutil
from ghostprep.heap import give_back
mine = psutil.Process()
pieces = [bytearray(60_000) for _ in range(1500)]
pin = bytearray(60_000)
del pieces
before = mine.memory_info().rss
give_back()
print(before - mine.memory_info().rss)
"""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only glibc's heap is asked")
def test_what_was_freed_below_something_is_given_back() -> None:
    done = subprocess.run([sys.executable, "-c", _HOLE], capture_output=True, text=True, check=True)
    assert int(done.stdout) > 50_000_000
