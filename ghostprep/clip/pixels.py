"""The forms of pixels in which frames pass between us and ffmpeg."""

from __future__ import annotations

from typing import Literal

Pixels = Literal["rgb24", "rgba", "i420"]


def ffmpeg_name(pixels: Pixels) -> str:
    """Return what ffmpeg calls a form of pixels."""
    return "yuv420p" if pixels == "i420" else pixels


def frame_shape(size: tuple[int, int], pixels: Pixels) -> tuple[int, ...]:
    """Return the shape of the array of a frame, of a width and height.

    >>> frame_shape((320, 240), "rgba"), frame_shape((320, 240), "i420")
    ((240, 320, 4), (360, 320))
    """
    width, height = size
    if pixels == "i420":
        return (height * 3 // 2, width)
    return (height, width, 4 if pixels == "rgba" else 3)
