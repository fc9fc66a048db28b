"""A clip that repeats itself is cut at its period, whatever its coding added to it."""

import subprocess
from fractions import Fraction

import av
import cv2
import imageio_ffmpeg
import numpy as np
import pytest

from ghostprep.loop import search
from ghostprep.loop.period import _promising, exact_period
from ghostprep.loop.strip import ThumbnailStrip

SIZE = (240, 180)
RATE = Fraction(30)


def pendulum(period: float, count: int, seed: int) -> list[np.ndarray]:
    """A lamp that swings and stands still for a moment at either end, with a camera's noise, on black."""
    rng = np.random.default_rng(seed)
    reach, phase = rng.uniform(12, 24), rng.uniform(0, 2 * np.pi)
    frames = []
    for i in range(count):
        swing = np.sin(2 * np.pi * i / period + phase)
        frame = np.zeros((SIZE[1], SIZE[0], 3), np.uint8)
        x, y = 120 + reach * swing, 90 + 4 * swing
        at = (round(x * 16), round(y * 16))
        cv2.ellipse(frame, at, (25 * 16, 50 * 16), 10 * swing, 0, 360, (200, 190, 170), -1, cv2.LINE_AA, 4)
        cv2.circle(frame, (at[0], at[1] - 40 * 16), 15 * 16, (230, 180, 150), -1, cv2.LINE_AA, 4)
        noisy = frame + rng.normal(0, 2, frame.shape) * (frame > 0)
        frames.append(np.clip(noisy, 0, 255).astype(np.uint8))
    return frames


def coded(frames: list[np.ndarray], path: str, crf: int) -> list[np.ndarray]:
    """The frames as they come back from an H.264 file, read by PyAV."""
    size = f"{SIZE[0]}x{SIZE[1]}"
    pipe = ("-f", "rawvideo", "-pix_fmt", "rgb24", "-s", size, "-r", "30", "-i", "-")
    coding = ("-c:v", "libx264", "-crf", str(crf), "-pix_fmt", "yuv420p", "-y", path)
    data = b"".join(frame.tobytes() for frame in frames)
    subprocess.run(
        [imageio_ffmpeg.get_ffmpeg_exe(), "-loglevel", "error", *pipe, *coding], input=data, check=True
    )
    with av.open(path) as file:
        return [frame.to_ndarray(format="rgb24") for frame in file.decode(video=0)]


@pytest.mark.parametrize(("count", "crf", "seed"), [(130, 28, 2), (150, 20, 3), (120, 23, 1)])
def test_a_swing_of_37_frames_is_cut_at_its_period(count: int, crf: int, seed: int, tmp_path) -> None:
    strip = ThumbnailStrip()
    for frame in coded(pendulum(37, count, seed), str(tmp_path / "swing.mp4"), crf):
        strip.add(frame)
    found = search(strip, RATE, length_s=(1, 4))
    assert {one.frames % 37 for one in found} == {0}
    assert all(one.blend == 0 for one in found)


@pytest.mark.parametrize("seed", [1, 3])
def test_the_lag_is_that_of_the_motion_around_the_turn(seed: int) -> None:
    """A swing whose lamp burns down repeats no picture; where it turns, one lag looks as good as the next."""
    strip = ThumbnailStrip()
    for i, frame in enumerate(pendulum(37, 150, seed)):
        strip.add(np.rint(frame * (1 - 0.15 * i / 150)).astype(np.uint8))
    best = search(strip, RATE, length_s=(1, 4))[0]
    assert not best.exact
    assert best.frames % 37 == 0


def points(period: float, count: int, noise: float) -> tuple[np.ndarray, np.ndarray]:
    t = 2 * np.pi * np.arange(count) / period
    cloud = np.stack([np.sin(t), np.cos(2 * t), np.sin(3 * t + 1)], axis=1)
    cloud = (cloud + np.random.default_rng(0).normal(0, noise, cloud.shape)).astype(np.float32)
    return cloud, np.linalg.norm(np.diff(cloud, axis=0), axis=1).astype(np.float32)


@pytest.mark.parametrize(
    ("period", "noise", "found"),
    [
        (37, 0.0, 37),
        (37, 0.03, 37),
        (37.1, 0.0, 37),
        (36.8, 0.02, 37),
        (37.5, 0.0, 75),
        (37.4, 0.0, 75),
        (37.3, 0.0, 112),
    ],
)
def test_a_period_is_found_to_a_fifth_of_a_frame(period: float, noise: float, found: int) -> None:
    assert exact_period(*points(period, 200, noise), 10, 120) == found


def test_a_repeat_with_one_other_picture_is_none() -> None:
    cloud, _ = points(37, 120, 0.01)
    cloud[60] += 0.5  # a wink
    steps = np.linalg.norm(np.diff(cloud, axis=0), axis=1).astype(np.float32)
    assert exact_period(cloud, steps, 10, 60) is None


@pytest.mark.parametrize(("offset", "found"), [(0.4, 20), (0.6, None)])
def test_what_is_another_picture_by_half_a_step(offset: float, found: int | None) -> None:
    """One picture of the second turn is moved across the way by a share of a step: noise up to a half."""
    turn = 2 * np.pi * np.arange(50) / 20
    cloud = np.stack([np.cos(turn), np.sin(turn), np.zeros(50)], axis=1).astype(np.float32)
    step = float(np.linalg.norm(cloud[1] - cloud[0]))
    cloud[33, 2] = offset * step
    steps = np.linalg.norm(np.diff(cloud, axis=0), axis=1).astype(np.float32)
    assert exact_period(cloud, steps, 5, 24) == found


@pytest.mark.parametrize(("count", "found"), [(30, 20), (29, None), (22, None)])
def test_half_a_period_must_be_seen_twice(count: int, found: int | None) -> None:
    assert exact_period(*points(20, count, 0.0), 15, 25) == found


@pytest.mark.parametrize(("noise", "promising"), [(0.35, True), (0.6, False)])
def test_a_lag_is_promising_where_half_of_the_usual_distance_is_gone(noise: float, promising: bool) -> None:
    """Pictures without likeness, repeated every 20, and noise that makes a share of all squared distances."""
    rng = np.random.default_rng(2)
    own = np.tile(rng.normal(0, np.sqrt(1 - noise), (20, 400)), (10, 1))
    cloud = (own + rng.normal(0, np.sqrt(noise), own.shape)).astype(np.float32)
    assert (20 in _promising(cloud, 12, 30)) is promising
