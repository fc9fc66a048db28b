"""Reads a written file, whatever its form, into `StreamFacts`.

PyAV takes it apart into coded pictures, with their times; what a proof needs and PyAV does not tell
(parameter sets, kinds of slices, the order of boxes and chunks) is read by our own parsers.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from ghostprep.errors import JobError, reason
from ghostprep.player.encode.mpeg import SIMPLE_LEVELS
from ghostprep.player.parse.avi import AviFile, read_avi
from ghostprep.player.parse.bits import CodedStream
from ghostprep.player.parse.h264 import H264Stream
from ghostprep.player.parse.hevc import HevcStream
from ghostprep.player.parse.jpeg import JpegStream
from ghostprep.player.parse.mp4 import Mp4File, read_mp4
from ghostprep.player.parse.mpeg import Mpeg1Stream, Mpeg4Stream

if TYPE_CHECKING:
    from av.container import InputContainer
    from av.packet import Packet
    from av.video.format import VideoFormat
    from av.video.stream import VideoStream


@dataclass(frozen=True, slots=True)
class StreamFacts:
    """What PyAV and our parsers read of a written file."""

    path: Path
    container: str  # by the words of `Profile`
    codec: str
    size_bytes: int  # the whole file
    raster: tuple[int, int]  # width and height of the coded pictures, cropped
    rate: Fraction | None  # frames a second; None where the form does not say
    frames: int  # pictures in the file
    frame_bytes: tuple[int, ...]  # bytes of each picture, in order
    keys: tuple[int, ...]  # pictures that stand on their own, from 0
    first_time: Fraction = Fraction(0)  # when the first picture is shown, in seconds
    even: bool = True  # whether all pictures last equally long
    # profile and level of the coding as printed in its standard; empty where it has none or says none
    profile: str = ""
    level: str = ""
    samples: str = ""  # of a picture as stored: "4:2:0, 8 bit"
    full_range: bool | None = None  # None: not said
    mp4: Mp4File | None = None  # what the boxes or chunks say, for such containers
    avi: AviFile | None = None
    # what the pictures' own headers say; of FFV1 nothing is read, since no limit of it is known
    coded: CodedStream = field(default_factory=CodedStream)

    @property
    def seconds(self) -> Fraction | None:
        """How long the pictures last."""
        return None if self.rate is None else self.frames / self.rate

    @property
    def mean_bits(self) -> Fraction:
        """Mean bit rate of the pictures, in bit/s; 0 where no rate is known."""
        return sum(self.frame_bytes) * 8 * (self.rate or Fraction(0)) / max(self.frames, 1)


_FORMS: Final = (
    ("mp4", "mov", rb"....ftyp"),
    ("avi", "avi", rb"RIFF....AVI "),
    ("mkv", "matroska", rb"\x1a\x45\xdf\xa3"),
    ("mpeg-ps", "mpeg", rb"\x00\x00\x01\xba"),
    ("jpeg-stream", "mjpeg", rb"\xff\xd8"),
    ("h264-stream", "h264", rb"\x00?\x00\x00\x01"),
)
"""A container by the words of `Profile`, how PyAV calls its demuxer, and how a file of it begins."""
_CODECS: Final = {"mpeg1video": "mpeg1", "mpeg2video": "mpeg2"}


def read_stream_facts(path: Path) -> StreamFacts:
    """Read what a file says; JobError: it is not readable, of no known form, or contradicts itself."""
    import av

    try:
        with path.open("rb") as file:
            head = file.read(16)
        for form, demuxer, begin in _FORMS:
            if re.match(begin, head, re.DOTALL):
                with av.open(f"file:{path.absolute()}", format=demuxer) as container:
                    return _facts(path, form, container)
    except OSError as wrong:
        raise JobError(reason(wrong), where=str(path)) from None
    except (av.FFmpegError, EOFError, ValueError, KeyError, IndexError, struct.error) as wrong:
        raise JobError(f"the file as written contradicts itself: {wrong}", where=str(path)) from None
    raise JobError("is a file of a form that is not known here", where=str(path))


def has_pictures(path: Path) -> bool:
    """Tell whether a file, of whatever form, holds a coded picture."""
    import av

    try:
        with av.open(f"file:{path.absolute()}", options={"protocol_whitelist": "file"}) as container:
            return bool(container.streams.video) and any(p.size for p in container.demux(video=0))
    except (av.FFmpegError, ValueError):
        return False


def coded_pictures(path: Path) -> Iterator[bytes]:
    """Yield the coded pictures of a program stream, without the packets that carry them."""
    import av

    with av.open(f"file:{path.absolute()}", format="mpeg") as container:
        for packet in _pictures(container, container.streams.video[0]):
            yield bytes(packet)


def _pictures(container: InputContainer, stream: VideoStream) -> Iterator[Packet[VideoStream]]:
    return (packet for packet in container.demux(stream) if packet.size)


def _facts(path: Path, form: str, container: InputContainer) -> StreamFacts:
    if not container.streams.video:
        raise ValueError("holds no picture stream")
    stream = container.streams.video[0]
    coding = stream.codec_context
    if not coding:  # a file that ends before it says what it holds
        raise ValueError("does not say how its pictures are coded")
    codec = _CODECS.get(stream.codec.canonical_name, stream.codec.canonical_name)
    coded = _coded(codec, coding.extradata or b"", container)
    sizes, keys, times = [], [], []
    for packet in _pictures(container, stream):
        sizes.append(packet.size)
        keys.append(packet.is_keyframe)
        times.append(packet.pts or 0)
        coded.add(bytes(packet))
    if not sizes or not coding.width:
        raise ValueError("holds no pictures")
    if isinstance(coded, H264Stream) and not coded.sequences:
        raise ValueError("holds no parameter sets")
    rate = _rate(form, codec, stream)
    if rate is not None and rate <= 0:
        raise ValueError("it has no frame rate")
    facts: dict[str, Any] = {}
    if form in ("mp4", "mkv") and rate is not None:
        tick = stream.time_base or Fraction(1, 1000)
        facts |= {"first_time": times[0] * tick, "even": _even(times, rate * tick)}
    if codec in ("h264", "hevc"):
        facts["full_range"] = {1: False, 2: True}.get(int(coding.color_range))
    elif codec != "ffv1":
        facts["full_range"] = codec == "mjpeg"
    return StreamFacts(
        path=path,
        container=form,
        codec=codec,
        profile=(coding.profile or "").lower().removesuffix(" profile").replace(" ", "-"),
        level=_level(codec, coding.level),
        samples=_samples(coding.format),
        size_bytes=path.stat().st_size,
        raster=(coding.width, coding.height),
        rate=rate,
        frames=len(sizes),
        frame_bytes=tuple(sizes),
        keys=tuple(number for number, key in enumerate(coded.instant or keys) if key),
        coded=coded,
        mp4=read_mp4(path) if form == "mp4" else None,
        avi=read_avi(path) if form == "avi" else None,
        **facts,
    )


def _coded(codec: str, config: bytes, container: InputContainer) -> CodedStream:
    """Return what takes note of each coded picture."""
    match codec:
        case "h264":
            return H264Stream.of(config)
        case "hevc":
            return HevcStream.of(config)
        case "mpeg1" | "mpeg2":
            return Mpeg1Stream(tuple(stream.id & 0xFF for stream in container.streams))
        case "mpeg4":
            return Mpeg4Stream()
        case "mjpeg":
            return JpegStream()
    return CodedStream()


def _level(codec: str, code: int) -> str:
    """Return a level as printed; stored are multiples of it (H.264 A.3.1, H.265 A.4), or codes."""
    match codec:
        case "h264":
            return f"{code / 10:g}"
        case "hevc":
            return f"{code / 30:g}"
        case "mpeg4":
            return next((level.name for level in SIMPLE_LEVELS if level.code == code), "")
    return ""


def _samples(pixels: VideoFormat | None) -> str:
    if pixels is None:
        return "not said"
    halves = (pixels.chroma_width(2), pixels.chroma_height(2))
    chroma = {(2, 2): "4:4:4", (1, 2): "4:2:2", (1, 1): "4:2:0"}.get(halves, pixels.name)
    return f"{chroma if len(pixels.components) > 1 else '4:0:0'}, {pixels.components[0].bits} bit"


def _rate(form: str, codec: str, stream: VideoStream) -> Fraction | None:
    """Return the frames a second; bare pictures say none, bare H.264 and MPEG-1 in their own headers."""
    if form == "jpeg-stream":
        return None
    in_headers = form == "h264-stream" or codec.startswith("mpeg1")
    return stream.codec_context.framerate if in_headers else stream.average_rate


def _even(times: list[int], pictures: Fraction) -> bool:
    """Return whether `pictures` come evenly in a tick, at times in ticks: one tick of rounding may be."""
    first, (count, ticks) = min(times), pictures.as_integer_ratio()
    return all(abs((time - first) * count - i * ticks) <= count for i, time in enumerate(sorted(times)))
