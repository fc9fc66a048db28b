"""What a clip is, as read from the file and from its first frames."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from fractions import Fraction
from pathlib import Path
from typing import Final, Literal

from ghostprep.clip.source import file_url

Alpha = Literal["none", "straight", "premultiplied"]
_OWN: Final = {"last_s", "start", "stream", "key_frames", "input"}
"""Fields that no report needs."""


@dataclass(frozen=True, slots=True)
class ClipFacts:
    """What a clip is."""

    path: Path  # the clip: a file, a folder of numbered pictures, or a pattern such as ``frame_%04d.png``
    size: tuple[int, int]  # width and height as frames are delivered: upright, square pixels
    coded_size: tuple[int, int]  # width and height as stored
    rate: Fraction  # nominal frames a second; frame times may wander about it
    frames: int | None  # how many; None where only decoding can tell
    duration_s: float | None  # seconds, as the file states it
    last_s: Fraction  # how long its last frame is shown, seconds
    rotation: int  # how far the stored picture must be turned clockwise to be upright: 0, 90, 180, 270
    mirrored: bool  # whether it must be mirrored left to right before that turn
    sample_aspect: Fraction  # width of a stored pixel over its height
    range: Literal["limited", "full"]  # of the stored codes
    matrix: str  # matrix, primaries, transfer: as tagged, in ffmpeg's names; "unknown" if not tagged
    primaries: str
    transfer: str
    alpha: Alpha
    codec: str  # codec, pixel_format, container: in ffmpeg's names
    pixel_format: str
    container: str
    bit_depth: int  # bits of a component
    interlaced: bool  # some frames at least are two fields; those are woven apart, the others left alone
    combed: bool  # all frames are two fields, and none says so
    sound: bool
    channels: int  # of its sound: 0 none, 1 mono, 2 two or more
    still: bool  # one picture without duration
    start: Fraction  # presentation time of the first frame in the file's own clock, seconds
    stream: int  # which of the file's streams is read
    key_frames: int | None  # as far as its index tells
    input: tuple[str, ...]  # how ffmpeg opens it

    @property
    def indexed(self) -> bool:
        """Whether the container has an index that makes a jump land before the wanted frame."""
        return self.container.startswith(("mov,", "matroska", "avi"))

    @property
    def about_frames(self) -> int:
        """How many frames it has, as far as it says; 0 if it says nothing."""
        return self.frames or round((self.duration_s or 0) * self.rate)

    @property
    def pixels(self) -> Literal["rgb24", "rgba"]:
        """The form in which nothing of its pictures is lost."""
        return "rgb24" if self.alpha == "none" else "rgba"

    def of_twin(self, path: Path) -> ClipFacts:
        """Return the facts of another file that was written in the very same way."""
        return replace(self, path=path, input=(*self.input[:-1], file_url(path)))

    def as_dict(self) -> dict[str, object]:
        """Return the facts as they stand in a report."""
        told = {
            **{"path": self.path.name, "size": list(self.size), "coded_size": list(self.coded_size)},
            **{"rate": str(self.rate), "sample_aspect": str(self.sample_aspect)},
        }
        names = (field.name for field in fields(self) if field.name not in _OWN)
        return {name: told.get(name, getattr(self, name)) for name in names}
