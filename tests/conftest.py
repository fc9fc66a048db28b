"""Clips made on the spot, with known truth."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path

import cv2
import numpy as np
import pytest

from ghostprep.clip import write_frames

GREEN = (40, 170, 70)
X264 = (
    "-vf", "scale=out_color_matrix=bt709:out_range=tv", "-c:v", "libx264", "-preset", "veryfast",
    "-crf", "14",
    "-pix_fmt", "yuv420p", "-color_range", "tv", "-colorspace", "bt709", "-color_primaries", "bt709",
    "-color_trc", "bt709",
)  # fmt: skip


def letter_figure(size: tuple[int, int], phase: float) -> tuple[np.ndarray, np.ndarray]:
    """A letter F of a figure that sways with `phase` (turns): its picture (h, w, 3) and coverage (h, w)."""
    width, height = size
    matte = np.zeros((height, width), np.uint8)
    x = round(width * (0.5 + 0.06 * math.sin(2 * math.pi * phase)))
    stroke, top, bottom = width // 16, height // 6, height - height // 8
    cv2.rectangle(matte, (x - width // 8, top), (x - width // 8 + stroke, bottom), 255, -1)
    cv2.rectangle(matte, (x - width // 8, top), (x + width // 8, top + stroke), 255, -1)
    cv2.rectangle(matte, (x - width // 8, height // 2 - stroke), (x + width // 16, height // 2), 255, -1)
    matte = cv2.GaussianBlur(matte, (0, 0), 0.8)
    shade = np.linspace(230, 120, height, dtype=np.float32)[:, None, None]
    return np.broadcast_to(shade * np.float32([1.0, 0.9, 0.75]), (height, width, 3)), matte


@pytest.fixture(scope="session", autouse=True)
def own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A cache for these tests alone; processes that they start use it too."""
    folder = tmp_path_factory.mktemp("cache")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("GHOSTPREP_CACHE", str(folder))
        yield folder


@pytest.fixture(scope="session")
def green_clip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A letter F that sways before green: 320x240, 30 fps, 90 frames, one sway a second."""
    path = tmp_path_factory.mktemp("clips") / "letter_green.mp4"
    write_frames(path, letter_frames((320, 240), 90, 30), size=(320, 240), rate=Fraction(30), arguments=X264)
    return path


@pytest.fixture(scope="session")
def make_letter_clip() -> Callable[..., Path]:
    """Return a maker of letter clips of any size, length, rate and coding."""

    def make(
        path: Path,
        size: tuple[int, int] = (320, 240),
        frames: int = 60,
        rate: Fraction = Fraction(30),
        arguments: tuple[str, ...] = X264,
    ) -> Path:
        write_frames(
            path, letter_frames(size, frames, round(rate)), size=size, rate=rate, arguments=arguments
        )
        return path

    return make


def letter_frames(size: tuple[int, int], frames: int, period: int) -> Iterator[np.ndarray]:
    rng = np.random.default_rng(7)
    for n in range(frames):
        figure, matte = letter_figure(size, n / period)
        alpha = matte[..., None].astype(np.float32) / 255
        shown = figure * alpha + np.float32(GREEN) * (1 - alpha)
        yield np.clip(shown + rng.normal(0, 1.5, shown.shape), 0, 255).astype(np.uint8)
