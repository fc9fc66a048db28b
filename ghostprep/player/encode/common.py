"""What encoders share: how a container is written, colour tags, a file that is the same each time."""

from __future__ import annotations

from typing import Final

from ghostprep.player.profile import ColourLimits

REPEATABLE: Final = ("-map_metadata", "-1", "-fflags", "+bitexact", "-flags", "+bitexact")
"""No date and no version is written, so the same frames give the same bytes."""

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


def colour_tags(colour: ColourLimits) -> str:
    """Return the filter that tags frames that come in as i420 with what they are."""
    matrix = {"bt709": "bt709", "bt601": "smpte170m"}[colour.matrix]
    return (
        f"setparams=range={'tv' if colour.range == 'limited' else 'pc'}"
        f":colorspace={matrix}:color_primaries=bt709:color_trc=bt709"
    )
