"""Clips made on the spot: a card of colour patches that tells its own orientation and number."""

import subprocess
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import imageio_ffmpeg
import numpy as np
import numpy.typing as npt
import psutil
import pytest

Frame = npt.NDArray[np.uint8]

PATCHES = np.array(
    [
        [[200, 40, 40], [40, 180, 60], [50, 60, 200], [128, 128, 128]],
        [[210, 190, 40], [60, 180, 190], [180, 70, 170], [30, 30, 30]],
    ],
    np.uint8,
)


class Card:
    """A picture of eight patches, no two alike, over a row of squares that count the frame in binary."""

    size = (128, 96)
    patches = PATCHES
    centres = tuple((x * 32 + 16, y * 40 + 20) for y in range(2) for x in range(4))

    @staticmethod
    def frame(number: int = 0) -> Frame:
        top = np.repeat(np.repeat(PATCHES, 40, axis=0), 32, axis=1)
        bits = [16 + 219 * (number >> bit & 1) for bit in range(8)]
        row = np.repeat(np.repeat(np.array(bits, np.uint8)[None, :, None], 16, axis=0), 16, axis=1)
        return np.concatenate([top, np.broadcast_to(row, (16, 128, 3))])

    @classmethod
    def frames(cls, count: int) -> list[Frame]:
        return [cls.frame(i) for i in range(count)]

    @staticmethod
    def number(frame: Frame) -> int:
        """Read the number off a frame of any size."""
        height, width = frame.shape[:2]
        row = frame[round(height * 88 / 96), :, 0] if frame.ndim == 3 else frame[round(height * 88 / 96)]
        return sum(int(row[round((bit * 16 + 8) * width / 128)] > 128) << bit for bit in range(8))

    @classmethod
    def colours(cls, frame: Frame, *, crop: int = 6) -> npt.NDArray[np.float64]:
        """Return the mean colour of each patch's middle, of a frame of the card's size: (8, 3)."""
        return np.array(
            [
                frame[y - crop : y + crop, x - crop : x + crop].reshape(-1, frame.shape[2]).mean(0)
                for x, y in cls.centres
            ]
        )


@pytest.fixture
def card() -> type[Card]:
    return Card


@pytest.fixture
def ffmpeg() -> Callable[..., None]:
    """Run ffmpeg; it must succeed."""

    def run(*arguments: object, feed: bytes | None = None) -> None:
        command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-y", *map(str, arguments)]
        done = subprocess.run(command, input=feed, capture_output=True, check=False)
        assert done.returncode == 0, done.stderr.decode()

    return run


@pytest.fixture
def encode(ffmpeg: Callable[..., None], tmp_path: Path) -> Callable[..., Path]:
    """Encode frames with ffmpeg into a file in the test's folder."""

    def run(name: str, *arguments: object, frames: Sequence[Frame], rate: object = 25) -> Path:
        height, width, channels = frames[0].shape
        path = tmp_path / name
        ffmpeg(
            *("-f", "rawvideo", "-pix_fmt", "rgb24" if channels == 3 else "rgba"),
            *("-video_size", f"{width}x{height}", "-framerate", rate, "-i", "pipe:0"),
            *(*arguments, f"file:{path}"),
            feed=b"".join(f.tobytes() for f in frames),
        )
        return path

    return run


@pytest.fixture(autouse=True)
def no_process_left() -> Iterator[None]:
    """Hold every test of this room to leaving no child behind."""
    yield
    left = [p for p in psutil.Process().children(recursive=True) if "ffmpeg" in p.name()]
    assert not left, f"still running: {left}"
