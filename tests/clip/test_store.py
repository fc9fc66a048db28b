import shutil
from types import SimpleNamespace

import numpy as np
import pytest

from ghostprep.clip import FrameStore, check_room
from ghostprep.clip.store import FrameRange
from ghostprep.errors import InputError


def test_frames_come_back_as_they_went_in() -> None:
    rng = np.random.default_rng(1)
    frames = rng.integers(0, 256, (7, 5, 3, 3), np.uint8)
    with FrameStore((3, 5)) as store:
        for place, frame in enumerate(frames):
            assert store.append(frame) == place
            assert (store[place // 2] == frames[place // 2]).all()  # reading between writes
        assert len(store) == 7
        assert all((a == b).all() for a, b in zip(store, frames, strict=True))
        with pytest.raises(IndexError, match="frame 7 of 7"):
            store[7]
        with pytest.raises(ValueError, match=r"the frame is \(3, 5, 3\) uint8"):
            store.append(np.zeros((3, 5, 3), np.uint8))


def test_a_stretch_too_long_for_the_disk_is_refused_with_its_size() -> None:
    with pytest.raises(InputError, match=r"need \d+\.\d GB of temporary disk"):
        check_room(100_000, (1920, 1080))
    check_room(300, (320, 240))


def test_nine_tenths_of_the_free_disk_may_be_used_and_never_more_than_eight_gibibytes(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    frame = 320 * 240 * 3
    for free, channels, most in (
        (frame * 100, 3, 90),
        (frame * 100, 1, 270),
        (1 << 50, 3, (8 << 30) // frame),
    ):
        monkeypatch.setattr(shutil, "disk_usage", lambda _, free=free: SimpleNamespace(free=free))
        check_room(most, (320, 240), channels)
        with pytest.raises(InputError, match="may be used; use a shorter stretch"):
            check_room(most + 1, (320, 240), channels)


def test_a_range_of_frames_is_a_window() -> None:
    window = FrameRange([np.full((2, 2, 3), n, np.uint8) for n in range(9)], 3, 7)
    assert len(window) == 4
    assert [int(frame[0, 0, 0]) for frame in window] == [3, 4, 5, 6]
    assert [int(window[place][0, 0, 0]) for place in (0, 3, -1)] == [3, 6, 6]
