"""Finds out what a clip is: what PyAV reads of the file, and how ffmpeg shall open it."""

from __future__ import annotations

import json
import math
import re
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import Final, Literal

import numpy as np

from ghostprep.arrays import Frame
from ghostprep.clip import describe
from ghostprep.clip.child import AGAIN, Child
from ghostprep.clip.colour import is_yuv
from ghostprep.clip.combed import ROWS, is_combed
from ghostprep.clip.describe import LOOK, Description, FirstFrames, Picture
from ghostprep.clip.facts import Alpha, ClipFacts
from ghostprep.clip.glance import glance
from ghostprep.clip.source import PICTURES_RATE, PIXELS_MAX, Source, file_url, open_source
from ghostprep.errors import GhostprepError, InputError
from ghostprep.scratch import scratch_folder

_ALPHA_DECODERS: Final = {"vp8": "libvpx", "vp9": "libvpx-vp9"}
"""ffmpeg's own decoders of these drop the alpha."""
_ANSWER_BYTES: Final = 1 << 20
"""Room for a description, which takes some hundred bytes a stream."""
_STALL_S: Final = 30.0
"""Seconds without a word after which opening a file is given up."""
_PLAIN_PIXELS: Final = 1920 * 1200
_LARGE_PIXELS: Final = 4096 * 2304
"""Up to 1920x1200 a decoder may use all threads, up to 4096x2304 four of them."""
_BRING: Final = "bring a video, a picture or a GIF, or copy it again if it is one"
_ALPHA_FORMATS: Final = ("yuva", "rgba", "bgra", "argb", "abgr", "gbrap", "ya", "pal8", "ayuv", "vuya")
_OFTEN_PREMULTIPLIED: Final = (
    *("prores", "qtrle", "png", "ffv1", "utvideo", "rawvideo", "cfhd", "dnxhd", "vp8", "vp9", "tiff"),
    "unknown",
)
_LOOKS: Final = 8
"""Frames that tell which kind of alpha a clip has, or that its rows are combed."""
_LEAST_SOFT: Final = 64
"""Soft pixels that are needed before their colours are believed."""


def probe(path: Path | str, pictures: Fraction | None = None, *, ours: bool = False) -> ClipFacts:
    """Read what a clip is.

    Parameters
    ----------
    path : Path or str
        A local file, a folder of numbered pictures, or a pattern such as ``frame_%04d.png``.
    pictures : Fraction, optional
        How many of numbered pictures are shown a second, since they do not tell; default 25.
    ours : bool
        Whether we have just written it: such a file is opened here, in no process of its own.

    Raises
    ------
    InputError
        It cannot be used: missing, not readable, no picture in it, too large, encrypted.
    JobError
        ffmpeg or PyAV cannot be started.
    """
    if ours:
        source = open_source(Path(path))
        return _clip_of(source, describe.describe(*_how(source)), str(path), ours=True)
    with probing(path, pictures) as probed:
        return probed()


@contextmanager
def probing(path: Path | str, pictures: Fraction | None = None) -> Iterator[Callable[[], ClipFacts]]:
    """Begin to read what a clip is; what is yielded waits for it, and returns and raises as `probe` does.

    It is read in a process of its own, beside which there is time for other work.
    """
    where = str(path)
    try:
        source = open_source(Path(path), pictures)
        child = _asked(source)
    except GhostprepError as error:
        failed = error

        def refuse() -> ClipFacts:
            raise failed

        yield refuse
        return
    with child:
        yield lambda: _clip_of(source, _answer(child, where), where)


def _clip_of(source: Source, found: Description, where: str, *, ours: bool = False) -> ClipFacts:
    """Return what a clip is, by its description and, of some, by a few frames."""
    picture = _choose(found, where)
    opened = ("-max_pixels", str(PIXELS_MAX), *source.input)
    if found.container != "mpegts":
        # a cut file ends in half a packet: drop it; but transport streams mark whole packets as corrupt
        opened = ("-fflags", "+discardcorrupt", *opened)
    if found.container.startswith("mov") and picture.samples:
        # its index tells what else the first frames would be decoded for, each time that it is opened
        opened = ("-nofind_stream_info", *opened)
    opened = (*_threads(picture), *opened)
    first = found.first or _first_by_ffmpeg(opened, picture, found, where)
    if math.prod(first.size) > PIXELS_MAX:
        raise _too_large(first.size, where)
    if picture.alpha_tagged and picture.codec in _ALPHA_DECODERS:
        opened = ("-c:v", _ALPHA_DECODERS[picture.codec], *opened)
        first = replace(first, pixel_format=first.pixel_format.replace("yuv420p", "yuva420p"))
    facts = _facts(source, found, picture, opened, first)
    if facts.pixel_format.startswith(_ALPHA_FORMATS):
        return replace(facts, alpha=_kind_of_alpha(facts))
    if not ours and _may_be_combed(facts) and is_combed(_looked_at(facts)):
        return replace(facts, interlaced=True, combed=True)
    return facts


def _how(source: Source) -> tuple[str, str, dict[str, str], int]:
    return source.url, source.demuxer, source.options, PIXELS_MAX


def _asked(source: Source) -> Child:
    """Ask PyAV, in a process of its own."""
    program = (sys.executable, "-P", describe.__file__)
    return Child([json.dumps(_how(source))], program=program, take=True, stall_s=_STALL_S)


def _answer(child: Child, where: str) -> Description:
    """Wait for what it says."""
    space = bytearray(_ANSWER_BYTES)
    answer = bytes(space[: child.read_into(memoryview(space))])
    status = child.finish()
    no = partial(InputError, where=where)
    if child.stalled:
        raise no("takes too long to open", tool_line=child.reason, remedy="copy or export it again")
    if status != 0:
        what = f"its reader broke down while opening it (status {status})"
        remedy = AGAIN if status == -9 else "update PyAV (pip install -U av), or export the clip again"
        raise no(what, tool_line=child.lines[-1] if child.lines else "", remedy=remedy)
    from pydantic import TypeAdapter  # loaded while the child works

    return TypeAdapter(Description).validate_json(answer)


def _first_by_ffmpeg(
    opened: tuple[str, ...], picture: Picture, found: Description, where: str
) -> FirstFrames:
    """Let ffmpeg decode the first frames, where PyAV's libraries cannot, and read what it writes."""
    with scratch_folder() as folder:
        frames = folder / "first.mkv"
        arguments = [
            *("-loglevel", "level+error", "-copyts", *opened, "-map", f"0:{picture.index}"),
            *("-frames:v", str(LOOK), "-fps_mode", "passthrough", "-c:v", "ffv1", file_url(frames)),
        ]
        with Child(arguments, stall_s=_STALL_S) as child:
            child.finish(growing=frames)
        if frames.is_file():
            with _asked(Source(frames, file_url(frames))) as reader:
                first = _answer(reader, where).first
            if first is not None:
                return first
    what, said = "not one picture in it can be decoded", child.reason or found.reason
    moving = "update ffmpeg if it moves, or " if found.container == "webp_pipe" else ""
    raise InputError(what, where=where, tool_line=said, remedy=f"{moving}copy or export it again")


def _choose(found: Description, where: str) -> Picture:
    if not found.container:
        raise InputError("is not a clip that can be read", where=where, tool_line=found.reason, remedy=_BRING)
    if any(picture.tile for picture in found.pictures):
        raise InputError("is a photograph stored in tiles", where=where, remedy="export it as JPEG or PNG")
    if found.largest is None:
        what = "holds sound and no moving picture" if found.channels else "holds no picture"
        raise InputError(what, where=where, remedy=_BRING)
    if found.encrypted:
        remedy = "bring a clip without copy protection"
        raise InputError("is encrypted", where=where, remedy=remedy)
    if found.alpha_apart:
        remedy = "export it as PNG, WebP or ProRes 4444"
        raise InputError(
            "keeps its alpha in a picture of its own, which is not read", where=where, remedy=remedy
        )
    if math.prod(found.largest.size) > PIXELS_MAX:
        raise _too_large(found.largest.size, where)
    return found.largest


def _threads(picture: Picture) -> tuple[str, ...]:
    """Return how the decoder may share its work: each frame that it has in hand is held in memory."""
    pixels = picture.size[0] * picture.size[1]
    if pixels <= _PLAIN_PIXELS:
        return ()
    if pixels <= _LARGE_PIXELS:
        return ("-threads", "4")
    # AV1 shows frames in the order in which they are decoded: no delay is needed to sort them, and each costs
    return ("-thread_type", "slice", *(("-flags", "low_delay") if picture.codec == "av1" else ()))


def _too_large(size: tuple[int, int], where: str) -> InputError:
    return InputError(
        f"its pictures are {size[0]}x{size[1]}, more than the {PIXELS_MAX} pixels that memory is kept for",
        where=where,
        remedy="make it smaller first",
    )


def _facts(
    source: Source, found: Description, picture: Picture, opened: tuple[str, ...], first: FirstFrames
) -> ClipFacts:
    single = first.count == 1
    # how long a still is shown, or how often in a second, says nothing of the loop in which it drifts
    rate = PICTURES_RATE if single else first.rate
    width, height = first.size
    if first.rotation % 180:
        size = (max(round(height / first.aspect), 1), width)
    else:
        size = (max(round(width * first.aspect), 1), height)
    return ClipFacts(
        path=source.path,
        size=size,
        coded_size=first.size,
        rate=rate,
        frames=1 if single else source.frames,
        duration_s=None if single else found.duration_s,
        last_s=1 / rate if single else found.last_s or 1 / rate,
        rotation=first.rotation,
        mirrored=first.mirrored,
        sample_aspect=first.aspect,
        range=_range(first),
        matrix=first.matrix,
        primaries=first.primaries,
        transfer=first.transfer,
        alpha="none",
        codec=picture.codec,
        pixel_format=first.pixel_format,
        container=found.container,
        bit_depth=_depth(first.pixel_format),
        interlaced=first.interlaced or picture.interlaced,
        combed=False,
        sound=found.channels > 0,
        channels=found.channels,
        still=single,
        start=first.start,
        stream=picture.index,
        key_frames=picture.key_frames,
        input=opened,
    )


def _may_be_combed(facts: ClipFacts) -> bool:
    untold = is_yuv(facts.pixel_format) and not facts.interlaced and not facts.still
    return untold and facts.coded_size[1] in ROWS and facts.rotation % 180 == 0


def _looked_at(facts: ClipFacts) -> list[Frame]:
    """Return a few frames, as large as they are."""
    return [glimpse.frame for glimpse in glance(facts, _LOOKS, longest=max(facts.size))]


def _kind_of_alpha(facts: ClipFacts) -> Alpha:
    """Look at a few frames for full, straight or premultiplied alpha.

    No colour of a premultiplied picture is brighter than its coverage. Files seldom say which kind theirs is:
    it is taken for premultiplied if that holds for every soft pixel seen, and some of them are
    bright enough for it to mean something.
    """
    # read as premultiplied so that nothing is divided or multiplied on the way
    views = _looked_at(replace(facts, alpha="premultiplied"))
    if not views:
        return "straight"
    if all(int(view[..., 3].min()) == 255 for view in views):
        return "none"
    if facts.codec not in _OFTEN_PREMULTIPLIED:
        return "straight"
    soft_count = bright_count = 0
    for view in views:
        alpha = view[..., 3].astype(np.int16)
        brightest = view[..., :3].max(axis=2).astype(np.int16)
        # 3 codes for rounding and lossy coding
        if bool((brightest > alpha + 3).any()):
            return "straight"
        soft = (alpha > 16) & (alpha < 240)
        soft_count += int(soft.sum())
        bright_count += int((soft & (brightest > alpha * 3 // 4)).sum())
    return "premultiplied" if soft_count >= _LEAST_SOFT and bright_count * 10 >= soft_count else "straight"


def _range(first: FirstFrames) -> Literal["limited", "full"]:
    if first.range in ("tv", "pc"):
        return "full" if first.range == "pc" else "limited"
    limited = is_yuv(first.pixel_format) and not first.pixel_format.startswith("yuvj")
    return "limited" if limited else "full"


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
