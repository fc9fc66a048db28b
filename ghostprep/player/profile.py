"""What a player takes, as data that a builder can override."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from typing import Annotated, Any, Final, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PositiveInt,
    model_validator,
)

from ghostprep.player.h264_level import level_named
from ghostprep.tables import table_of
from ghostprep.words import did_you_mean

Container = Literal["mp4", "avi", "mkv", "mpeg-ps", "h264-stream", "jpeg-stream"]
Codec = Literal["h264", "hevc", "mjpeg", "mpeg1", "mpeg4", "ffv1"]
_LEVELS: Final = {"hevc": r"\d(\.\d)?", "mpeg4": r"[0-6]|4a"}
"""How ITU-T H.265 and ISO/IEC 14496-2 print their levels."""
_ENDINGS: dict[str, tuple[str, ...]] = {
    "mp4": (".mp4", ".m4v", ".mov"),
    "avi": (".avi",),
    "mkv": (".mkv",),
    "mpeg-ps": (".mpg", ".mpeg"),
    "h264-stream": (".h264", ".264"),
    "jpeg-stream": (".mjpeg", ".mjpg"),
}
"""File name endings of each container, the usual one first."""


def _fraction(value: object) -> object:
    # TOML has no fractions: "30000/1001" is written as text
    if isinstance(value, bool):
        return value
    if isinstance(value, str | int | float):
        try:
            return Fraction(str(value))
        except ZeroDivisionError:
            raise ValueError(f"{value} divides by nothing") from None
    return value


Rate = Annotated[Fraction, BeforeValidator(_fraction), Field(gt=0)]
Size = tuple[PositiveInt, PositiveInt]


def _level(name: str) -> str:
    return level_named(name).name


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True, allow_inf_nan=False)


class RasterLimits(_Part):
    """Which rasters the player takes."""

    usual: Size  # width and height that are taken if the builder names none
    largest: Size | None = None  # largest width and height; None: any
    either_way: bool = True  # whether `largest` also holds with width and height swapped
    choices: tuple[Size, ...] = ()  # the only rasters that are taken; empty: any within `largest`
    multiple: PositiveInt = 2  # width and height must be whole multiples of it

    def takes(self, raster: tuple[int, int]) -> bool:
        """Return whether a raster (width, height) is within the limits."""
        width, height = raster
        if width < 1 or height < 1 or width % self.multiple or height % self.multiple:
            return False
        ways = [raster, (height, width)] if self.either_way else [raster]
        if self.choices:
            return any(way in self.choices for way in ways)
        largest = self.largest
        return largest is None or any(w <= largest[0] and h <= largest[1] for w, h in ways)

    def in_words(self) -> str:
        """Return the limits as one readable clause."""
        if self.choices:
            text = " or ".join(f"{w}x{h}" for w, h in self.choices)
        elif self.largest:
            text = f"at most {self.largest[0]}x{self.largest[1]}"
        else:
            text = "any"
        if self.either_way and (self.choices or self.largest):
            text += ", upright or lying"
        return text + (f", in multiples of {self.multiple}" if self.multiple > 1 else "")


class RateLimits(_Part):
    """Which frame rates the player takes, in frames a second."""

    least: Rate = Fraction(1)  # both ends are taken
    largest: Rate
    whole: bool = False  # only whole numbers: the player reads the rate as an integer
    choices: tuple[Rate, ...] = ()  # the only rates that are taken; empty: any between the ends

    @model_validator(mode="after")
    def _ends_in_order(self) -> RateLimits:
        if self.least > self.largest:
            raise ValueError(f"least is {self.least}, it must not be above largest, {self.largest}")
        return self

    def takes(self, rate: Fraction) -> bool:
        """Return whether a rate is within the limits."""
        if self.choices:
            return rate in self.choices
        return self.least <= rate <= self.largest and (not self.whole or rate.denominator == 1)

    def in_words(self) -> str:
        """Return the limits as one readable clause."""
        if self.choices:
            return " or ".join(str(choice) for choice in self.choices)
        kind = "whole numbers, " if self.whole else ""
        return f"{kind}{self.least} to {self.largest}"


class BitLimits(_Part):
    """How much data the player takes in; None means no limit."""

    # mean and, over any second, largest rate of the picture stream, in 1000 bit/s
    rate_kbps: PositiveInt | None = None
    # decoder's buffer, in 1000 bit: what may pile up before it is shown
    buffer_kbit: PositiveInt | None = None
    frame_bytes: PositiveInt | None = None  # largest coded frame, in bytes
    # bytes before the first frame (all that precedes the list of frames)
    header_bytes: PositiveInt | None = None


class H264Limits(_Part):
    """Which H.264 streams the player decodes."""

    profile: Literal["constrained-baseline", "main", "high"]
    # highest level, as written in ITU-T H.264 table A-1 ("1.3")
    level: Annotated[str, AfterValidator(_level)]
    references: Annotated[int, Field(ge=1, le=16)] = 1  # reference frames that an encoder may use


class ColourLimits(_Part):
    """How the player turns codes into light."""

    range: Literal["limited", "full"] = "limited"  # whether black is luma 16 or luma 0
    matrix: Literal["bt709", "bt601", "rgb"] = "bt709"  # which sums of R, G, B it takes luma and chroma for
    panel: Literal["888", "565"] = "888"  # bits that its screen shows of R, G and B


class Profile(_Part):
    """A player's profile: what it takes, and why.

    Attributes
    ----------
    name : str
        The profile's name: that of its file, without the ending.
    title : str
        Which kind of player it stands for, in a builder's words.
    about : str
        What to know about such players.
    container, codec : str
        The file's form and the coding of its pictures.
    h264 : H264Limits or None
        For H.264 only.
    level : str
        Highest level of other codings that have levels, as printed in their standards.
    tag : str
        Four letters that name the coding in the file, where the player looks for others than the
        usual ones.
    key_s : float
        Longest time between frames that stand on their own, in seconds.
    sound : {"none", "pcm", "mp2", "mp3", "aac"}
        The one kind of sound that it takes beside none.
    silence_needed : bool
        Whether a file without a sound stream is refused, so that silence is added.
    names : {"8.3", "long"}
        File names that it reads.
    largest_bytes : int
        Largest file.
    blank_s : float
        How long the screen may stay dark when the file starts over, in seconds.
    why : dict
        Reason for a limit, by its key ("rate.whole").
    """

    name: str
    title: str
    about: str = ""
    container: Container
    codec: Codec
    raster: RasterLimits
    rate: RateLimits
    bits: BitLimits = BitLimits()
    colour: ColourLimits = ColourLimits()
    h264: H264Limits | None = None
    level: str = ""
    tag: str = ""
    key_s: Annotated[float, Field(gt=0)] = 1.0
    sound: Literal["none", "pcm", "mp2", "mp3", "aac"] = "none"
    silence_needed: bool = False
    names: Literal["8.3", "long"] = "long"
    largest_bytes: PositiveInt = 4_294_967_295
    blank_s: Annotated[float, Field(ge=0)] = 0.0
    why: dict[str, str] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _parts_fit(self) -> Profile:
        if (self.codec == "h264") != (self.h264 is not None):
            raise ValueError(f"codec is {self.codec!r}, the table [h264] goes with codec h264 and no other")
        if not self.raster.takes(self.raster.usual):
            raise ValueError(f"raster.usual is {self.raster.usual}, outside the profile's own raster limits")
        if self.level and not re.fullmatch(_LEVELS.get(self.codec, ""), self.level):
            raise ValueError(f"level: {self.codec} has no level {self.level!r}")
        known = list(_dotted(Profile))
        for key in self.why:
            if key not in known:
                remedy = did_you_mean(key, known, "give a limit's key, such as rate.largest")
                raise ValueError(f"why: there is no key {key!r}; {remedy}")
        return self

    @property
    def endings(self) -> tuple[str, ...]:
        """The endings of its file names, with the dot, the usual one first."""
        return _ENDINGS[self.container]

    @property
    def ending(self) -> str:
        """The usual ending of its file names, with the dot."""
        return self.endings[0]

    def as_dict(self) -> dict[str, Any]:
        """Return the profile as plain values, rates as text."""
        return self.model_dump(mode="json") | {"ending": self.ending}


def _dotted(table: type[BaseModel], before: str = "") -> Iterator[str]:
    """Yield the keys of a table and of those in it, as [why] names them: "rate.whole"."""
    for name, field in table.model_fields.items():
        yield before + name
        if inner := table_of(field.annotation):
            yield from _dotted(inner, f"{before}{name}.")
