"""What a written file says about itself, whatever its form."""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Final

from ghostprep.errors import JobError
from ghostprep.player.parse.avi import AviFile, read_avi
from ghostprep.player.parse.h264 import H264Stream
from ghostprep.player.parse.jpeg import JpegHeader, read_jpeg_header
from ghostprep.player.parse.mkv import read_mkv
from ghostprep.player.parse.mp4 import Mp4File, read_mp4
from ghostprep.player.parse.nal import units_by_length


@dataclass(frozen=True, slots=True)
class StreamFacts:
    """What is read from a file's own boxes, chunks and bit stream.

    Attributes
    ----------
    path : Path
    container, codec : str
        By the words of `Profile`.
    size_bytes : int
        The whole file.
    raster : (int, int)
        Width and height of the coded pictures, cropped.
    rate : Fraction or None
        Frames a second; None where the form does not say.
    frames : int
        Pictures in the file.
    frame_bytes : tuple of int
        Bytes of each picture, in order.
    keys : tuple of int
        Pictures that stand on their own, from 0.
    first_time : Fraction
        When the first picture is shown, in seconds.
    even : bool
        Whether all pictures last equally long.
    kinds : tuple of str
        "I", "P" or "B" for each picture.
    sound : str
        Coding of the first sound stream; "none" without.
    profile, level : str
        Of the coding, in words; empty where it has none.
    full_range : bool or None
        None: not said.
    colour : (int, int, int) or None
        primaries, transfer, matrix by the codes of ITU-T H.273; None: not said.
    mp4, avi, h264, jpeg
        The parts as parsed, where they apply.
    """

    path: Path
    container: str
    codec: str
    size_bytes: int
    raster: tuple[int, int]
    rate: Fraction | None
    frames: int
    frame_bytes: tuple[int, ...]
    keys: tuple[int, ...]
    first_time: Fraction = Fraction(0)
    even: bool = True
    kinds: tuple[str, ...] = ()
    sound: str = "none"
    profile: str = ""
    level: str = ""
    full_range: bool | None = None
    colour: tuple[int, int, int] | None = None
    mp4: Mp4File | None = None
    avi: AviFile | None = None
    h264: H264Stream | None = None
    jpeg: tuple[JpegHeader, ...] = ()

    @property
    def seconds(self) -> Fraction | None:
        """How long the pictures last."""
        return None if self.rate is None else self.frames / self.rate


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
        for fits, read in _FORMS:
            if fits(head):
                return read(path)
    except OSError as wrong:
        raise JobError(wrong.strerror or str(wrong), where=str(path)) from None
    except (EOFError, ValueError, KeyError, IndexError, StopIteration, struct.error) as wrong:
        raise JobError(f"the written file does not add up: {wrong}", where=str(path)) from None
    raise JobError("is a file of a form that is not known here", where=str(path))


def _read_mp4(path: Path) -> StreamFacts:
    mp4 = read_mp4(path)
    track = next(t for t in mp4.tracks if t.kind == "vide")
    stream = H264Stream()
    length_bytes = _read_avc_config(track.config, stream)
    with path.open("rb") as file:
        for place, size in zip(track.places, track.sizes, strict=True):
            file.seek(place)
            stream.add_access_unit(units_by_length(file.read(size), length_bytes))
    sequence = stream.sequences[0]
    durations = set(track.durations)
    sound = next((t.coding for t in mp4.tracks if t.kind == "soun"), "none")
    colour = track.colour
    return StreamFacts(
        path=path,
        container="mp4",
        codec="h264",
        size_bytes=path.stat().st_size,
        raster=sequence.raster,
        rate=Fraction(len(track.durations) * track.timescale, sum(track.durations)),
        frames=len(track.sizes),
        frame_bytes=track.sizes,
        keys=tuple(i for i, instant in enumerate(stream.instant) if instant),
        first_time=track.first_time,
        even=len(durations) == 1,
        kinds=tuple(stream.kinds),
        sound={"mp4a": "aac"}.get(sound, sound),
        profile=sequence.profile,
        level=sequence.level,
        full_range=sequence.full_range,
        colour=colour[:3] if colour else None,
        mp4=mp4,
        h264=stream,
    )


def _read_avc_config(config: bytes, stream: H264Stream) -> int:
    """Note the parameter sets of an avcC payload; return the bytes of each unit's length."""
    length_bytes = (config[4] & 3) + 1
    at = 5
    for mask in (31, 255):
        count = config[at] & mask
        at += 1
        for _ in range(count):
            size = int.from_bytes(config[at : at + 2], "big")
            stream.add_set(config[at + 2 : at + 2 + size])
            at += 2 + size
    return length_bytes


def _read_avi(path: Path) -> StreamFacts:
    avi = read_avi(path)
    pictures: set[JpegHeader] = set()
    if avi.coding.upper() == "MJPG":
        with path.open("rb") as file:
            for place, size in zip(avi.places, avi.sizes, strict=True):
                file.seek(place)
                pictures.add(read_jpeg_header(file.read(size)))
    return StreamFacts(
        path=path,
        container="avi",
        codec={"MJPG": "mjpeg"}.get(avi.coding.upper(), avi.coding),
        size_bytes=path.stat().st_size,
        raster=avi.raster,
        rate=avi.rate,
        frames=len(avi.sizes),
        frame_bytes=avi.sizes,
        keys=tuple(range(len(avi.sizes))),
        kinds=("I",) * len(avi.sizes),
        sound="pcm" if "auds" in avi.streams else "none",
        profile="baseline" if all(p.baseline for p in pictures) else "not baseline",
        full_range=True,
        avi=avi,
        jpeg=tuple(pictures),
    )


def _read_mkv(path: Path) -> StreamFacts:
    mkv = read_mkv(path)
    frames = len(mkv.sizes)
    return StreamFacts(
        path=path,
        container="mkv",
        codec={"V_FFV1": "ffv1"}.get(mkv.codec, mkv.codec),
        size_bytes=path.stat().st_size,
        raster=mkv.raster,
        rate=mkv.rate,
        frames=frames,
        frame_bytes=tuple(mkv.sizes),
        keys=tuple(i for i, key in enumerate(mkv.keys) if key),
        first_time=Fraction(mkv.times[0] * mkv.tick_ns, 1_000_000_000),
        # times are whole ticks: one tick of rounding is no unevenness
        even=all(
            abs((t - mkv.times[0]) * mkv.tick_ns - i * mkv.frame_ns) <= mkv.tick_ns
            for i, t in enumerate(mkv.times)
        ),
        sound={"A_PCM/INT/LIT": "pcm", "": "none"}.get(mkv.sound, mkv.sound),
    )


_FORMS: Final[tuple[tuple[Callable[[bytes], bool], Callable[[Path], StreamFacts]], ...]] = (
    (lambda head: head[4:8] == b"ftyp", _read_mp4),
    (lambda head: head[:4] == b"RIFF" and head[8:12] == b"AVI ", _read_avi),
    (lambda head: head[:4] == b"\x1a\x45\xdf\xa3", _read_mkv),
)
