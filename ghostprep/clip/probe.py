"""Finds out what a clip is: what ffmpeg prints of the file, and of the frames that come out."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Final, Literal

from ghostprep.clip.alpha import has_alpha, kind_of_alpha
from ghostprep.clip.child import AGAIN, Child, first_error
from ghostprep.clip.describe import Contents, FirstFrames, Picture, read_contents, read_first_frames
from ghostprep.clip.facts import ClipFacts
from ghostprep.clip.protected import is_protected
from ghostprep.clip.source import PIXELS_MAX, Source, open_source
from ghostprep.errors import InputError

_ALPHA_DECODERS: Final = {"vp8": "libvpx", "vp9": "libvpx-vp9"}
"""ffmpeg's own decoders of these drop the alpha."""
_LOOK: Final = 2
"""How many frames are decoded to learn what they are."""
_TRIES: Final = 4
_STALL_S: Final = 30.0
_PLAIN_PIXELS: Final = 1920 * 1200
_LARGE_PIXELS: Final = 4096 * 2304
_BRING: Final = "bring a video, a picture or a GIF"


def probe(path: Path | str, *, rate: Fraction | None = None) -> ClipFacts:
    """Read what a clip is.

    Parameters
    ----------
    path : Path or str
        A local file, a folder of numbered pictures, or a pattern such as ``frame_%04d.png``.
    rate : Fraction, optional
        Pictures a second of a sequence; 25 if left out. Other clips know their own.

    Returns
    -------
    ClipFacts

    Raises
    ------
    InputError
        It cannot be used: missing, not readable, no picture in it, too large, encrypted.
    JobError
        ffmpeg is missing.
    """
    source = open_source(Path(path), rate)
    where = str(path)
    lines = _ask("info", source.input, where)
    contents = read_contents(lines)
    picture = _choose(contents, where, lines)
    if contents.container.startswith("mov") and source.path.is_file() and is_protected(source.path):
        raise _encrypted(where)
    opened = ("-max_pixels", str(PIXELS_MAX), *source.input)
    if contents.container != "mpegts":
        # half a packet at a cut end makes half a picture; a transport stream calls whole ones corrupt
        opened = ("-fflags", "+discardcorrupt", *opened)
    opened = (*_threads(picture), *opened)
    if picture.alpha_tagged and picture.codec in _ALPHA_DECODERS:
        opened = ("-c:v", _ALPHA_DECODERS[picture.codec], *opened)
    look = (
        *("-copyts", *opened, "-map", f"0:{picture.index}", "-vf", "showinfo=checksum=0"),
        *("-frames:v", str(_LOOK), "-fps_mode", "passthrough", "-f", "null", "-"),
    )
    first = _first_frames(look, where, contents.container)
    if first.size[0] * first.size[1] > PIXELS_MAX:
        raise _too_large(first.size, where)
    facts = _facts(source, contents, picture, opened, first)
    if not has_alpha(facts.pixel_format):
        return facts
    return replace(facts, alpha=kind_of_alpha(facts, tagged_premultiplied=first.premultiplied))


def _first_frames(look: tuple[str, ...], where: str, container: str) -> FirstFrames:
    """Decode the first frames and read what is told of them."""
    seen: list[str] = []
    for _ in range(_TRIES):
        seen = _ask("debug", look, where)  # only at this level ffmpeg tells which turns it puts in
        first = read_first_frames(seen, wanted=_LOOK)
        if first is not None:
            return first
        if not any("pts_time" in line for line in seen):
            break
        # there were frames: a line was torn by what another of its threads said in between
    moving = "update ffmpeg if it moves, or " if container == "webp_pipe" else ""
    raise InputError(
        "not one picture in it can be decoded",
        where=where,
        tool_line=first_error(seen),
        remedy=f"{moving}copy or export it again",
    )


def _ask(level: str, arguments: tuple[str, ...], where: str) -> list[str]:
    child = Child(["-loglevel", f"level+{level}", *arguments], keep=20_000, stall_s=_STALL_S)
    try:
        status = child.finish()
    finally:
        child.end()
    if status < 0 and not child.stalled:
        raise InputError(
            f"ffmpeg broke down while opening it (signal {-status})",
            where=where,
            remedy=AGAIN
            if status == -9
            else "update ffmpeg (pip install -U imageio-ffmpeg), or export the clip again",
        )
    if child.stalled:
        raise InputError(
            "takes too long to open", where=where, tool_line=child.reason, remedy="copy or export it again"
        )
    return list(child.lines)


def _choose(contents: Contents, where: str, lines: list[str]) -> Picture:
    if not contents.container:
        raise InputError(
            "is not a clip that can be read", where=where, tool_line=first_error(lines), remedy=_BRING
        )
    if contents.tiled:
        raise InputError("is a photograph stored in tiles", where=where, remedy="export it as JPEG or PNG")
    pictures = [p for p in contents.pictures if not p.cover]
    if not pictures:
        what = "holds sound and no moving picture" if contents.channels else "holds no picture"
        raise InputError(what, where=where, remedy=_BRING)
    largest = max(pictures, key=lambda p: p.size[0] * p.size[1])
    if largest.encrypted:
        raise _encrypted(where)
    if largest.size[0] * largest.size[1] > PIXELS_MAX:
        raise _too_large(largest.size, where)
    return largest


def _threads(picture: Picture) -> tuple[str, ...]:
    """Return how the decoder may share its work: each frame that it has in hand is held in memory."""
    pixels = picture.size[0] * picture.size[1]
    if pixels <= _PLAIN_PIXELS:
        return ()
    if pixels <= _LARGE_PIXELS:
        return ("-threads", "4")
    # AV1 shows frames in the order in which they are decoded: no delay is needed to sort them, and each costs
    return ("-thread_type", "slice", *(("-flags", "low_delay") if picture.codec == "av1" else ()))


def _encrypted(where: str) -> InputError:
    return InputError("is encrypted", where=where, remedy="bring a clip without copy protection")


def _too_large(size: tuple[int, int], where: str) -> InputError:
    return InputError(
        f"its pictures are {size[0]}x{size[1]}, more than the {PIXELS_MAX} pixels that memory is kept for",
        where=where,
        remedy="make it smaller first",
    )


def _facts(
    source: Source, contents: Contents, picture: Picture, opened: tuple[str, ...], first: FirstFrames
) -> ClipFacts:
    single = first.count == 1
    on_side = bool(first.rotation % 180)
    return ClipFacts(
        path=source.path,
        size=(max(round(first.size[0] * first.aspect), 1), first.size[1]),
        coded_size=(first.size[1], first.size[0]) if on_side else first.size,
        rate=first.rate,
        frames=1 if single else source.frames,
        duration_s=None if single else contents.duration_s,
        rotation=first.rotation,
        mirrored=first.mirrored,
        sample_aspect=1 / first.aspect if on_side else first.aspect,
        range=_range(first),
        matrix=first.matrix,
        primaries=first.primaries,
        transfer=first.transfer,
        alpha="none",
        codec=picture.codec,
        pixel_format=first.pixel_format,
        container=contents.container,
        bit_depth=_depth(first.pixel_format),
        interlaced=first.interlaced or picture.interlaced,
        sound=contents.channels > 0,
        channels=contents.channels,
        still=single,
        start=first.start,
        stream=picture.index,
        input=opened,
    )


def _range(first: FirstFrames) -> Literal["limited", "full"]:
    if first.range in ("tv", "pc"):
        return "full" if first.range == "pc" else "limited"
    yuv = first.pixel_format.startswith(("yuv", "nv", "p0")) and not first.pixel_format.startswith("yuvj")
    return "limited" if yuv else "full"


def _depth(pixel_format: str) -> int:
    """Return the bits of a component, as they stand at the end of the format's name.

    >>> [_depth(name) for name in ("yuv420p", "yuv420p10le", "p010le", "gray16be", "rgb48le")]
    [8, 10, 10, 16, 16]
    """
    found = re.search(r"(\d+)(?:le|be)$", pixel_format)
    if not found:
        return 8
    bits = int(found[1])
    return {48: 16, 64: 16, 32: 32}.get(bits, bits % 100)
