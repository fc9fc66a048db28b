"""How each container is written."""

from __future__ import annotations

from typing import Final

FORMS: Final[dict[str, tuple[str, ...]]] = {
    # the index first, so that a player can start at once; no edit list, which many pass over
    "mp4": ("-movflags", "+faststart", "-use_editlist", "0", "-f", "mp4"),
    "avi": ("-f", "avi"),
    "mkv": ("-f", "matroska"),
    "mpeg-ps": ("-f", "mpeg"),
    "h264-stream": ("-f", "h264"),
    "jpeg-stream": ("-f", "mjpeg"),
}
"""ffmpeg's arguments for each container of `Profile`."""
