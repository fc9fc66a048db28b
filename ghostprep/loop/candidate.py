"""One place where a clip could be joined to itself."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import Final, Literal, get_args

Method = Literal["cut", "crossfade", "flow"]


UNSEEN: Final = 0.8
"""A score under which nothing is seen."""
GOOD: Final = 1.0
"""A score up to which a clip is said to loop."""
SMALL_JUMP: Final = 1.5
"""A score up to which a join is said to make a small jump."""
_LOOKS: Final = ((GOOD, "smooth"), (SMALL_JUMP, "a small jump"), (math.inf, "jumps"))
"""Scores, and how a join looks up to each."""


@dataclass(frozen=True, slots=True)
class LoopCandidate:
    """A stretch of the clip that could loop, and how to blend its end into its start."""

    # first and last frame of the loop, inclusive, as positions in the strip
    first: int
    last: int
    # frames of the blend; 0 for a cut. They are the loop's last frames, mixed with those before `first`
    blend: int
    method: Method  # how the blend is made; "flow" is motion-compensated
    score: float  # the worst of the figures below, each over its limit: 1 or less is good
    step: float = 0.0  # largest step inside the join over the 95th percentile of the loop's other steps
    jerk: float = 0.0  # largest change of speed at the join over the 95th percentile of the loop's own
    # how much shorter the shortest step inside the join is than the steps before and after it, in the same
    # unit; less what is usual in the loop, as where each drawing is shown twice
    stop: float = 0.0
    double: float = 0.0  # largest double image in the blend, in steps of the loop's usual (median) motion
    dip: float = 1.0  # lowest sharpness in the blend over that of the frames which it mixes; 1 is as sharp
    ripple: float = 0.0  # how far the blend's brightness leaves that of the frames which it mixes, as a share
    # as `step`, with each part of the picture held against its own motion: slow smoke beside a dancer
    part: float = 0.0
    # change of the figure's motion across the join, over the loop's own fast motion (95th percentile), or its
    # own largest changes where these are more: 0 it goes on, 1 it stops dead, 2 it turns about
    turn: float = 0.0
    slow: int = 0  # steps around a cut that are shown in one step more, each shorter by as much; 0 for none
    exact: bool = False  # whether the clip repeats itself picture by picture with this length

    def __post_init__(self) -> None:
        if not 0 <= self.first <= self.last:
            raise ValueError(f"a loop from frame {self.first} to {self.last} is empty or starts before 0")
        if self.method not in get_args(Method):
            raise ValueError(f"method is {self.method!r}, it must be one of {', '.join(get_args(Method))}")
        if not 0 <= self.blend < self.frames:
            raise ValueError(f"a blend of {self.blend} frames does not fit a loop of {self.frames}")
        if (self.blend == 0) != (self.method == "cut"):
            raise ValueError(f"a {self.method} cannot have {self.blend} frames")

    @property
    def frames(self) -> int:
        """How many frames of the clip the loop takes."""
        return self.last - self.first + 1

    @property
    def shown(self) -> int:
        """Length of the loop in frames."""
        return self.frames + (self.slow > 0)

    @property
    def name(self) -> str:
        """The frames, as ``FIRST-LAST``."""
        return f"{self.first}-{self.last}"

    @property
    def looks(self) -> str:
        """How the join looks, in a word or two, by its score in hundredths: as the proof judges it."""
        return next(word for most, word in _LOOKS if round(self.score, 2) <= most)

    @property
    def smooth(self) -> bool:
        """Whether the clip is said to loop there."""
        return self.looks == _LOOKS[0][1]

    def as_dict(self) -> dict[str, object]:
        """Return the candidate as it stands in a report."""
        return {
            "name": self.name,
            "frames": self.shown,
            "looks": self.looks,
            **{k: round(v, 4) if isinstance(v, float) else v for k, v in asdict(self).items()},
        }
