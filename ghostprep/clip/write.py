"""Writes frames to a file through an encoder, and believes only its exit status."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Literal

import numpy as np

from ghostprep.clip.child import Child
from ghostprep.clip.source import file_url
from ghostprep.clip.stream import Frame
from ghostprep.errors import JobError


def write_frames(
    path: Path,
    frames: Iterable[Frame],
    *,
    size: tuple[int, int],
    rate: Fraction,
    arguments: Sequence[str],
    pixels: Literal["rgb24", "i420"] = "rgb24",
) -> int:
    """Encode frames into a file.

    Parameters
    ----------
    path : Path
        Where to write; replaced if it exists (give a temporary, see `ghostprep.deliver`).
    frames : iterable of ndarray of uint8
        (h, w, 3) for ``rgb24``, (h*3//2, w) for ``i420``.
    size : (int, int)
        Width and height.
    rate : Fraction
        Frames a second, constant.
    arguments : sequence of str
        The encoder's arguments, from the codec to the muxer.
    pixels : {"rgb24", "i420"}

    Returns
    -------
    int
        How many frames were written.

    Raises
    ------
    JobError
        The encoder refused, failed or stood still, or a frame has another size.
    """
    shape = (size[1], size[0], 3) if pixels == "rgb24" else (size[1] * 3 // 2, size[0])
    child = Child(
        [
            *("-loglevel", "level+error", "-y", "-f", "rawvideo"),
            *("-pix_fmt", "rgb24" if pixels == "rgb24" else "yuv420p"),
            *("-video_size", f"{size[0]}x{size[1]}", "-framerate", f"{rate.numerator}/{rate.denominator}"),
            *("-i", "pipe:0", *arguments, file_url(path)),
        ],
        feed=True,
    )
    written = 0
    try:
        pipe = child.process.stdin
        assert pipe is not None
        for frame in frames:
            if frame.shape != shape or frame.dtype != np.uint8:
                raise JobError(
                    f"frame {written} is {frame.shape} {frame.dtype}, not {shape} uint8", where=str(path)
                )
            data = np.ascontiguousarray(frame).data.cast("B")
            try:
                while data:
                    with child.waiting():
                        sent = pipe.write(data)
                    data = data[sent:]
            except OSError:
                break  # the encoder has gone; its status and last line say why
            written += 1
        with contextlib.suppress(OSError):
            pipe.close()
        status = child.finish()
        if status != 0 or child.stalled:
            raise JobError(
                f"the encoder stopped after {written} frames",
                where=str(path),
                tool_line=child.reason or f"status {status}",
            )
        if not path.is_file() or path.stat().st_size == 0:
            raise JobError("the encoder wrote nothing", where=str(path), tool_line=child.reason)
        return written
    finally:
        child.end()
