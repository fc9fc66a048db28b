"""What a written file says about itself, whatever its form."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from ghostprep.player.parse.avi import AviFile
from ghostprep.player.parse.h264 import H264Stream
from ghostprep.player.parse.hevc import HevcStream
from ghostprep.player.parse.jpeg import JpegStream
from ghostprep.player.parse.mp4 import Mp4File
from ghostprep.player.parse.mpeg1 import Mpeg1Stream
from ghostprep.player.parse.mpeg4 import Mpeg4Stream


@dataclass(frozen=True, slots=True)
class StreamFacts:
    """What PyAV and our parsers read of a written file.

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
    mp4, avi, h264, hevc, mpeg1, mpeg4, jpeg
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
    hevc: HevcStream | None = None
    mpeg1: Mpeg1Stream | None = None
    mpeg4: Mpeg4Stream | None = None
    jpeg: JpegStream | None = None

    @property
    def seconds(self) -> Fraction | None:
        """How long the pictures last."""
        return None if self.rate is None else self.frames / self.rate
