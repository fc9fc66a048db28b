"""Reads what ffmpeg prints of a file: its streams, and its first decoded frames."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

from ghostprep.clip.orient import orientation_of

_INPUT: Final = re.compile(r"Input #0, (\S+), from ")
_DURATION: Final = re.compile(r"Duration: (\d+):(\d\d):(\d\d(?:\.\d+)?)")
_STREAM: Final = re.compile(r"Stream #0:(\d+)\S*: (Video|Audio): (.*)")
_SIZE: Final = re.compile(r"[, ](\d{1,6})x(\d{1,6})(?:[, ]|$)")
_FRAME: Final = re.compile(
    r"n: *\d+ pts: *(-?\d+|NOPTS) .*?fmt:(\w+) .*?sar:(\d+)/(\d+) s:(\d+)x(\d+) i:(\w)"
)
_COLOUR: Final = re.compile(r"color_range:(\S+) color_space:(\S+) color_primaries:(\S+) color_trc:(\S+)")
_CLOCK: Final = re.compile(r"config in time_base: (\d+)/(\d+), frame_rate: (\d+)/(\d+)")
_TURN: Final = re.compile(r"\[transpose @ \w+\] (?:\[\w+\] )?Setting 'dir' to value '(\w+)'")
_FLIP: Final = re.compile(r"Filter '([hv]flip)' formats")
_TAG: Final = re.compile(r"isplay ?[Mm]atrix: rotation of (-?(?:0|180)\.\d+) degrees")
_ENCRYPTED: Final = re.compile(r"\((?:encv|drmi|drms)\b")
_FIELDS: Final = re.compile(r"\b(?:top|bottom)(?: coded)? first\b")
_ALPHA_TAG: Final = re.compile(r"alpha_mode\s*: 1", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Picture:
    """A stream of pictures as the container describes it."""

    index: int
    codec: str
    size: tuple[int, int]
    cover: bool
    encrypted: bool
    interlaced: bool
    alpha_tagged: bool = False


@dataclass(frozen=True, slots=True)
class Contents:
    """What a file holds; `channels` are those of its first sound, 0 without."""

    container: str
    duration_s: float | None
    pictures: tuple[Picture, ...]
    channels: int
    tiled: bool


@dataclass(frozen=True, slots=True)
class FirstFrames:
    """The first decoded frames; `size` and `aspect` are those of the upright picture."""

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
    premultiplied: bool


def read_contents(lines: Sequence[str]) -> Contents:
    """Read the description of the first input."""
    pictures: list[Picture] = []
    channels, container, duration = 0, "", None
    in_picture = tiled = False
    for line in lines:
        if found := _INPUT.search(line):
            container = found[1].rstrip(",")
        elif found := _DURATION.search(line):
            duration = int(found[1]) * 3600 + int(found[2]) * 60 + float(found[3])
        elif "Stream group #0:" in line:
            tiled = tiled or "Tile Grid" in line
        elif found := _STREAM.search(line):
            in_picture = found[2] == "Video"
            if not in_picture and not channels:
                channels = 1 if ", mono" in found[3] else 2
            if in_picture:
                pictures.append(_picture(int(found[1]), found[3]))
        elif in_picture and _ALPHA_TAG.search(line):
            pictures[-1] = replace(pictures[-1], alpha_tagged=True)
    return Contents(container, duration, tuple(pictures), channels, tiled)


def _picture(index: int, text: str) -> Picture:
    size = _SIZE.search(text)
    return Picture(
        index,
        codec=re.split(r"[ ,]", text, maxsplit=1)[0],
        size=(int(size[1]), int(size[2])) if size else (0, 0),
        cover="(attached pic)" in text,
        interlaced=_FIELDS.search(text) is not None,
        encrypted=_ENCRYPTED.search(text) is not None,
    )


def read_first_frames(lines: Sequence[str], *, wanted: int) -> FirstFrames | None:
    """Read what the showinfo filter told of the first frames; None if no frame was decoded."""
    clock = next((m for line in lines if (m := _CLOCK.search(line))), None)
    frames = [m for line in lines if (m := _FRAME.search(line))]
    colour = next((m for line in lines if (m := _COLOUR.search(line))), None)
    if clock is None or not frames or colour is None:
        return None
    first = frames[0]
    tick = Fraction(int(clock[1]), int(clock[2]))
    rate = Fraction(int(clock[3]), int(clock[4]) or 1) or Fraction(25)
    mirrored, rotation = _orientation(lines)
    return FirstFrames(
        count=min(len(frames), wanted),
        start=Fraction(0) if first[1] == "NOPTS" else int(first[1]) * tick,
        rate=rate,
        pixel_format=first[2],
        aspect=Fraction(int(first[3]), int(first[4]) or 1) or Fraction(1),
        size=(int(first[5]), int(first[6])),
        # a clip may open with a whole picture: any of the first frames tells
        interlaced=any(m[7] in "TB" for m in frames),
        mirrored=mirrored,
        rotation=rotation,
        range=colour[1],
        matrix=colour[2],
        primaries=colour[3],
        transfer=colour[4],
        premultiplied=any("alpha_mode:premultiplied" in line for line in lines),
    )


def _orientation(lines: Sequence[str]) -> tuple[bool, int]:
    """Return (mirrored, rotation) from the filters that ffmpeg puts in to set the picture upright."""
    for line in lines:
        if found := _TURN.search(line):
            return orientation_of(frozenset({f"transpose={found[1]}"}))
    flips = frozenset(m[1] for line in lines if (m := _FLIP.search(line)))
    if not flips and (tag := next((m for line in lines if (m := _TAG.search(line))), None)):
        # an older ffmpeg tells of turns alone; half a turn and a mirror image it cannot be told apart there
        flips = frozenset({"vflip"} if abs(float(tag[1])) < 1 else {"hflip", "vflip"})
    return orientation_of(flips)
