"""Measure a join before it is made, and say what is wrong with it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from typing import Final

import numpy as np

from ghostprep.arrays import Figure, Frame, Light
from ghostprep.finding import Finding
from ghostprep.loop.blend import Pair
from ghostprep.loop.candidate import LoopCandidate, Method
from ghostprep.loop.parts import PartMotion
from ghostprep.loop.plan import weights
from ghostprep.loop.points import Shot
from ghostprep.loop.quantile import quantile
from ghostprep.loop.strip import rms, sharpness
from ghostprep.transfer import STILL, codes_to_light, luminance

JERK_LIMIT: Final = 2.0
"""In the loop's own jerks: twice the usual change of speed is seen as a stumble when it comes alone."""
TURN_LIMIT: Final = 1.0
"""A motion that stops dead makes 1, one that turns about 2; where motions have nothing to do with each other,
as in noise, they change as much everywhere."""
STOP_LIMIT: Final = 0.5
"""In the loop's own fast steps: a step that is shorter than those beside it by half of one is a hitch."""
DOUBLE_LIMIT: Final = 1.0
"""In steps of the usual motion: two images no further apart than a frame's own motion look like motion."""
PART_LIMIT: Final = 1.5
"""In the loop's own fast steps, each part of the picture in its own largest: slow smoke that jumps beside
a dancer makes 3, joins that nobody sees less than 1."""
_MOTION_S: Final = 0.08
"""Seconds on either side of a join whose motion is compared: two steps of a common clip."""
SOFTENING_LIMIT: Final = 0.2
RIPPLE_LIMIT: Final = 0.02
"""Shares of sharpness and of light that a blend may lose: what a score of 1 stands for."""


@dataclass(frozen=True, slots=True)
class Usual:
    """The loop's own motion, against which its join is held."""

    largest: float
    median: float
    """95th percentile and median of the steps; RMS of luminance in linear light."""
    jerk: float
    """95th percentile of the second differences, in the same unit."""
    stop: float
    """95th percentile of how much shorter a step is than those before and after it, in the same unit."""
    parts: PartMotion | None = None
    """The motion of each part of the picture, where the join is held against that too."""

    @classmethod
    def of(cls, steps: Light, jerks: Light) -> Usual:
        """Take the percentiles; nothing but a stop counts as less than `STILL`."""
        largest, median, jerk = (
            max(quantile(values, share), STILL) if len(values) else STILL
            for values, share in ((steps, 0.95), (steps, 0.5), (jerks, 0.95))
        )
        stops = np.minimum(steps[2:], steps[:-2]) - steps[1:-1]
        return cls(largest, median, jerk, max(quantile(stops, 0.95), 0.0) if len(stops) else 0.0)


@dataclass(frozen=True, slots=True)
class BlendCost:
    """What a blend costs; see `LoopCandidate` for the units."""

    step: float
    jerk: float
    stop: float = 0.0
    double: float = 0.0
    dip: float = 1.0
    ripple: float = 0.0
    part: float = 0.0

    @property
    def score(self) -> float:
        """The worst of all, each over its limit."""
        return max(
            self.step,
            self.jerk / JERK_LIMIT,
            self.stop / STOP_LIMIT,
            _seen_double(self.double / DOUBLE_LIMIT),
            (1 - self.dip) / SOFTENING_LIMIT,
            self.ripple / RIPPLE_LIMIT,
            self.part / PART_LIMIT,
        )


def _seen_double(double: float) -> float:
    """Weigh a double image against a jump: the wider it is, the more it looks like a dissolve, no worse."""
    return double if double <= 1 else 1 + 0.5 * float(np.log(double))


def candidate_of(
    begin: int, lag: int, blend: int, method: Method, found: BlendCost, *, exact: bool = False
) -> LoopCandidate:
    """Return the loop of `lag` frames whose blend mixes frame `begin` + `lag` + i with frame `begin` + i."""
    first = begin + blend
    return LoopCandidate(
        *(first, first + lag - 1, blend, method, found.score),
        step=found.step,
        jerk=found.jerk,
        stop=found.stop,
        double=found.double,
        dip=found.dip,
        ripple=found.ripple,
        part=found.part,
        exact=exact,
    )


def with_turn(candidate: LoopCandidate, stretch: Shot, rate: Fraction) -> LoopCandidate:
    """Return the candidate with its motion before the join held against that after it.

    Pictures as large as those that steps are measured on do not tell a figure that goes on from one that
    turns about: an edge that has moved by more than its width is as far from where it was as from elsewhere.
    Where the clip repeats itself exactly there is nothing to hold.
    """
    if candidate.exact:
        return candidate
    reach = max(1, round(_MOTION_S * rate))
    turn = stretch.turn(candidate.first, candidate.last, min(reach, candidate.frames - 1))
    # a blend leads from one motion to the other in its own time
    turn *= reach / (reach + candidate.blend)
    return replace(candidate, turn=turn, score=max(candidate.score, turn / TURN_LIMIT))


def _path_cost(path: Light, usual: Usual) -> BlendCost:
    """Return step, jerk and stop of a path (frames, d); its first two and last two frames are not blended."""
    speed = np.diff(path, axis=0)
    before, *steps, after = np.sqrt(np.mean(np.square(speed), axis=1)).tolist()
    jerks = np.sqrt(np.mean(np.square(np.diff(speed, axis=0)), axis=1))
    stop = max(min(before, after) - min(steps) - usual.stop, 0.0)
    return BlendCost(max(steps) / usual.largest, float(jerks.max()) / usual.jerk, stop / usual.largest)


def measure_points(points: Light, begin: int, lag: int, blend: int, usual: Usual) -> BlendCost:
    """Measure a plain crossfade on points (frames, d), which mix as the frames do.

    The blend of `blend` frames, 0 for a cut, mixes frame begin + lag + i with frame begin + i; a cut's loop
    begins at frame `begin`. Frames begin + lag + blend - 1 and begin + blend + 1 must exist.
    """
    share = np.asarray(weights(blend, "crossfade"), np.float32)[:, None]
    before, after = points[begin + lag - 2 : begin + lag + blend], points[begin : begin + blend + 2]
    apart = after[:blend] - before[2:]
    path = np.concatenate([before[:2], before[2:] + share * apart, after[blend:]])
    cost = _path_cost(path * np.float32(np.sqrt(path.shape[1])), usual)
    double = 4 * share[:, 0] * (1 - share[:, 0]) * np.sqrt(np.sum(np.square(apart), axis=1))
    return replace(cost, double=float(double.max(initial=0)) / usual.median)


class MeasuredPair(Pair):
    """A pair of frames as they are measured: luminance in linear light, and what the mix is held against."""

    @cached_property
    def greys(self) -> tuple[Light, Light]:
        """Luminance (h, w) of the two."""
        return grey_of(self.a), grey_of(self.b)

    @cached_property
    def sharpness(self) -> tuple[float, float]:
        """Sharpness of the two."""
        return sharpness(self.greys[0]), sharpness(self.greys[1])

    def mixed(self, weight: float, method: Method) -> tuple[Light, BlendCost]:
        """Return the mix (h, w) and its measures: `double` as an RMS difference, no step, no jerk."""
        (a, b), part = self.greys, weight
        moved_a, moved_b = a, b
        if method == "flow":
            moved_a, moved_b, part = self.meet(a, b, weight)
        mix = moved_a + np.float32(part) * (moved_b - moved_a)
        double = 4 * part * (1 - part) * rms(moved_b - moved_a) if 0 < part < 1 else 0.0
        dip = _share(sharpness(mix), _between(*self.sharpness, weight))
        level = _share(float(mix.mean()), _between(float(a.mean()), float(b.mean()), weight))
        return mix, BlendCost(0.0, 0.0, double=double, dip=dip, ripple=abs(level - 1))


def measure_frames(
    ends: Callable[[], Sequence[Light]],
    look: Callable[[int], MeasuredPair],
    blend: int,
    method: Method,
    usual: Usual,
) -> Iterator[BlendCost]:
    """Measure a blend on frames: yield what is known of its cost, which only rises, and at last all of it.

    `ends` returns the luminance (h, w) of the two frames before the blend, and of the loop's first two;
    ``look(i)`` the frames that the blend's frame i mixes. A blend of 0 frames is a cut.
    """
    shares = weights(blend, method)
    mixes: dict[int, Light] = {}
    found: list[BlendCost] = []
    cost = BlendCost(0.0, 0.0)
    # the middle, where most is mixed, soonest tells that a blend is no good
    for i in sorted(range(blend), key=lambda i: abs(2 * i + 1 - blend)):
        mixes[i], one = look(i).mixed(shares[i], method)
        found.append(one)
        cost = replace(
            cost,
            double=max(m.double for m in found) / usual.median,
            dip=min(m.dip for m in found),
            ripple=max(m.ripple for m in found),
        )
        yield cost
    first, second, *after = ends()
    path = [first, second, *(mixes[i] for i in range(blend)), *after]
    whole = _path_cost(np.stack([grey.ravel() for grey in path]), usual)
    part = usual.parts.jump(path[1:-1]) if usual.parts else 0.0
    yield replace(whole, double=cost.double, dip=cost.dip, ripple=cost.ripple, part=part)


def grey_of(codes: Frame | Figure) -> Light:
    """Return the luminance (h, w) of a frame (h, w, 3), in linear light."""
    return luminance(codes_to_light(codes))


def _between(a: float, b: float, weight: float) -> float:
    return (1 - weight) * a + weight * b


def _share(value: float, wanted: float) -> float:
    return value / wanted if wanted > 1e-7 else 1.0


def loop_finding(best: LoopCandidate | None, frames: str = "") -> Finding | None:
    """Say that a clip does not loop, why, and what to do; None if it loops.

    `best` is the best join that was found, None where the clip plays there and back for want of any. `frames`
    says what its frames are called, where they are not those of the strip.
    """
    remedy = "use --join there-and-back or --join fades, or take another stretch (--start, --end, --length)"
    if best is None:
        return Finding(
            "caution",
            "join",
            "the clip does not loop: it is too short, or cut into pieces; so it plays there and back, "
            "and what goes forwards goes backwards too",
            "where that shows, use --join fades or --join ends, or film it so that it ends where it began",
        )
    if best.smooth:
        return None
    worst = max(
        (best.step, f"the picture jumps {best.step:.2f} times as far as it moves from frame to frame"),
        (best.jerk / JERK_LIMIT, f"its motion changes {best.jerk:.1f} times as suddenly as elsewhere"),
        (best.stop / STOP_LIMIT, "it stands still for a moment"),
        (best.turn / TURN_LIMIT, "it stops or turns about at once"),
        (best.double / DOUBLE_LIMIT, "two figures show at once, one beside the other"),
        ((1 - best.dip) / SOFTENING_LIMIT, f"the picture gets {100 * (1 - best.dip):.0f} % softer"),
        (best.ripple / RIPPLE_LIMIT, "its brightness wavers"),
        (
            best.part / PART_LIMIT,
            f"a part of the picture jumps {best.part:.1f} times as far as it moves from frame to frame",
        ),
    )[1]
    return Finding(
        "caution",
        "join",
        f"the clip does not loop by itself: where it does best, over frames {frames or best.name}, "
        f"at the join {worst}",
        remedy,
    )
