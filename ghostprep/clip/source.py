"""Which files may be a clip, and how ffmpeg opens them without opening anything else."""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import Final

from ghostprep.errors import InputError, reason

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
_PICTURES: Final = frozenset(
    {
        *(".png", ".jpg", ".jpeg", ".webp", ".tif", ".tiff", ".bmp", ".tga", ".jp2", ".j2k", ".jxl"),
        *(".ppm", ".pgm", ".pbm", ".pam", ".qoi", ".sgi"),
    }
)
"""Endings of pictures."""
PICTURES_RATE: Final = Fraction(25)
"""A second, where nobody says: numbered pictures tell no rate, and ffmpeg's own programs take this one."""
_COUNTER: Final = re.compile(r"%(0?)(\d*)d")
_NUMBERED: Final = re.compile(r"(.*?)(\d+)(\.[^.]+)")


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


def own_name(path: Path) -> Path:
    """Return a clip's path with a name at its end: a folder may be told as ``.`` or ``..``."""
    return path if path.name not in ("", "..") else path.resolve()


def open_source(path: Path, pictures: Fraction | None = None) -> Source:
    """Check that a clip may be read, and say how.

    Parameters
    ----------
    path : Path
        A file, a folder of numbered pictures, or a pattern such as ``frame_%04d.png``.
    pictures : Fraction, optional
        How many of numbered pictures are shown a second.

    Raises
    ------
    InputError
        It is missing, empty, not a regular file, a playlist, or may not be read; a sequence has a gap.
    """
    no = partial(InputError, where=str(path))
    try:
        info = path.stat()
    except FileNotFoundError:
        if "%" in path.name and path.parent.is_dir():
            return _sequence(path, path, pictures)
        many = set("*?") & set(path.name)
        remedy = "name numbered pictures by a counter, like frame_%04d.png" if many else "check the name"
        raise no("there is no such file", remedy=remedy) from None
    except (OSError, ValueError) as error:
        raise no(reason(error)) from None
    if stat.S_ISDIR(info.st_mode):
        return _sequence(own_name(path), _find_pattern(path), pictures)
    if not stat.S_ISREG(info.st_mode):
        raise no("is not a regular file", remedy="copy the clip to a file first")
    if info.st_size == 0:
        raise no("is empty (0 bytes)", remedy="copy or download it again")
    try:
        with path.open("rb") as file:
            head = file.read(512)
    except OSError as error:
        raise no(reason(error), remedy="check its permissions") from None
    if _PLAYLIST.match(head):
        raise no("is a playlist that names other files", remedy="name the clip itself")
    # a still whose path has a % in it would be taken for a pattern
    if path.suffix.lower() in _PICTURES and "%" in str(path.absolute()):
        return Source(path, file_url(path), "image2", {"pattern_type": "none"})
    return Source(path, file_url(path))


def _sequence(path: Path, pattern: Path, rate: Fraction | None) -> Source:
    first, count = _pattern_files(pattern)
    # a % in a folder's name is no counter
    folder = str(pattern.absolute().parent).replace("%", "%%")
    settings = {"start_number": str(first), "framerate": str(rate or PICTURES_RATE)}
    url = f"file:{folder}{os.sep}{pattern.name}"
    return Source(path, url, "image2", {"pattern_type": "sequence", **settings}, frames=count)


def _find_pattern(folder: Path) -> Path:
    """Return the pattern that the pictures in a folder are named by; InputError if there is not just one."""
    no = partial(InputError, where=str(folder))
    try:
        names = [
            p.name for p in folder.iterdir() if p.suffix.lower() in _PICTURES and not p.name.startswith(".")
        ]
    except OSError as error:
        raise no(reason(error)) from None
    if not names:
        raise no("is a folder with no pictures in it", remedy="name a clip, or a folder of pictures")
    series: dict[tuple[str, str], list[str]] = {}
    others: list[str] = []
    for name in sorted(names):
        if found := _NUMBERED.fullmatch(name):
            series.setdefault((found[1], found[3]), []).append(found[2])
        else:
            others.append(name)
    if not series:
        what = f"is a folder without numbered pictures: {others[0]} has no number"
        raise no(what, remedy="name a clip or a picture itself, or number them like frame_0001.png")
    (prefix, suffix), numbers = next(iter(series.items()))
    pattern = folder / _pattern_name(prefix, numbers, suffix)
    if len(series) > 1:
        kinds = ", ".join(f"{a}#{b}" for a, b in sorted(series)[:3])
        raise no(f"holds several sequences ({kinds})", remedy=f"name one, like {pattern}")
    if others:
        raise no(f"holds {others[0]} beside numbered pictures", remedy=f"name only these: {pattern}")
    return pattern


def _pattern_name(prefix: str, numbers: Sequence[str], suffix: str) -> str:
    """Return the name, with a counter, of pictures of one name and these numbers."""
    width = min(map(len, numbers))
    padded = any(number.startswith("0") and len(number) > 1 for number in numbers)
    counter = f"%0{width}d" if padded and width > 1 else "%d"
    return f"{prefix.replace('%', '%%')}{counter}{suffix}"


def pattern_around(picture: Path) -> Path | None:
    """Return the pattern of the numbered pictures that a picture is one of; None where it is alone."""
    found = _NUMBERED.fullmatch(picture.name)
    if found is None or picture.suffix.lower() not in _PICTURES:
        return None
    prefix, number, suffix = found.groups()
    beside = (f"{int(number) + step:0{len(number)}d}" for step in (1, -1) if int(number) + step >= 0)
    numbers = [one for one in beside if picture.with_name(f"{prefix}{one}{suffix}").is_file()]
    return picture.with_name(_pattern_name(prefix, [number, *numbers], suffix)) if numbers else None


def _pattern_files(pattern: Path) -> tuple[int, int]:
    """Return the first number and how many pictures a pattern names; InputError where one is missing."""
    no = partial(InputError, where=str(pattern))
    counters = list(_COUNTER.finditer(pattern.name.replace("%%", "\0\0")))
    if len(counters) != 1 or pattern.suffix.lower() not in _PICTURES:
        what = "there is no such file, and it is no pattern of pictures"
        raise no(what, remedy="write one counter, like frame_%04d.png")
    found = counters[0]
    width = int(found[2] or 1) if found[1] else 1
    before, after = (
        part.replace("%%", "%") for part in (pattern.name[: found.start()], pattern.name[found.end() :])
    )
    # what ffmpeg's counter prints: padded to the width, longer where the number is
    digits = re.compile(rf"{re.escape(before)}(\d{{{width},9}}){re.escape(after)}")
    numbers = sorted(
        int(m[1])
        for p in pattern.parent.iterdir()
        if (m := digits.fullmatch(p.name)) and (len(m[1]) == width or not m[1].startswith("0"))
    )
    if not numbers:
        raise no("no picture fits this pattern", remedy="check its name and counter")
    for expected, number in enumerate(numbers, start=numbers[0]):
        if number != expected:
            missing = f"{before}{expected:0{width}d}{after}"
            raise no(f"the picture {missing} is missing", remedy="render it again, or renumber")
    return numbers[0], len(numbers)
