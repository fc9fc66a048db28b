"""A late part of a clip is read by a jump, whenever the clip's own clock begins."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from ghostprep.box import Box
from ghostprep.clip import Footage, probe, read_frames


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
