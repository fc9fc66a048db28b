"""Our steps as moviepy effects, on a real clip."""

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from moviepy import ImageClip, VideoClip, VideoFileClip

from ghostprep.clip.glance import COARSE
from ghostprep.effects import (
    Appear,
    Calm,
    ForPane,
    KeyToBlack,
    SeamlessLoop,
    SizeForScene,
    frame_at,
    frame_count,
)
from ghostprep.effects.frames import counted, frames_of, glimpses_of, rate_of
from ghostprep.errors import InputError
from ghostprep.loop import mixed, plan_appearances, plan_loop
from ghostprep.picture import Keyed, learn_key
from ghostprep.picture.calm import calm
from ghostprep.prepare.figure import Measures, measured
from ghostprep.transfer import rounded

SCENE = Path(__file__).parents[1] / "sample_media" / "scene.toml"

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


def test_the_key_is_the_pipelines(green_clip: Path) -> None:
    with VideoFileClip(str(green_clip)) as clip:
        keyer = learn_key(glimpses_of(clip)).at(None, tuple(clip.size), tuple(clip.size))
        keyed = clip.with_effects([KeyToBlack()])
        for n in (0, 7, 20):
            assert (frame_at(keyed, n) == keyer(frame_at(clip, n)).codes).all()


def test_a_large_clip_is_learned_from_small_frames_as_by_make() -> None:
    """From frames of its full size, the sample's veil stays green."""
    with VideoFileClip(str(SCENE.with_name("purser_green.mp4"))) as whole:
        clip = whole.subclipped(0, 0.2)
        small = glimpses_of(clip, COARSE)
        assert {frame.shape for frame in small} == {(360, 640, 3)}
        keyer = learn_key(small).at(None, (1280, 720), (1280, 720))
        assert (frame_at(clip.with_effects([KeyToBlack()]), 3) == keyer(frame_at(clip, 3)).codes).all()


@pytest.mark.parametrize("join", ["ends", "there-and-back", "fades", "none"])
def test_each_join_is_the_pipelines(green_clip: Path, join: str) -> None:
    with VideoFileClip(str(green_clip)) as clip:
        blend_s = None if join == "none" else 0.2
        plan = plan_loop(join, frame_count(clip), rate_of(clip), crossfade_s=blend_s)
        looped = clip.with_effects([SeamlessLoop(join=join, crossfade_s=blend_s)])
        assert frame_count(looped) == len(plan)
        for n in (0, 1, len(plan) // 2, len(plan) - 1):
            expected = mixed(plan, plan.steps[n], lambda source: frame_at(clip, source))
            assert (frame_at(looped, n) == expected).all()


def test_a_calmed_clip_is_calmed_as_the_pipeline_does(green_clip: Path) -> None:
    with VideoFileClip(str(green_clip)) as clip:
        short = clip.subclipped(0, 0.5)
        flashing = short.image_transform(lambda f: f if f[0, 0, 1] % 2 else 255 - f)
        calmed = flashing.with_effects([Calm()])
        expected = [rounded(figure) for figure in calm(lambda: frames_of(flashing), rate_of(flashing))]
        assert frame_count(calmed) == len(expected)
        assert all((frame_at(calmed, n) == frame).all() for n, frame in enumerate(expected))


def test_a_ghost_appears_when_the_schedule_says(green_clip: Path) -> None:
    with VideoFileClip(str(green_clip)) as clip:
        short = clip.subclipped(0, 1)
        shown = short.with_effects([Appear((2, 4), 20, seed=3)])
        schedule = plan_appearances([frame_count(short)], rate_of(short), every_s=(2, 4), total_s=20, seed=3)
        assert frame_count(shown) == schedule.frames == len(list(schedule))
        places = list(schedule)
        for n in [*range(0, schedule.frames, 7), schedule.frames - 1]:
            what = places[n]
            expected = 0 if what is None else frame_at(short, what[1])
            assert (frame_at(shown, n) == expected).all()


def test_the_figure_stands_as_tall_on_the_screen_as_the_scene_asks(green_clip: Path) -> None:
    with VideoFileClip(str(green_clip)) as clip:
        keyed = clip.with_effects([KeyToBlack()])
        sized = keyed.with_effects([SizeForScene(SCENE)])
        assert frame_at(sized, 0).shape == (240, 320, 3)
        # turned back from the mount, and mirrored as by the pane: a figure of 1.7 m at 1:24
        upright = [np.rot90(frame_at(sized, n), 1)[:, ::-1] for n in range(0, frame_count(sized), 3)]
        rows = [measured(_bare(frame), (240, 320)) for frame in upright]
        body = Measures.of(rows).body((240, 320))
        assert body is not None
        pitch_mm = 81.6 / 320
        assert body.height * pitch_mm == pytest.approx(1700 / 24, abs=1.5)


def test_a_figure_in_dark_boots_stands_on_them() -> None:
    fits = []
    for boots in (200, 30):
        frame = np.zeros((240, 320, 3), np.uint8)
        frame[40:200, 140:180] = 200
        frame[170:200, 140:180] = boots
        clip = VideoClip(lambda _, frame=frame: frame, duration=0.2).with_fps(25)
        fits.append(SizeForScene(SCENE).fit(clip))
    assert fits[0] == fits[1]


def test_a_black_clip_has_no_size(green_clip: Path) -> None:
    with VideoFileClip(str(green_clip)) as clip, pytest.raises(InputError, match="there is no figure"):
        clip.image_transform(np.zeros_like).with_effects([SizeForScene(SCENE)])


def test_a_clips_mask_is_its_alpha() -> None:
    """Green all over, and a mask that leaves half of the left side and all of the right one out."""
    half = np.zeros((48, 64))
    half[:, :32] = 0.5
    clip = VideoClip(lambda _: np.full((48, 64, 3), (40, 200, 60), np.uint8), duration=1).with_fps(25)
    masked = clip.with_mask(VideoClip(lambda _: half, is_mask=True, duration=1).with_fps(25))
    keyed = masked.with_effects([KeyToBlack()])
    frame = frame_at(keyed, 3)
    assert keyed.mask is None
    assert frame[:, 32:].max() == 0
    assert 20 < frame[5, 5, 1] < 200
    with pytest.raises(InputError, match="the clip has no alpha"):
        clip.with_effects([KeyToBlack(kind="alpha")])


def test_a_mask_is_turned_with_its_picture_and_does_not_outlast_a_loop() -> None:
    numbers = np.arange(24, dtype=np.float64).reshape(4, 6) / 24
    clip = numbered(10, 25).with_mask(VideoClip(lambda _: numbers, is_mask=True, duration=0.4).with_fps(25))
    turned = clip.with_effects([ForPane(turn=90)])
    assert turned.mask.get_frame(0).shape == (6, 4)
    assert (np.rot90(turned.mask.get_frame(0), -1)[:, ::-1] == numbers).all()
    assert clip.with_effects([SeamlessLoop(join="none")]).mask is None


@pytest.mark.parametrize(
    ("effect", "message"),
    [
        (lambda: SeamlessLoop((3, 1)), "--length: is 3-1, its MIN must be no more than its MAX"),
        (lambda: SeamlessLoop(join="end"), "SeamlessLoop.join: is 'end', it must be one of 'search', 'ends'"),
        (lambda: SeamlessLoop(join="ends", crossfade_s=-1), "--crossfade: is -1, it must be in 0"),
        (lambda: ForPane(turn=45), "--turn: is 45, it must be 0, 90, 180 or 270"),
    ],
)
def test_a_setting_is_refused_as_by_make(effect, message: str) -> None:
    with pytest.raises(InputError, match=message):
        effect()


def test_a_still_without_a_rate_or_a_length_is_told_what_it_lacks() -> None:
    still = ImageClip(np.zeros((4, 6, 3), np.uint8))
    with pytest.raises(InputError, match="clip: has no fps; give it one by with_fps"):
        still.with_effects([KeyToBlack()])
    with pytest.raises(InputError, match="clip: has no duration; give it one by with_duration"):
        still.with_fps(25).with_effects([Calm()])


def _bare(frame: np.ndarray) -> Keyed:
    return Keyed(frame, np.ascontiguousarray(frame.max(-1)))


def numbered(count: int, fps: float) -> VideoClip:
    """A clip whose frames show their own number if asked for within a tenth of their middle, else 255."""

    def at(t: float) -> np.ndarray:
        return np.full((4, 6, 3), int(t * fps) if 0.4 <= t * fps % 1 <= 0.6 else 255, np.uint8)

    return VideoClip(at, duration=count / fps).with_fps(fps)


@pytest.mark.parametrize("fps", [25, 30000 / 1001, 59.94])
@pytest.mark.parametrize("count", [1, 23, 24, 25, 100])
def test_frames_are_counted_and_asked_for_in_their_middle(count: int, fps: float) -> None:
    clip = numbered(count, fps)
    assert frame_count(clip) == count
    assert [int(frame[0, 0, 0]) for frame in frames_of(clip)] == list(range(count))


def test_glimpses_are_up_to_24_and_lie_evenly() -> None:
    assert [int(f[0, 0, 0]) for f in glimpses_of(numbered(10, 25))] == list(range(10))
    assert [int(f[0, 0, 0]) for f in glimpses_of(numbered(240, 25))] == list(range(0, 240, 10))


def test_a_counted_clip_shows_each_frame_at_its_time_and_the_last_at_its_end() -> None:
    clip = counted(numbered(30, 30000 / 1001), 20, lambda n: np.full((4, 6, 3), 10 * n, np.uint8))
    rate = float(rate_of(clip))
    assert rate_of(clip) == Fraction(30000, 1001)
    assert clip.duration == pytest.approx(20 * 1001 / 30000)
    for n in range(20):
        # at its very beginning, which rounding may put a hair before it, and just before the next
        assert clip.get_frame(n / rate)[0, 0, 0] == clip.get_frame((n + 0.999) / rate)[0, 0, 0] == 10 * n
    assert clip.get_frame(clip.duration)[0, 0, 0] == 190


def test_a_saturated_red_stays_unless_it_shall_be_calmed() -> None:
    """A red that flickers fast: left alone without `red`, taken back with it."""

    def at(t: float) -> np.ndarray:
        return np.full((8, 8, 3), (255, 0, 0) if int(t * 25 + 1e-6) % 3 else (127, 127, 127), np.uint8)

    clip = VideoClip(at, duration=2).with_fps(25)
    left = clip.with_effects([Calm()])
    calmed = clip.with_effects([Calm(red=True)])
    most = [max(int(f[0, 0, 0]) - int(f[0, 0, 1]) for f in frames_of(c)) for c in (left, calmed)]
    assert most[1] < most[0] / 2
