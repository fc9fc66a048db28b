"""FFV1: the loop kept without loss."""

from __future__ import annotations

from ghostprep.player.encode.common import FORMS, REPEATABLE


def ffv1_arguments() -> tuple[str, ...]:
    """Return ffmpeg's output arguments: RGB, every frame on its own, slices with checksums."""
    return (
        "-vf", "format=bgr0,setparams=range=pc:colorspace=gbr:color_primaries=bt709:color_trc=iec61966-2-1",
        "-c:v", "ffv1",
        "-level", "3",
        "-g", "1",
        "-slices", "4",
        "-slicecrc", "1",
        *REPEATABLE,
        *FORMS["mkv"],
    )  # fmt: skip
