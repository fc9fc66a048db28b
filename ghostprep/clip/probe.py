"""Finds out what a clip is: what ffmpeg prints of the file, and of the frames that come out."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Final, Literal

from ghostprep.clip.child import Child
from ghostprep.clip.facts import Alpha, ClipFacts
from ghostprep.clip.source import PIXELS_MAX, Source, open_source
from ghostprep.errors import InputError

_INPUT: Final = re.compile(r"Input #0, (\S+), from ")
_DURATION: Final = re.compile(r"Duration: (\d+):(\d\d):(\d\d(?:\.\d+)?)")
_STREAM: Final = re.compile(r"Stream #0:(\d+)\S*: (Video|Audio): (.*)")
_SIZE: Final = re.compile(r"[, ](\d{1,6})x(\d{1,6})(?:[, ]|$)")
_FRAME: Final = re.compile(
    r"n: *\d+ pts: *(-?\d+|NOPTS) .*?fmt:(\w+) .*?sar:(\d+)/(\d+) s:(\d+)x(\d+) i:(\w)"
)
_COLOUR: Final = re.compile(r"color_range:(\S+) color_space:(\S+) color_primaries:(\S+) color_trc:(\S+)")
_CLOCK: Final = re.compile(r"config in time_base: (\d+)/(\d+), frame_rate: (\d+)/(\d+)")
_TURN: Final = re.compile(r"\[transpose @ \w+\] (?:\[\w+\] )?Setting 'dir' to value '(\w+)'")
_FLIP: Final = re.compile(r"Filter '([hv]flip)' formats")

# what the filters that ffmpeg inserts by itself amount to: (mirrored first, then turned clockwise by)
_TURNS: Final = {
    "clock": (False, 90),
    "cclock": (False, 270),
    "clock_flip": (True, 90),
    "cclock_flip": (True, 270),
}
_ALPHA_DECODERS: Final = {"vp8": "libvpx", "vp9": "libvpx-vp9"}
"""ffmpeg's own decoders of these drop the alpha."""


@dataclass(frozen=True, slots=True)
class _Stream:
    index: int
    codec: str
    size: tuple[int, int]
    cover: bool
    alpha_tagged: bool


def probe(path: Path | str) -> ClipFacts:
    """Read what a clip is.

    Parameters
    ----------
    path : Path or str
        A local file.

    Returns
    -------
    ClipFacts

    Raises
    ------
    InputError
        It cannot be used: missing, not readable, no picture in it, too large, encrypted.
    """
    path = Path(path)
    source = open_source(path)
    lines = _ask("info", [*source.input])
    stream, sound, container, duration = _choose_stream(lines, path)
    opened = source.input
    if stream.alpha_tagged and stream.codec in _ALPHA_DECODERS:
        opened = ("-c:v", _ALPHA_DECODERS[stream.codec], *opened)
    opened = ("-max_pixels", str(PIXELS_MAX), "-fflags", "+discardcorrupt", *opened)
    seen = _ask(
        "debug",  # only there ffmpeg tells which turns and flips it puts in
        [
            "-copyts",
            *opened,
            *("-map", f"0:{stream.index}", "-vf", "showinfo=checksum=0", "-frames:v", "2"),
            *("-fps_mode", "passthrough", "-f", "null", "-"),
        ],
    )
    return _facts(source, stream, opened, seen, sound=sound, container=container, duration=duration)


def _ask(level: str, arguments: list[str]) -> list[str]:
    child = Child(["-loglevel", f"level+{level}", *arguments], keep=20_000)
    try:
        child.finish()
    finally:
        child.end()
    return list(child.lines)


def _choose_stream(lines: list[str], path: Path) -> tuple[_Stream, bool, str, float | None]:
    streams: list[_Stream] = []
    sound, container, duration = False, "", None
    current: int | None = None
    for line in lines:
        if found := _INPUT.search(line):
            container = found[1].rstrip(",")
        elif found := _DURATION.search(line):
            duration = int(found[1]) * 3600 + int(found[2]) * 60 + float(found[3])
        elif found := _STREAM.search(line):
            current = None
            if found[2] == "Audio":
                sound = True
                continue
            text = found[3]
            size = _SIZE.search(text)
            streams.append(
                _Stream(
                    int(found[1]),
                    text.split(" ")[0].rstrip(","),
                    (int(size[1]), int(size[2])) if size else (0, 0),
                    "(attached pic)" in text,
                    alpha_tagged=False,
                )
            )
            current = len(streams) - 1
            if re.search(r"\((encv|enca|drmi)\b", text):
                raise InputError(
                    "is encrypted", where=str(path), remedy="bring a clip without copy protection"
                )
        elif current is not None and re.search(r"alpha_mode\s*: 1", line):
            old = streams[current]
            streams[current] = _Stream(old.index, old.codec, old.size, old.cover, alpha_tagged=True)
    if not container:
        raise InputError(
            "is not a clip that can be read",
            where=str(path),
            tool_line=_last_error(lines),
            remedy="bring a video, a picture or a GIF",
        )
    pictures = [s for s in streams if not s.cover]
    if not pictures:
        what = "holds sound and no moving picture" if sound else "holds no picture"
        raise InputError(what, where=str(path), remedy="bring a video, a picture or a GIF")
    largest = max(pictures, key=lambda s: s.size[0] * s.size[1])
    if largest.size[0] * largest.size[1] > PIXELS_MAX:
        raise InputError(
            f"is {largest.size[0]}x{largest.size[1]}, more than the {PIXELS_MAX} pixels allowed",
            where=str(path),
            remedy="make it smaller first",
        )
    return largest, sound, container, duration


def _facts(
    source: Source,
    stream: _Stream,
    opened: tuple[str, ...],
    seen: list[str],
    *,
    sound: bool,
    container: str,
    duration: float | None,
) -> ClipFacts:
    clock = next((m for line in seen if (m := _CLOCK.search(line))), None)
    frames = [m for line in seen if (m := _FRAME.search(line))]
    if clock is None or not frames:
        raise InputError(
            "not one picture in it can be decoded",
            where=str(source.path),
            tool_line=_last_error(seen),
            remedy="copy or export it again",
        )
    first = frames[0]
    colour = next(m for line in seen if (m := _COLOUR.search(line)))
    pixel_format = first[2]
    rotation, mirrored = _orientation(seen)
    sar = Fraction(int(first[3]), int(first[4]) or 1) or Fraction(1)
    shown = (int(first[5]), int(first[6]))
    rate = Fraction(int(clock[3]), int(clock[4])) if int(clock[3]) and int(clock[4]) else Fraction(25)
    still = container.endswith("_pipe") or container == "image2"
    start = Fraction(0) if first[1] == "NOPTS" else int(first[1]) * Fraction(int(clock[1]), int(clock[2]))
    return ClipFacts(
        path=source.path,
        size=_squared(shown, sar),
        coded_size=(shown[1], shown[0]) if rotation % 180 else shown,
        rate=rate,
        frames=1 if still else source.frames,
        duration_s=None if still else duration,
        rotation=rotation,
        mirrored=mirrored,
        sample_aspect=1 / sar if rotation % 180 else sar,
        range=_range(pixel_format, colour[1]),
        matrix=colour[2],
        primaries=colour[3],
        transfer=colour[4],
        alpha=_alpha(pixel_format, seen),
        codec=stream.codec,
        pixel_format=pixel_format,
        container=container,
        bit_depth=_depth(pixel_format),
        interlaced=first[7] in "TB",
        sound=sound,
        still=still,
        start=start,
        stream=stream.index,
        input=opened,
    )


def _squared(size: tuple[int, int], sar: Fraction) -> tuple[int, int]:
    """Return the size with square pixels: the height stays, the width follows."""
    return max(round(size[0] * sar), 1), size[1]


def _orientation(lines: list[str]) -> tuple[int, bool]:
    for line in lines:
        if found := _TURN.search(line):
            mirrored, turn = _TURNS[found[1]]
            return turn, mirrored
    flips = {m[1] for line in lines if (m := _FLIP.search(line))}
    if flips == {"hflip", "vflip"}:
        return 180, False
    if flips == {"hflip"}:
        return 0, True
    if flips == {"vflip"}:
        return 180, True
    return 0, False


def _range(pixel_format: str, tagged: str) -> Literal["limited", "full"]:
    if tagged in ("tv", "pc"):
        return "full" if tagged == "pc" else "limited"
    return "limited" if pixel_format.startswith("yuv") and "yuvj" not in pixel_format else "full"


def has_alpha(pixel_format: str) -> bool:
    """Return whether a pixel format carries alpha."""
    return pixel_format.startswith(("yuva", "rgba", "bgra", "argb", "abgr", "gbrap", "ya", "pal8"))


def _alpha(pixel_format: str, lines: list[str]) -> Alpha:
    if not has_alpha(pixel_format):
        return "none"
    return "premultiplied" if any("alpha_mode:premultiplied" in line for line in lines) else "straight"


def _depth(pixel_format: str) -> int:
    found = re.search(
        r"(?:p|gray|rgb|bgr|rgba|bgra|ya|x2rgb|p0|x)(9|10|12|14|16|32|48|64)(?:le|be)?$", pixel_format
    )
    if not found:
        return 8
    return {48: 16, 64: 16}.get(int(found[1]), int(found[1]))


def _last_error(lines: list[str]) -> str:
    for line in reversed(lines):
        if found := re.search(r"\[(?:error|fatal)\] (.*)", line):
            return found[1]
    return ""
