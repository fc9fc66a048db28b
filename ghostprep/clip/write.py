"""Writes frames to a file through an encoder, and believes only its exit status."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Final, Literal

import numpy as np

from ghostprep.arrays import Frame
from ghostprep.clip.child import AGAIN, Child
from ghostprep.clip.source import file_url
from ghostprep.errors import JobError

_FULL: Final = re.compile("No space left|File too large|Disk quota")
_ROOM: Final = "free some space there"


def write_frames(
    path: Path,
    frames: Iterable[Frame],
    *,
    size: tuple[int, int],
    rate: Fraction,
    arguments: Sequence[str],
    pixels: Literal["rgb24", "rgba", "i420"] = "rgb24",
) -> int:
    """Encode frames into a file.

    Parameters
    ----------
    path : Path
        Where to write; replaced if it exists (give a temporary, see `ghostprep.deliver`).
    frames : iterable of ndarray of uint8
        (h, w, 3) for ``rgb24``, (h, w, 4) for ``rgba``, (h*3//2, w) for ``i420``.
    size : (int, int)
        Width and height.
    rate : Fraction
        Frames a second, constant.
    arguments : sequence of str
        The encoder's arguments, from the codec to the muxer.
    pixels : {"rgb24", "rgba", "i420"}

    Returns
    -------
    int
        How many frames were written.

    Raises
    ------
    JobError
        The encoder refused, failed or stood still, or a frame has another size.
    """
    shapes = {"rgb24": (size[1], size[0], 3), "rgba": (size[1], size[0], 4)}
    shape = shapes.get(pixels, (size[1] * 3 // 2, size[0]))
    child = Child(
        [
            *("-loglevel", "level+error", "-y", "-f", "rawvideo"),
            *("-pix_fmt", "yuv420p" if pixels == "i420" else pixels),
            *("-video_size", f"{size[0]}x{size[1]}"),
            *("-framerate", f"{rate.numerator}/{rate.denominator}", "-i", "pipe:0"),
            *arguments,
            file_url(path),
        ],
        feed=True,
    )
    try:
        written = _feed(child, frames, shape, path)
        finish_file(child, path, f"the encoder stopped after {written} frames")
        if not written:
            raise JobError("there was no frame to write", where=str(path))
    finally:
        child.end()
    return written


def _feed(child: Child, frames: Iterable[Frame], shape: tuple[int, ...], path: Path) -> int:
    """Write frames to the encoder until they end or it does; its status says later which it was."""
    written = 0
    for frame in frames:
        if frame.shape != shape or frame.dtype != np.uint8:
            raise JobError(
                f"frame {written} is {frame.shape} {frame.dtype}, not {shape} uint8", where=str(path)
            )
        try:
            child.write(np.ascontiguousarray(frame).data.cast("B"))
        except OSError:
            return written
        written += 1
    child.close_input()
    return written


def finish_file(child: Child, path: Path, what: str) -> None:
    """Wait for a child to complete a file, and believe its exit status and the file alone.

    Raises
    ------
    JobError
        `what` says for what job.
    """
    status = child.finish(growing=path)
    if status != 0 or child.stalled:
        raise JobError(
            what,
            where=str(path),
            tool_line=child.reason or f"status {status}",
            remedy=AGAIN if status < 0 and not child.stalled else _ROOM if _FULL.search(child.reason) else "",
        )
    if not path.is_file() or path.stat().st_size == 0:
        raise JobError("nothing was written", where=str(path), tool_line=child.reason)
