"""Which files may be a clip, and how ffmpeg opens them without opening anything else."""

from __future__ import annotations

import os
import stat
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from ghostprep.errors import InputError

PIXELS_MAX: Final = 8192 * 8192
"""Pictures with more pixels are refused: one frame would take 200 MB."""

# only demuxers that read the one file they are given: no playlist, no concat script, no device
DEMUXERS: Final = (
    "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,avi,mpegts,mpeg,mpegvideo,m4v,h264,hevc,av1,obu,ivf,"
    "mjpeg,dv,flv,asf,ogg,mxf,nut,yuv4mpegpipe,gif,apng,webp_anim,gxf,image2,"
    "png_pipe,jpeg_pipe,webp_pipe,tiff_pipe,bmp_pipe,pam_pipe,pbm_pipe,pgm_pipe,ppm_pipe,exr_pipe,"
    "jpegxl_pipe,jpegls_pipe,j2k_pipe,qoi_pipe,dpx_pipe,sgi_pipe,sunrast_pipe,gif_pipe"
)
GUARD: Final = ("-protocol_whitelist", "file,pipe", "-format_whitelist", DEMUXERS)


@dataclass(frozen=True, slots=True)
class Source:
    """A clip's place and how ffmpeg is told to open it."""

    path: Path
    input: tuple[str, ...]
    frames: int | None = None


def file_url(path: Path) -> str:
    """Return how ffmpeg is told of a local file, so that no name is taken for an option or an address."""
    return f"file:{path.absolute()}"


def open_source(path: Path) -> Source:
    """Check that a clip may be read, and say how.

    Raises
    ------
    InputError
        It is missing, empty, not a regular file, or may not be read.
    """
    where = str(path)
    try:
        info = path.stat()
    except FileNotFoundError:
        raise InputError("there is no such file", where=where, remedy="check the name") from None
    except (OSError, ValueError) as error:
        raise InputError(getattr(error, "strerror", None) or str(error), where=where) from None
    if stat.S_ISDIR(info.st_mode):
        raise InputError("is a folder", where=where, remedy="name a clip in it")
    if not stat.S_ISREG(info.st_mode):
        raise InputError("is not a regular file", where=where, remedy="copy the clip to a file first")
    if info.st_size == 0:
        raise InputError("is empty (0 bytes)", where=where, remedy="copy or download it again")
    if not os.access(path, os.R_OK):
        raise InputError("may not be read", where=where, remedy="change its permissions")
    return Source(path, (*GUARD, "-i", file_url(path)))
