"""Motion JPEG for small boards."""

from __future__ import annotations

from ghostprep.player.encode.common import REPEATABLE, colour_arguments
from ghostprep.player.profile import Profile


def mjpeg_arguments(profile: Profile, quality: float) -> tuple[str, ...]:
    """Return ffmpeg's output arguments.

    Parameters
    ----------
    profile : Profile
    quality : float
        ffmpeg's quantiser scale, 1 (best) to 31.
    """
    form = ("-f", "avi") if profile.container == "avi" else ("-f", "mjpeg")
    return (
        *colour_arguments(profile.colour),
        "-c:v", "mjpeg",
        # boards that hold the tables of T.81 Annex K in ROM decode no others
        "-huffman", "default",
        "-qmin", "1",
        "-q:v", f"{quality:g}",
        *REPEATABLE,
        *form,
    )  # fmt: skip
