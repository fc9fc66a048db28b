"""Reads a written file, whatever its form, into `StreamFacts`."""

from __future__ import annotations

import struct
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Final

from ghostprep.errors import JobError
from ghostprep.player.facts import StreamFacts, jpeg_profile, where
from ghostprep.player.parse.h264 import H264Stream
from ghostprep.player.parse.jpeg import JpegHeader, read_jpeg_header
from ghostprep.player.parse.mpeg1 import read_mpeg1
from ghostprep.player.parse.streams import access_units, jpeg_pictures
from ghostprep.player.read_avi import avi_facts
from ghostprep.player.read_mp4 import mp4_facts


def read_stream_facts(path: Path) -> StreamFacts:
    """Read what a file says about itself.

    Raises
    ------
    JobError
        The file cannot be read, is of an unknown form, or its parts do not add up.
    """
    try:
        with path.open("rb") as file:
            head = file.read(16)
        for fits, read in _READERS:
            if fits(head):
                facts = read(path)
                if facts.rate is not None and facts.rate <= 0:
                    raise ValueError("it has no frame rate")
                return facts
    except OSError as wrong:
        raise JobError(wrong.strerror or str(wrong), where=str(path)) from None
    except (EOFError, ValueError, KeyError, IndexError, StopIteration, struct.error) as wrong:
        raise JobError(f"the file as written contradicts itself: {wrong}", where=str(path)) from None
    raise JobError("is a file of a form that is not known here", where=str(path))


def _read_jpegs(path: Path) -> StreamFacts:
    headers: set[JpegHeader] = set()
    sizes = []
    for picture in jpeg_pictures(path):
        headers.add(read_jpeg_header(picture))
        sizes.append(len(picture))
    return StreamFacts(
        path=path,
        container="jpeg-stream",
        codec="mjpeg",
        size_bytes=path.stat().st_size,
        raster=next(iter(headers)).raster,
        rate=None,
        frames=len(sizes),
        frame_bytes=tuple(sizes),
        keys=tuple(range(len(sizes))),
        kinds=("I",) * len(sizes),
        profile=jpeg_profile(headers),
        full_range=True,
        jpeg=tuple(headers),
    )


def _read_h264(path: Path) -> StreamFacts:
    stream = H264Stream()
    sizes = []
    for units in access_units(path):
        stream.add_access_unit(units)
        sizes.append(sum(4 + len(unit) for unit in units))
    sequence = stream.sequences[0]
    said = (sequence.primaries, sequence.transfer, sequence.matrix)
    return StreamFacts(
        path=path,
        container="h264-stream",
        codec="h264",
        size_bytes=path.stat().st_size,
        raster=sequence.raster,
        rate=sequence.rate,
        frames=len(sizes),
        frame_bytes=tuple(sizes),
        keys=where(stream.instant),
        kinds=tuple(stream.kinds),
        profile=sequence.profile,
        level=sequence.level,
        full_range=sequence.full_range,
        colour=None if None in said else tuple(code or 0 for code in said),  # type: ignore[arg-type]
        h264=stream,
    )


def _read_mpeg1(path: Path) -> StreamFacts:
    mpeg1 = read_mpeg1(path)
    sounds = [code for code in mpeg1.streams if 0xC0 <= code <= 0xDF]
    return StreamFacts(
        path=path,
        container="mpeg-ps",
        codec="mpeg2" if mpeg1.is_mpeg2 else "mpeg1",
        size_bytes=path.stat().st_size,
        raster=mpeg1.raster,
        rate=mpeg1.rate,
        frames=len(mpeg1.kinds),
        frame_bytes=tuple(mpeg1.sizes),
        keys=where([kind == "I" for kind in mpeg1.kinds]),
        kinds=tuple(mpeg1.kinds),
        sound="mp2" if sounds else "none",
        full_range=False,
        mpeg1=mpeg1,
    )


def _read_mkv(path: Path) -> StreamFacts:
    """Read what PyAV tells: no limit asks for more of this form."""
    import av

    try:
        with av.open(f"file:{path.absolute()}", format="matroska") as file:
            if not file.streams.video:
                raise ValueError("holds no picture stream")
            stream = file.streams.video[0]
            tick, rate = stream.time_base or Fraction(1, 1000), stream.average_rate
            pictures = [packet for packet in file.demux(stream) if packet.size]
            times = [(packet.pts or 0) * tick for packet in pictures]
            return StreamFacts(
                path=path,
                container="mkv",
                codec=stream.codec.canonical_name,
                size_bytes=path.stat().st_size,
                raster=(stream.codec_context.width, stream.codec_context.height),
                rate=rate,
                frames=len(pictures),
                frame_bytes=tuple(packet.size for packet in pictures),
                keys=where(packet.is_keyframe for packet in pictures),
                first_time=times[0],
                # times are whole ticks: one tick of rounding is no unevenness
                even=rate is not None
                and all(abs(time - times[0] - i / rate) <= tick for i, time in enumerate(times)),
                sound=file.streams.audio[0].codec.name.partition("_")[0] if file.streams.audio else "none",
            )
    except av.FFmpegError as wrong:
        raise ValueError(wrong.strerror) from None


_READERS: Final[tuple[tuple[Callable[[bytes], bool], Callable[[Path], StreamFacts]], ...]] = (
    (lambda head: head[4:8] == b"ftyp", mp4_facts),
    (lambda head: head[:4] == b"RIFF" and head[8:12] == b"AVI ", avi_facts),
    (lambda head: head[:4] == b"\x1a\x45\xdf\xa3", _read_mkv),
    (lambda head: head[:4] == b"\x00\x00\x01\xba", _read_mpeg1),
    (lambda head: head[:2] == b"\xff\xd8", _read_jpegs),
    (lambda head: head[:4] == b"\x00\x00\x00\x01" or head[:3] == b"\x00\x00\x01", _read_h264),
)
