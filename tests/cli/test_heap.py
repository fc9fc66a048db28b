"""What threads give back is not held in heaps of their own."""

from __future__ import annotations

import subprocess
import sys

import pytest

# some threads fill and leave 1 MB in small pieces, and a few pieces at the end stay
_WORK = """
import sys, threading
from ghostprep.cli.heap import share_heap
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
