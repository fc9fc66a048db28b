"""What a clip is, as read from the file and from its first frames."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Literal

from ghostprep.clip.source import file_url

Alpha = Literal["none", "straight", "premultiplied"]


@dataclass(frozen=True, slots=True)
class ClipFacts:
    """What a clip is.

    Attributes
    ----------
    path : Path
        The clip: a file, a folder of numbered pictures, or a pattern such as ``frame_%04d.png``.
    size : (int, int)
        Width and height as frames are delivered: upright, square pixels.
    coded_size : (int, int)
        Width and height as stored.
    rate : Fraction
        Nominal frames a second; frame times may wander about it.
    frames : int or None
        How many; None where only decoding can tell.
    duration_s : float or None
        Seconds, as the file states it.
    rotation : int
        How far the stored picture must be turned clockwise to be upright: 0, 90, 180, 270.
    mirrored : bool
        Whether it must be mirrored left to right before that turn.
    sample_aspect : Fraction
        Width of a stored pixel over its height.
    range : {"limited", "full"}
        Of the stored codes.
    matrix, primaries, transfer : str
        As tagged, in ffmpeg's names; "unknown" if not tagged.
    alpha : {"none", "straight", "premultiplied"}
    codec, pixel_format, container : str
        In ffmpeg's names.
    bit_depth : int
        Bits of a component.
    interlaced : bool
        Some frames at least are two fields; those are woven apart, the others left alone.
    channels : int
        Of its sound: 0 none, 1 mono, 2 two or more.
    still : bool
        One picture without duration.
    start : Fraction
        Presentation time of the first frame in the file's own clock, seconds.
    stream : int
        Which of the file's streams is read.
    key_frames : int or None
        As far as its index tells.
    input : tuple of str
        How ffmpeg opens it.
    """

    path: Path
    size: tuple[int, int]
    coded_size: tuple[int, int]
    rate: Fraction
    frames: int | None
    duration_s: float | None
    rotation: int
    mirrored: bool
    sample_aspect: Fraction
    range: Literal["limited", "full"]
    matrix: str
    primaries: str
    transfer: str
    alpha: Alpha
    codec: str
    pixel_format: str
    container: str
    bit_depth: int
    interlaced: bool
    sound: bool
    channels: int
    still: bool
    start: Fraction
    stream: int
    key_frames: int | None
    input: tuple[str, ...]

    def of_twin(self, path: Path) -> ClipFacts:
        """Return the facts of another file that was written in the very same way."""
        return replace(self, path=path, input=(*self.input[:-1], file_url(path)))

    def as_dict(self) -> dict[str, object]:
        """Return the facts as they stand in a report."""
        return {
            "path": self.path.name,
            "size": list(self.size),
            "coded_size": list(self.coded_size),
            "rate": str(self.rate),
            "frames": self.frames,
            "duration_s": self.duration_s,
            "rotation": self.rotation,
            "mirrored": self.mirrored,
            "sample_aspect": str(self.sample_aspect),
            "range": self.range,
            "matrix": self.matrix,
            "primaries": self.primaries,
            "transfer": self.transfer,
            "alpha": self.alpha,
            "codec": self.codec,
            "pixel_format": self.pixel_format,
            "container": self.container,
            "bit_depth": self.bit_depth,
            "interlaced": self.interlaced,
            "sound": self.sound,
            "channels": self.channels,
            "still": self.still,
        }
