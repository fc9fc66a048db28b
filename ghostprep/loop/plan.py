"""Which source frames make each frame of the loop."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, get_args

from ghostprep.joins import How
from ghostprep.loop.candidate import Method

_EASE: Final = 0.5
"""Share of the gentle curve in a moved blend; the rest rises evenly."""


def weights(blend: int, method: Method) -> tuple[float, ...]:
    """Return the shares, 0..1, of the second frame in a blend of `blend` frames.

    A plain crossfade rises evenly, so that each of its steps is as small as can be. A moved blend sets off
    and arrives gently, since the figure's speed must not jump.
    """
    even = [(i + 1) / (blend + 1) for i in range(blend)]
    if method != "flow":
        return tuple(even)
    return tuple((1 - _EASE) * t + _EASE * t * t * (3 - 2 * t) for t in even)


@dataclass(frozen=True, slots=True)
class Blend:
    """One frame of the loop."""

    a: int
    """Source frame."""
    b: int | None = None
    """The source frame that it is blended with; None for none."""
    weight: float = 0.0
    """Share of `b`, 0..1."""
    gain: float = 1.0
    """Factor on the light, 0..1."""
    shift: tuple[float, float] = (0.0, 0.0)
    """How far the figure is moved right and down, in shares of its height: a still's drift."""

    def __post_init__(self) -> None:
        if self.a < 0 or (self.b is not None and self.b < 0):
            raise ValueError(f"frames {self.a} and {self.b}: a frame before 0 does not exist")
        if not 0 <= self.weight <= 1 or not 0 <= self.gain <= 1:
            raise ValueError(f"weight {self.weight} and gain {self.gain} must lie in 0..1")
        if self.b is None and self.weight:
            raise ValueError(f"frame {self.a} has a weight for a frame that it does not have")

    @property
    def sources(self) -> tuple[int, ...]:
        """The source frames that are really needed."""
        return (self.a,) if self.b is None else (self.a, self.b)


@dataclass(frozen=True, slots=True)
class LoopPlan:
    """A finished loop as a list of what to show."""

    steps: tuple[Blend, ...]
    """The frames in the order in which they are shown."""
    first: int
    last: int
    """First and last source frame of the loop, inclusive."""
    blend: int
    """Frames of the blend, of each turn, or of each fade."""
    method: Method
    """How two frames are mixed."""
    join: How
    """How the end meets the start."""
    join_steps: tuple[int, ...] = ()
    """The steps inside the join: i is the step from frame i to frame i + 1 of the loop, cyclic."""
    blend_frames: tuple[int, ...] = ()
    """The frames of the loop that are mixed, which may be softer than others."""
    begun: int = 0
    """Which frame of the loop is shown first, counted from the one that shows `first` alone."""

    def __post_init__(self) -> None:
        if not self.steps:
            raise ValueError("a loop without frames")
        if self.method not in get_args(Method):
            raise ValueError(f"method is {self.method!r}, it must be one of {', '.join(get_args(Method))}")
        if self.join not in get_args(How):
            raise ValueError(f"join is {self.join!r}, it must be one of {', '.join(get_args(How))}")
        if any(not 0 <= i < len(self.steps) for i in (*self.join_steps, *self.blend_frames)):
            raise ValueError(f"a join outside the loop's {len(self.steps)} frames")

    def __len__(self) -> int:
        return len(self.steps)

    @property
    def span(self) -> tuple[int, int]:
        """Lowest source frame that is needed, and the highest plus one."""
        needed = [i for step in self.steps for i in step.sources]
        return min(needed), max(needed) + 1

    @property
    def drift(self) -> float:
        """How far the figure is moved at most, as a share of its height."""
        return max(abs(way) for step in self.steps for way in step.shift)

    def mixed_by(self, method: Method) -> LoopPlan:
        """Return the same loop with its frames mixed by another method."""
        if not self.blend_frames:
            return self
        if self.join == "there-and-back":  # its weights are places between two frames, whoever makes them
            return replace(self, method=method)
        steps = list(self.steps)
        order = sorted(self.blend_frames, key=lambda i: steps[i].weight)
        for i, weight in zip(order, weights(len(order), method), strict=True):
            steps[i] = replace(steps[i], weight=weight)
        return replace(self, steps=tuple(steps), method=method)

    def rotated(self, k: int) -> LoopPlan:
        """Return the same loop, begun at its frame `k`; only the place of the file's own seam differs."""
        count = len(self)
        k %= count
        return replace(
            self,
            steps=self.steps[k:] + self.steps[:k],
            join_steps=tuple(sorted((i - k) % count for i in self.join_steps)),
            blend_frames=tuple(sorted((i - k) % count for i in self.blend_frames)),
            begun=(self.begun + k) % count,
        )
