"""What to ask of each encoder; a file a coding."""

from __future__ import annotations

from ghostprep.player.attempt import Setting, Shape
from ghostprep.player.encode.common import FORMS, REPEATABLE
from ghostprep.player.encode.h264 import h264_arguments
from ghostprep.player.encode.hevc import hevc_arguments
from ghostprep.player.encode.mjpeg import mjpeg_arguments
from ghostprep.player.encode.mpeg import mpeg1_arguments, mpeg4_arguments
from ghostprep.player.encode.regions import Stretches
from ghostprep.player.profile import Profile


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


def arguments_for(
    profile: Profile, shape: Shape, setting: Setting, regions: Stretches = (), *, draft: bool = False
) -> tuple[str, ...]:
    """Return ffmpeg's output arguments for a profile's coding; see each coding's own file.

    A draft, and what is coded without one, is coded fast: a draft's bits are not handed over, and without
    one bits are plenty.
    """
    fast = draft or (setting.rim is not None and not setting.settled)
    match profile.codec:
        case "h264":
            return h264_arguments(profile, shape, setting, regions, fast=fast)
        case "mjpeg":
            return mjpeg_arguments(profile, setting.quality)
        case "hevc":
            return hevc_arguments(profile, shape, setting, regions, fast=fast)
        case "mpeg1":
            return mpeg1_arguments(profile, shape, setting)
        case "mpeg4":
            return mpeg4_arguments(profile, shape, setting)
        case "ffv1":
            return ffv1_arguments()
