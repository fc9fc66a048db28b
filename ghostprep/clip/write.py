"""Writes frames through an encoder, or copies packets, and believes only the exit status."""

from __future__ import annotations

import math
import re
import threading
from collections.abc import Iterable, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Final

import numpy as np

from ghostprep.arrays import Frame
from ghostprep.clip.child import AGAIN, Child
from ghostprep.clip.pixels import Pixels, ffmpeg_name, frame_shape
from ghostprep.clip.source import file_url, open_source
from ghostprep.errors import JobError

_FULL: Final = re.compile("No space left|File too large|Disk quota")
_ROOM: Final = "free some space there"
_TAKEN: Final = "@taken@"
"""What ffmpeg says of each frame that goes to the encoder."""
_AHEAD_BYTES: Final = 12_000_000
"""Bytes of frames that may wait in ffmpeg for the encoder; left alone, it holds a dozen of any size."""


def write_frames(
    path: Path,
    frames: Iterable[Frame],
    *,
    size: tuple[int, int],
    rate: Fraction,
    arguments: Sequence[str],
    pixels: Pixels = "rgb24",
) -> int:
    """Encode frames into a file.

    Parameters
    ----------
    path : Path
        Where to write; replaced if it exists (give a temporary, see `ghostprep.deliver`).
    frames : iterable of ndarray of uint8
        (h, w, 3) for ``rgb24``, (h, w, 4) for ``rgba``, (h*3//2, w) for ``i420``.
    arguments : sequence of str
        The encoder's arguments, from the codec to the muxer.

    Returns
    -------
    int
        How many frames were written.

    Raises
    ------
    JobError
        The encoder refused, failed or stood still, or a frame has another size.
    """
    shape = frame_shape(size, pixels)
    command = [
        *("-loglevel", "level+error", "-y", "-f", "rawvideo"),
        *("-pix_fmt", ffmpeg_name(pixels)),
        *("-video_size", f"{size[0]}x{size[1]}"),
        *("-framerate", f"{rate.numerator}/{rate.denominator}", "-i", "pipe:0"),
        *arguments,
        *("-stats_enc_pre:v", "pipe:2", "-stats_enc_pre_fmt", _TAKEN),
        file_url(path),
    ]
    room = threading.Semaphore(max(_AHEAD_BYTES // math.prod(shape), 3))

    def taken(line: str) -> bool:
        if found := _TAKEN in line:
            room.release()
        return found

    with Child(command, feed=True, on_line=taken) as child:
        written = _feed(child, frames, shape, path, room)
        _finish_file(child, path, f"the encoder stopped after {written} frames")
        if not written:
            raise JobError("there was no frame to write", where=str(path))
    return written


def _feed(
    child: Child, frames: Iterable[Frame], shape: tuple[int, ...], path: Path, room: threading.Semaphore
) -> int:
    """Write frames to the encoder until they end or it does; its status says later which it was."""
    written = 0
    for frame in frames:
        if frame.shape != shape or frame.dtype != np.uint8:
            what = f"frame {written} is {frame.shape} {frame.dtype}, not {shape} uint8"
            raise JobError(what, where=str(path))
        with child.waiting():
            # a filter may need more frames before it lets one go: then it gets them, if slowly
            room.acquire(timeout=1)
        try:
            child.write(np.ascontiguousarray(frame).data.cast("B"))
        except OSError:
            return written
        written += 1
    child.close_input()
    return written


def run_copy(
    inputs: Sequence[Path], output: Path, arguments: Sequence[str], before: Sequence[str] = ()
) -> None:
    """Run ffmpeg from local files to a local file, usually with ``-c copy``.

    Parameters
    ----------
    inputs, output : Path
        Local media files; `output` is replaced if it exists.
    arguments, before : sequence of str
        Arguments for the output, and for each input, set before it.

    Raises
    ------
    InputError
        An input cannot be read.
    JobError
        It failed or stood still; the message carries ffmpeg's last line.

    Examples
    --------
    Four times the same packets::

        run_copy([loop], out, ["-map", "0", "-c", "copy"], before=["-stream_loop", "3"])
    """
    opened = [part for path in inputs for part in (*before, *open_source(path).input)]
    with Child(["-loglevel", "level+error", "-y", *opened, *arguments, file_url(output)]) as child:
        _finish_file(child, output, "copying stopped")


def _finish_file(child: Child, path: Path, what: str) -> None:
    """Wait until a file is complete, by the child's exit status and the file; `what` names a failure."""
    status = child.finish(growing=path)
    if status != 0 or child.stalled:
        remedy = AGAIN if status < 0 and not child.stalled else _ROOM if _FULL.search(child.reason) else ""
        raise JobError(what, where=str(path), tool_line=child.reason or f"status {status}", remedy=remedy)
    if not path.is_file() or path.stat().st_size == 0:
        raise JobError("nothing was written", where=str(path), tool_line=child.reason)
