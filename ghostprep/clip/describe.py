"""What PyAV reads of a file: its streams, and its first decoded frames.

This file also runs as a program of its own, since a broken file can crash a decoder, or keep it busy for
ever: it takes the arguments of `describe` as JSON and prints a `Description` as JSON.
"""

from __future__ import annotations

import json
import math
import struct
import sys
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from av.container import InputContainer
    from av.video.frame import VideoFrame
    from av.video.stream import VideoStream

LOOK: Final = 2
"""How many frames are decoded to learn what they are."""
_ENCRYPTED: Final = {"encv", "drmi", "drms"}
"""Four-character codes of encrypted pictures; by the common scheme (ISO/IEC 23001-7) each packet tells."""
_OWN_DURATIONS: Final = ("gif", "apng", "mov,", "matroska")
"""Containers, by the beginnings of ffmpeg's names, in which each frame may have a duration of its own."""
_RANGES: Final = {1: "tv", 2: "pc"}
_MATRICES: Final = {
    **{0: "gbr", 1: "bt709", 4: "fcc", 5: "bt470bg", 6: "smpte170m", 7: "smpte240m", 8: "ycgco"},
    **{9: "bt2020nc", 10: "bt2020c", 11: "smpte2085", 12: "chroma-derived-nc", 13: "chroma-derived-c"},
    **{14: "ictcp", 15: "ipt-c2"},
}
_PRIMARIES: Final = {
    **{1: "bt709", 4: "bt470m", 5: "bt470bg", 6: "smpte170m", 7: "smpte240m", 8: "film", 9: "bt2020"},
    **{10: "smpte428", 11: "smpte431", 12: "smpte432", 22: "ebu3213"},
}
_TRANSFERS: Final = {
    **{1: "bt709", 4: "bt470m", 5: "bt470bg", 6: "smpte170m", 7: "smpte240m", 8: "linear", 9: "log100"},
    **{10: "log316", 11: "iec61966-2-4", 12: "bt1361e", 13: "iec61966-2-1", 14: "bt2020-10"},
    **{15: "bt2020-12", 16: "smpte2084", 17: "smpte428", 18: "arib-std-b67"},
}
"""The codes of ITU-T H.273, by ffmpeg's names."""
_EXIF: Final = {
    **{1: (False, 0), 2: (True, 0), 3: (False, 180), 4: (True, 180)},
    **{5: (True, 270), 6: (False, 90), 7: (True, 90), 8: (False, 270)},
}
"""What tag 0x0112 of Exif 2.3 says, as `FirstFrames` has it."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A stream of pictures as the container describes it."""

    index: int
    codec: str
    size: tuple[int, int]
    grey: bool
    cover: bool
    tile: bool
    interlaced: bool
    alpha_tagged: bool
    key_frames: int | None
    samples: int  # that the container counts; none where they lie in fragments


@dataclass(frozen=True, slots=True)
class FirstFrames:
    """The first decoded frames; `size` and `aspect` are those of the stored picture."""

    count: int
    start: Fraction
    rate: Fraction
    pixel_format: str
    aspect: Fraction
    size: tuple[int, int]
    interlaced: bool
    mirrored: bool
    rotation: int
    range: str
    matrix: str
    primaries: str
    transfer: str


@dataclass(frozen=True, slots=True)
class Description:
    """What a file holds; `channels` are those of its first sound, 0 without.

    `first` belongs to the largest of the pictures that are no cover; None if no frame of it could be decoded.
    `last_s` says how long its last frame is shown, seconds; None where the file does not tell.
    `reason` says what was wrong.
    """

    container: str = ""
    duration_s: float | None = None
    pictures: tuple[Picture, ...] = ()
    channels: int = 0
    encrypted: bool = False
    first: FirstFrames | None = None
    last_s: Fraction | None = None
    reason: str = ""

    @property
    def largest(self) -> Picture | None:
        """The largest of the pictures that are no cover; of two as large the one that is known to move."""
        return max(
            (picture for picture in self.pictures if not picture.cover),
            key=lambda picture: (math.prod(picture.size), picture.samples > 1),
            default=None,
        )

    @property
    def alpha_apart(self) -> bool:
        """Whether a grey picture beside the largest holds its coverage, as in AV1 Image Files (AVIF)."""
        largest = self.largest
        return (
            largest is not None
            and largest.codec == "av1"
            and not largest.grey
            and any((one.codec, one.size, one.grey) == ("av1", largest.size, True) for one in self.pictures)
        )


class _Encrypted(Exception):  # noqa: N818 - what was found, no error of ours
    """The pictures are encrypted."""


def describe(url: str, demuxer: str, options: Mapping[str, str], pixels_max: int) -> Description:
    """Open a file or pattern and decode its first frames, where a picture has no more than `pixels_max`."""
    import av

    found = Description()
    try:
        opened = av.open(url, format=demuxer or None, options=dict(options), metadata_errors="replace")
        with opened as container:
            found = _contents(container)
            if found.container == "webp_pipe":  # as PyAV's libraries call one that moves too
                found = replace(found, last_s=_webp_last_s(url.removeprefix("file:")))
            chosen = found.largest
            if chosen is not None and math.prod(chosen.size) <= pixels_max:
                found = replace(found, first=_first_frames(container, chosen.index, pixels_max))
                found = replace(found, last_s=_last_s(container, chosen.index) or found.last_s)
    except _Encrypted:
        found = replace(found, encrypted=True)
    except (av.FFmpegError, OSError, ValueError) as error:
        log = getattr(error, "log", None)
        found = replace(found, reason=log[2].strip() if log else getattr(error, "strerror", "") or str(error))
    return found


def _contents(container: InputContainer) -> Description:
    sounds = container.streams.audio
    return Description(
        container=container.format.name,
        duration_s=container.duration / 1e6 if container.duration and container.duration > 0 else None,
        pictures=tuple(_picture(stream) for stream in container.streams.video),
        channels=(1 if sounds[0].channels == 1 else 2) if sounds else 0,
    )


def _picture(stream: VideoStream) -> Picture:
    from av.stream import Disposition

    coding = stream.codec_context
    return Picture(
        stream.index,
        codec=stream.codec.canonical_name if coding else "unknown",
        size=(coding.width, coding.height) if coding else (0, 0),
        grey=coding is not None and (coding.pix_fmt or "").startswith("gray"),
        cover=Disposition.attached_pic in stream.disposition,
        tile=Disposition.dependent in stream.disposition,
        interlaced=coding is not None and coding.field_order > 1,  # 0 is unknown, 1 is whole pictures
        alpha_tagged=stream.metadata.get("alpha_mode") == "1",
        key_frames=sum(entry.is_keyframe for entry in stream.index_entries),
        samples=stream.frames,
    )


def _first_frames(container: InputContainer, index: int, pixels_max: int) -> FirstFrames | None:
    from av.container import Flags

    stream = next(stream for stream in container.streams.video if stream.index == index)
    if not stream.codec_context:  # a coding that PyAV's libraries do not know
        return None
    if stream.codec_context.codec_tag in _ENCRYPTED:
        raise _Encrypted
    stream.codec_context.options = {"max_pixels": str(pixels_max)}
    stream.codec_context.thread_count = 1  # more would hold more pictures
    if container.format.name != "mpegts":
        container.flags |= Flags.discard_corrupt.value  # type: ignore[operator]
    frames: list[VideoFrame] = []
    for packet in container.demux(stream):
        if packet.has_sidedata("encryption_info"):
            raise _Encrypted
        frames += packet.decode()
        if len(frames) >= LOOK:
            break
    return _first_facts(stream, frames[:LOOK]) if frames else None


def _last_s(container: InputContainer, index: int) -> Fraction | None:
    """Return how long a stream's last frame is shown, seconds, where that is written and soon found."""
    import av

    if not container.format.name.startswith(_OWN_DURATIONS):
        return None
    try:
        container.seek(container.duration or 0)  # to the key frame before the end
        told = {
            packet.pts: packet.duration * packet.time_base
            for packet in container.demux(next(s for s in container.streams.video if s.index == index))
            if packet.pts is not None and packet.duration and packet.time_base and not packet.is_discard
        }
    except (av.FFmpegError, OSError):
        return None
    return told[max(told)] if told else None


def _webp_last_s(path: str) -> Fraction | None:
    """Return how long the last frame of a WebP that moves is shown, seconds; None for a still one.

    References
    ----------
    RFC 9649, WebP Image Format, 2.7.1.1: an ANMF chunk's duration, milliseconds, in bytes 12 to 14.
    """
    last = 0
    with open(path, "rb") as file:  # noqa: PTH123 - pathlib would be one import more in this small process
        file.seek(12)
        while len(head := file.read(8)) == 8:
            size = int.from_bytes(head[4:], "little")
            body = file.read(15) if head[:4] == b"ANMF" else b""
            last = int.from_bytes(body[12:], "little") if len(body) == 15 else last
            file.seek(size + size % 2 - len(body), 1)
    return Fraction(last, 1000) if last else None


def _first_facts(stream: VideoStream, frames: Sequence[VideoFrame]) -> FirstFrames:
    first = frames[0]
    mirrored, rotation = _orientation(first, stream.container.name.removeprefix("file:"))
    return FirstFrames(
        count=len(frames),
        start=Fraction(0) if first.pts is None or first.time_base is None else first.pts * first.time_base,
        rate=stream.guessed_rate or Fraction(25),
        pixel_format=first.format.name,
        aspect=stream.sample_aspect_ratio or Fraction(1),
        size=(first.width, first.height),
        # a clip may open with a whole picture: any of the first frames tells
        interlaced=any(frame.interlaced_frame for frame in frames),
        mirrored=mirrored,
        rotation=rotation,
        range=_RANGES.get(first.color_range, "unknown"),
        matrix=_MATRICES.get(first.colorspace, "unknown"),
        primaries=_PRIMARIES.get(first.color_primaries, "unknown"),
        transfer=_TRANSFERS.get(first.color_trc, "unknown"),
    )


def _orientation(frame: VideoFrame, path: str) -> tuple[bool, int]:
    """Return whether a picture is mirrored left to right, and the degrees it is then turned clockwise.

    References
    ----------
    ISO/IEC 14496-12, 8.3.2: x' = a x + c y and y' = b x + d y, with a, b, u, c, d first in the matrix.
    """
    try:
        matrix: Any = frame.side_data.get("DISPLAYMATRIX")
    except ValueError:  # there is side data of a kind that PyAV does not know, as Exif is
        return _exif_orientation(path) or (False, -frame.rotation % 360)
    if matrix is None:
        return False, 0
    a, b, _, c, d = struct.unpack_from("=5i", matrix)
    mirrored = a * d < b * c
    turned = math.degrees(math.atan2(-b, -a) if mirrored else math.atan2(b, a))
    return mirrored, round(turned / 90) % 4 * 90


def _exif_orientation(path: str) -> tuple[bool, int] | None:
    from PIL import Image

    try:
        with Image.open(path) as photograph:
            return _EXIF.get(photograph.getexif().get(0x0112, 1))
    except OSError:
        return None


if __name__ == "__main__":
    import av.logging

    av.logging.set_level(av.logging.ERROR)  # an error then carries what the libraries said
    json.dump(asdict(describe(*json.loads(sys.argv[1]))), sys.stdout, default=str)
