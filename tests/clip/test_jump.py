"""A late part of a clip is read by a jump, whenever the clip's own clock begins."""

from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from ghostprep.box import Box
from ghostprep.clip import Footage, probe, read_frames
from ghostprep.clip.child import STALL_S
from ghostprep.clip.glance import thinned
from ghostprep.clip.request import Request


@pytest.mark.parametrize("name", ["late.mkv", "late.mp4"])
@pytest.mark.parametrize("begins", ["0", "3.2"])
def test_the_jump_is_taken_and_lands_on_the_frame(
    begins: str, name: str, ffmpeg: Callable[..., None], tmp_path: Path
) -> None:
    path = tmp_path / name
    ffmpeg(
        *("-f", "lavfi", "-i", "testsrc2=size=96x64:rate=25:duration=4", "-c:v", "libx264", "-g", "10"),
        *("-pix_fmt", "yuv420p", "-output_ts_offset", begins, path),
    )
    facts = probe(path)
    with read_frames(facts) as stream:
        every = [frame.copy() for frame in stream]
    with read_frames(facts, start=57, stop=60, times=stream.times) as late:
        got = list(late)
        left = len(late._attempts)
    assert left == 1  # the second attempt, which decodes all that comes before, was not needed
    assert late.times == stream.times[57:60]
    assert all(np.array_equal(a, b) for a, b in zip(got, every[57:60], strict=True))


@pytest.mark.parametrize("delay", ["0", "2"])
def test_a_matroska_file_that_begins_before_zero_is_read_from_the_right_place(
    delay: str, ffmpeg: Callable[..., None], tmp_path: Path
) -> None:
    """Its first frames have no time, and those that follow begin again at 0: nothing may be sought by it."""
    path = tmp_path / "early.mkv"
    ffmpeg(
        *("-f", "lavfi", "-i", "testsrc2=size=96x64:rate=10:duration=4", "-c:v", "libx264", "-g", "10"),
        *("-bf", delay, "-avoid_negative_ts", "disabled", "-output_ts_offset", "-1.5", path),
    )
    facts = probe(path)
    with read_frames(facts) as stream:
        every = [frame.copy() for frame in stream]
    assert stream.clock_jumped
    with Footage(facts, longest=64) as footage:
        assert sum(1 for _ in footage.look_through()) == len(every)
        for first in (5, 12, 17, 25):
            got = list(footage.frames(range(first, first + 3), Box(0, 0, 96, 64), (96, 64)))
            assert all(np.array_equal(a, b) for a, b in zip(got, every[first : first + 3], strict=True))


@pytest.mark.parametrize("count", [3, 8, 24])
@pytest.mark.parametrize("total", [1, 5, 24, 49, 100, 777])
def test_of_however_many_come_so_many_are_kept_evenly(count: int, total: int) -> None:
    kept = thinned(range(total), count)
    assert len(kept) == min(count, total)
    assert kept[0] == 0
    steps = np.diff([*kept, total])
    assert steps.min() >= 1
    assert steps.max() <= 3 * max(total / len(kept), 1)
    assert np.median(steps) <= 2 * steps.min()


def test_the_decoder_may_be_silent_longer_the_later_the_first_wanted_frame() -> None:
    def patience(start: int) -> float:
        read: Any = Request.stall_s
        return float(read.fget(SimpleNamespace(start=start)))

    assert patience(0) == STALL_S
    assert patience(400) == STALL_S + 200
