"""Reads a written file, whatever its form, into `StreamFacts`.

PyAV takes it apart into coded pictures, with their times; what a proof needs and PyAV does not tell
(parameter sets, kinds of slices, the order of boxes and chunks) is read by our own parsers.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from ghostprep.errors import JobError
from ghostprep.player.facts import StreamFacts
from ghostprep.player.parse.avi import read_avi
from ghostprep.player.parse.h264 import H264Stream
from ghostprep.player.parse.hevc import read_config
from ghostprep.player.parse.jpeg import JpegStream
from ghostprep.player.parse.mp4 import read_mp4
from ghostprep.player.parse.mpeg1 import Mpeg1Stream
from ghostprep.player.parse.mpeg4 import Mpeg4Stream

if TYPE_CHECKING:
    from av.container import InputContainer
    from av.packet import Packet
    from av.video.stream import VideoStream


@dataclass(frozen=True, slots=True)
class _Form:
    """A container by the words of `Profile`, how PyAV calls its demuxer, and how a file of it begins."""

    container: str
    demuxer: str
    fits: Callable[[bytes], bool]


_FORMS: Final = (
    _Form("mp4", "mov", lambda head: head[4:8] == b"ftyp"),
    _Form("avi", "avi", lambda head: head[:4] == b"RIFF" and head[8:12] == b"AVI "),
    _Form("mkv", "matroska", lambda head: head[:4] == b"\x1a\x45\xdf\xa3"),
    _Form("mpeg-ps", "mpeg", lambda head: head[:4] == b"\x00\x00\x01\xba"),
    _Form("jpeg-stream", "mjpeg", lambda head: head[:2] == b"\xff\xd8"),
    _Form("h264-stream", "h264", lambda head: head[:4] == b"\x00\x00\x00\x01" or head[:3] == b"\x00\x00\x01"),
)
_CODECS: Final = {"mpeg1video": "mpeg1", "mpeg2video": "mpeg2"}
_NOT_SAID: Final = 2
"""In H.273: no colour is specified."""


def read_stream_facts(path: Path) -> StreamFacts:
    """Read what a file says about itself.

    Raises
    ------
    JobError
        The file cannot be read, is of an unknown form, or its parts do not add up.
    """
    import av

    try:
        with path.open("rb") as file:
            head = file.read(16)
        form = next((form for form in _FORMS if form.fits(head)), None)
        if form is not None:
            with av.open(f"file:{path.absolute()}", format=form.demuxer) as container:
                return _facts(path, form, container)
    except OSError as wrong:
        raise JobError(wrong.strerror or str(wrong), where=str(path)) from None
    except (av.FFmpegError, EOFError, ValueError, KeyError, IndexError, struct.error) as wrong:
        raise JobError(f"the file as written contradicts itself: {wrong}", where=str(path)) from None
    raise JobError("is a file of a form that is not known here", where=str(path))


def coded_pictures(path: Path) -> Iterator[bytes]:
    """Yield the coded pictures of a program stream, without the packets that carry them."""
    import av

    with av.open(f"file:{path.absolute()}", format="mpeg") as container:
        for packet in _pictures(container, container.streams.video[0]):
            yield bytes(packet)


def _pictures(container: InputContainer, stream: VideoStream) -> Iterator[Packet[VideoStream]]:
    return (packet for packet in container.demux(stream) if packet.size)


def _facts(path: Path, form: _Form, container: InputContainer) -> StreamFacts:
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
        if coded is not None:
            coded.add(bytes(packet))
    if not sizes or not coding.width:
        raise ValueError("holds no pictures")
    rate = _rate(form, codec, coded, stream)
    if rate is not None and rate <= 0:
        raise ValueError("it has no frame rate")
    facts: dict[str, Any] = {}
    if coded is not None:
        facts[{"mpeg2": "mpeg1", "mjpeg": "jpeg"}.get(codec, codec)] = coded
        facts |= {"profile": coded.profile, "level": getattr(coded, "level", ""), "kinds": tuple(coded.kinds)}
        keys = coded.instant
    if form.container in ("mp4", "mkv") and rate is not None:
        tick = stream.time_base or Fraction(1, 1000)
        facts |= {"first_time": times[0] * tick, "even": _even([time * tick for time in times], rate, tick)}
    if codec in ("h264", "hevc"):
        said = (int(coding.color_primaries), int(coding.color_trc), int(coding.colorspace))
        facts["colour"] = None if said == (_NOT_SAID,) * 3 else said
        facts["full_range"] = {1: False, 2: True}.get(int(coding.color_range))
    elif coded is not None:
        facts["full_range"] = codec == "mjpeg"
    return StreamFacts(
        path=path,
        container=form.container,
        codec=codec,
        size_bytes=path.stat().st_size,
        raster=(coding.width, coding.height),
        rate=rate,
        frames=len(sizes),
        frame_bytes=tuple(sizes),
        keys=tuple(number for number, key in enumerate(keys) if key),
        sound=_sound(container),
        mp4=read_mp4(path) if form.container == "mp4" else None,
        avi=read_avi(path) if form.container == "avi" else None,
        **facts,
    )


def _coded(codec: str, config: bytes, container: InputContainer) -> Any:
    """Return what takes note of each coded picture; None for FFV1, of which no limit is known."""
    if codec == "h264":
        return H264Stream.of(config)
    if codec == "hevc":
        return read_config(config)
    if codec in ("mpeg1", "mpeg2"):
        return Mpeg1Stream(tuple(stream.id & 0xFF for stream in container.streams))
    return {"mjpeg": JpegStream, "mpeg4": Mpeg4Stream}.get(codec, lambda: None)()


def _rate(form: _Form, codec: str, coded: Any, stream: VideoStream) -> Fraction | None:
    """Return the frames a second; bare pictures say none, bare H.264 and MPEG-1 in their own headers."""
    if form.container == "jpeg-stream":
        return None
    if form.container == "h264-stream":
        return coded.sequences[0].rate if coded.sequences else None
    return coded.rate if codec in ("mpeg1", "mpeg2") else stream.average_rate


def _even(times: list[Fraction], rate: Fraction, tick: Fraction) -> bool:
    """Return whether pictures come evenly; times are whole ticks: one tick of rounding is no unevenness."""
    first = min(times)
    return all(abs(time - first - i / rate) <= tick for i, time in enumerate(sorted(times)))


def _sound(container: InputContainer) -> str:
    """Return the first sound's coding; all forms of PCM are one."""
    if not container.streams.audio or not container.streams.audio[0].codec_context:
        return "none"
    return container.streams.audio[0].codec.canonical_name.partition("_")[0]
