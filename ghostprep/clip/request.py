"""What is asked of the decoder: which frames, which part, which size, and the arguments that say so."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Final

from ghostprep.box import Box
from ghostprep.clip.child import STALL_S
from ghostprep.clip.colour import HLG, cube_folder
from ghostprep.clip.facts import ClipFacts
from ghostprep.clip.filters import Pixels, chain
from ghostprep.clip.source import PIXELS_MAX
from ghostprep.errors import InputError

INDEXED: Final = ("mov,", "matroska", "avi")
"""Containers whose index makes a jump land before the wanted frame."""
TIME_FORMAT: Final = "@{pts} {tb}@"
_GAP_MAX_S: Final = 10.0
_PIX_FMT: Final = {"rgb24": "rgb24", "rgba": "rgba", "i420": "yuv420p"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """Some frames of a clip, at one crop and size.

    Raises
    ------
    InputError
        Settings that fit no frame of this clip.
    """

    facts: ClipFacts
    size: tuple[int, int]  # width and height that come out
    # part of the frame, in delivered (upright, square) pixels; cut first, then scaled
    crop: Box | None = None
    # start, stop, step: which frames, counted in the clip as a slice counts; `stop` None: to the end
    start: int = 0
    stop: int | None = None
    step: int = 1
    # presentation time of every frame, where it is known: allows to jump near ``start``
    times: Sequence[Fraction] | None = None
    pixels: Pixels = "rgb24"

    def __post_init__(self) -> None:
        where, (width, height) = self.where, self.size
        if self.start < 0 or self.step < 1 or (self.stop is not None and self.stop < 0):
            raise InputError(
                f"no frames lie from {self.start} to {self.stop} in steps of {self.step}", where=where
            )
        crop, whole = self.crop, self.facts.size
        if crop is not None and (crop.empty or crop.within(whole) != crop):
            raise InputError(
                f"the crop {crop.width}x{crop.height}+{crop.x}+{crop.y} does not lie in "
                f"the picture of {whole[0]}x{whole[1]}",
                where=where,
            )
        if min(self.size) < 1 or width * height > PIXELS_MAX:
            raise InputError(f"a frame of {width}x{height} cannot be made", where=where)
        if self.pixels == "i420" and (width % 2 or height % 2):
            raise InputError(f"planes of 4:2:0 need an even size, not {width}x{height}", where=where)

    @property
    def where(self) -> str:
        """What messages call the clip."""
        return str(self.facts.path)

    @property
    def shape(self) -> tuple[int, ...]:
        """Of a frame's array."""
        width, height = self.size
        if self.pixels == "i420":
            return (height * 3 // 2, width)
        return (height, width, 4 if self.pixels == "rgba" else 3)

    @property
    def picked(self) -> bool:
        """Whether a filter picks frames: it counts anew when the pictures change on the way."""
        return self.start > 0 or self.step > 1

    @property
    def folder(self) -> Path | None:
        """Where the decoder has to run."""
        return cube_folder() if self.facts.transfer == HLG else None

    @property
    def gap_max_s(self) -> float:
        """The longest time between two frames that is meant: without an index a long gap is a splice."""
        if self.facts.container.startswith(INDEXED) or self.facts.still:
            return math.inf
        return _GAP_MAX_S + 2 * self.step / float(self.facts.rate)

    @property
    def stall_s(self) -> float:
        """Seconds without a byte until the decoder is ended: it is silent up to the first wanted frame."""
        return STALL_S + self.start / 2

    def attempts(self) -> list[tuple[list[str], Fraction | None]]:
        """Return arguments to try in turn, each with the time that its first frame must have, if any."""
        if self.stop is not None and self.stop <= self.start:
            return []
        facts, start, times = self.facts, self.start, self.times
        found: list[tuple[list[str], Fraction | None]] = []
        # bwdif looks at the neighbours: give it the same ones as if it had come from the start
        before = 2 if facts.interlaced else 0
        indexed = facts.container.startswith(INDEXED)
        if times is not None and before < start < len(times) and indexed and self.step == 1:
            landing, wanted = (
                float(facts.start + (times[target - 1] + times[target]) / 2)
                for target in (start - before, start)
            )
            # the decoder's own way to cut off what comes before counts a late start of the file twice
            jump = ("-noaccurate_seek", "-seek_timestamp", "1", "-ss", f"{landing:.6f}")
            found.append((self._arguments(f"gte(t,{wanted:.6f})", jump), facts.start + times[start]))
        return [*found, (self._arguments(self._pick(start), ()), None)]

    def _arguments(self, pick: str, jump: Sequence[str]) -> list[str]:
        facts = self.facts
        filters = chain(facts, pixels=self.pixels, size=self.size, crop=self.crop, pick=pick)
        count = None if self.stop is None else -(-(self.stop - self.start) // self.step)
        return [
            *("-loglevel", "level+info", "-nostats", "-copyts", "-noautorotate", *jump, *facts.input),
            *("-map", f"0:{facts.stream}", "-vf", filters, "-fps_mode", "passthrough"),
            # times in the file's own clock, so that uneven ones stay exact
            *("-enc_time_base:v", "demux"),
            *(() if count is None else ("-frames:v", str(count))),
            *("-stats_enc_pre:v", "pipe:2", "-stats_enc_pre_fmt", TIME_FORMAT),
            *("-pix_fmt", _PIX_FMT[self.pixels], "-f", "rawvideo", "-y", "pipe:1"),
        ]

    def _pick(self, first: int) -> str:
        """Return the select filter's expression for every `step`-th frame from `first` on."""
        conditions = []
        if first:
            conditions.append(f"gte(n,{first})")
        if self.step > 1:
            conditions.append(f"not(mod(n-{first},{self.step}))")
        return "*".join(conditions)
