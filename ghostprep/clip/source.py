"""Which files may be a clip, and how ffmpeg opens them without opening anything else."""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Final

from ghostprep.clip.sequence import PICTURES, find_pattern, pattern_files
from ghostprep.errors import InputError

PIXELS_MAX: Final = 8192 * 8192
"""Pictures with more pixels are refused: a single frame would take 200 MB."""

# only demuxers that read the one file they are given: no playlist, no concat script, no device
_DEMUXERS: Final = (
    "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,avi,mpegts,mpeg,mpegvideo,m4v,h264,hevc,av1,obu,ivf,"
    "mjpeg,mjpeg_2000,dv,flv,asf,ogg,mxf,nut,wav,yuv4mpegpipe,gif,apng,webp_anim,image2,"
    "png_pipe,jpeg_pipe,webp_pipe,tiff_pipe,bmp_pipe,pam_pipe,pbm_pipe,pgm_pipe,ppm_pipe,"
    "jpegxl_pipe,jpegls_pipe,j2k_pipe,qoi_pipe,sgi_pipe,sunrast_pipe,gif_pipe"
)
_GUARD: Final = {"protocol_whitelist": "file,pipe", "format_whitelist": _DEMUXERS}
_PLAYLIST: Final = re.compile(
    rb"\s*(?:#EXTM3U|ffconcat|file\s+\S|\[playlist\]|<\?xml[^>]*>\s*<(?:MPD|playlist|smil)|<(?:MPD|asx|smil))",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Source:
    """A clip's place and how it is opened; `demuxer` is empty where it is told by the file."""

    path: Path
    url: str
    demuxer: str = ""
    settings: Mapping[str, str] = field(default_factory=dict)
    frames: int | None = None

    @property
    def options(self) -> dict[str, str]:
        """The demuxer's options, with those that keep it from opening anything else."""
        return {**_GUARD, **self.settings}

    @property
    def input(self) -> tuple[str, ...]:
        """How ffmpeg is told."""
        options = (part for name, value in self.options.items() for part in (f"-{name}", value))
        return (*(("-f", self.demuxer) if self.demuxer else ()), *options, "-i", self.url)


def file_url(path: Path) -> str:
    """Return how ffmpeg is told of a local file, so that no name is taken for an option or an address."""
    return f"file:{path.absolute()}"


def open_source(path: Path, rate: Fraction | None = None) -> Source:
    """Check that a clip may be read, and say how.

    Parameters
    ----------
    path : Path
        A file, a folder of numbered pictures, or a pattern such as ``frame_%04d.png``.
    rate : Fraction, optional
        Pictures a second of a sequence; 25 if left out.

    Raises
    ------
    InputError
        It is missing, empty, not a regular file, a playlist, or may not be read; a sequence has a gap.
    """
    where = str(path)
    try:
        info = path.stat()
    except FileNotFoundError:
        if "%" in path.name and path.parent.is_dir():
            return _sequence(path, path, rate)
        raise InputError("there is no such file", where=where, remedy="check the name") from None
    except (OSError, ValueError) as error:
        raise InputError(getattr(error, "strerror", None) or str(error), where=where) from None
    if stat.S_ISDIR(info.st_mode):
        return _sequence(path, find_pattern(path), rate)
    if not stat.S_ISREG(info.st_mode):
        raise InputError("is not a regular file", where=where, remedy="copy the clip to a file first")
    if info.st_size == 0:
        raise InputError("is empty (0 bytes)", where=where, remedy="copy or download it again")
    try:
        with path.open("rb") as file:
            head = file.read(512)
    except OSError as error:
        raise InputError(error.strerror or str(error), where=where, remedy="check its permissions") from None
    if _PLAYLIST.match(head):
        raise InputError("is a playlist that names other files", where=where, remedy="name the clip itself")
    # a still whose path has a % in it would be taken for a pattern
    literal = path.suffix.lower() in PICTURES and "%" in str(path.absolute())
    if literal:
        return Source(path, file_url(path), "image2", {"pattern_type": "none"})
    return Source(path, file_url(path))


def _sequence(path: Path, pattern: Path, rate: Fraction | None) -> Source:
    first, count = pattern_files(pattern)
    rate = rate or Fraction(25)
    # a % in a folder's name is no counter
    folder = str(pattern.absolute().parent).replace("%", "%%")
    return Source(
        path,
        f"file:{folder}{os.sep}{pattern.name}",
        "image2",
        {
            "pattern_type": "sequence",
            "start_number": str(first),
            "framerate": f"{rate.numerator}/{rate.denominator}",
        },
        frames=count,
    )
