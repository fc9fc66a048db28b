"""A late part of a clip is read by a jump, whenever the clip's own clock begins."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from ghostprep.clip import probe, read_frames


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
