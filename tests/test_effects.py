"""Our steps as moviepy effects, on a real clip."""

from pathlib import Path

import numpy as np
import pytest
from moviepy import VideoFileClip

from ghostprep.effects import ForPane, KeyToBlack, SeamlessLoop, frame_at, frame_count
from ghostprep.errors import InputError

# moviepy's reader leaves its pipes to the garbage collector
pytestmark = pytest.mark.filterwarnings(
    "ignore:unclosed file:ResourceWarning", "ignore::pytest.PytestUnraisableExceptionWarning"
)


def test_a_script_keys_loops_and_mirrors(green_clip: Path) -> None:
    with VideoFileClip(str(green_clip)) as clip:
        before = frame_at(clip, 0)
        keyed = clip.with_effects([KeyToBlack()])
        looped = keyed.with_effects([SeamlessLoop((0.9, 2.1))])
        turned = looped.with_effects([ForPane(turn=90)])
        assert (before[5, 5] > (20, 120, 40)).all()  # green
        assert frame_at(keyed, 0)[5, 5].max() == 0
        assert frame_count(looped) % 30 in {0, 1, 29}
        assert frame_at(turned, 0).shape == (320, 240, 3)
        # a player turned clockwise, then mirrored by the pane, shows the picture upright again
        seen = np.rot90(frame_at(turned, 0), -1)[:, ::-1]
        assert (seen == frame_at(looped, 0)).all()


def test_the_loop_has_no_doubled_and_no_lost_frame(green_clip: Path) -> None:
    with VideoFileClip(str(green_clip)) as clip:
        looped = clip.with_effects([KeyToBlack(), SeamlessLoop((0.9, 1.1))])
        frames = [frame_at(looped, n).astype(int) for n in range(frame_count(looped))]
        steps = [np.abs(a - b).mean() for a, b in zip(frames, [*frames[1:], frames[0]], strict=True)]
        assert min(steps) > 0
        assert max(steps) < 4 * float(np.median(steps))


def test_a_clip_too_short_to_loop_is_refused(green_clip: Path) -> None:
    with VideoFileClip(str(green_clip)) as clip, pytest.raises(InputError, match="no two moments"):
        clip.subclipped(0, 0.1).with_effects([SeamlessLoop()])
