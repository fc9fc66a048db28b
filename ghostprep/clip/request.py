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
from ghostprep.clip.filters import chain
from ghostprep.clip.pixels import Pixels, ffmpeg_name, frame_shape
from ghostprep.clip.source import PIXELS_MAX
from ghostprep.errors import InputError

TIME_FORMAT: Final = "@{pts} {tb}@"
_GAP_MAX_S: Final = 10.0
"""A longer gap is a splice, and not meant."""


def jump_to(seconds: Fraction | float) -> tuple[str, ...]:
    """Return the arguments that open a clip at the key frame before a time in its own clock."""
    # the decoder's own way to cut off what comes before counts a late start of the file twice
    return ("-noaccurate_seek", "-seek_timestamp", "1", "-ss", f"{float(seconds):.6f}")


@dataclass(frozen=True, slots=True)
class Request:
    """Some frames of a clip, at one crop and size; InputError: settings that fit no frame of this clip."""

    facts: ClipFacts
    size: tuple[int, int]  # width and height that come out
    # part of the frame, in delivered (upright, square) pixels; cut first, then scaled
    crop: Box | None
    # start, stop, step: which frames, counted in the clip as a slice counts; `stop` None: to the end
    start: int
    stop: int | None
    step: int
    # presentation time of every frame, where it is known: allows to jump near ``start``
    times: Sequence[Fraction] | None
    pixels: Pixels

    def __post_init__(self) -> None:
        width, height = self.size
        crop, whole, wrong = self.crop, self.facts.size, ""
        if self.start < 0 or self.step < 1 or (self.stop is not None and self.stop < 0):
            wrong = f"no frames lie from {self.start} to {self.stop} in steps of {self.step}"
        elif crop is not None and (crop.empty or crop.within(whole) != crop):
            wrong = f"the crop {crop} does not lie in the picture of {whole[0]}x{whole[1]}"
        elif min(self.size) < 1 or width * height > PIXELS_MAX:
            wrong = f"a frame of {width}x{height} cannot be made"
        elif self.pixels == "i420" and (width % 2 or height % 2):
            wrong = f"planes of 4:2:0 need an even size, not {width}x{height}"
        if wrong:
            raise InputError(wrong, where=self.where)

    @property
    def where(self) -> str:
        """What messages call the clip."""
        return str(self.facts.path)

    @property
    def shape(self) -> tuple[int, ...]:
        """Of a frame's array."""
        return frame_shape(self.size, self.pixels)

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
        if self.facts.indexed or self.facts.still:
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
        if times is not None and before < start < len(times) and facts.indexed and self.step == 1:
            landing, wanted = (
                facts.start + (times[target - 1] + times[target]) / 2 for target in (start - before, start)
            )
            jump = jump_to(landing)
            found.append((self._arguments(f"gte(t,{float(wanted):.6f})", jump), facts.start + times[start]))
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
            # we read ahead ourselves: frames that wait in there as well only take memory
            *("-pix_fmt", ffmpeg_name(self.pixels), "-thread_queue_size", "2"),
            *("-f", "rawvideo", "-y", "pipe:1"),
        ]

    def _pick(self, first: int) -> str:
        """Return the select filter's expression for every `step`-th frame from `first` on."""
        conditions = []
        if first:
            conditions.append(f"gte(n,{first})")
        if self.step > 1:
            conditions.append(f"not(mod(n-{first},{self.step}))")
        return "*".join(conditions)
