"""When which ghost comes out of the dark."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from fractions import Fraction
from typing import Final

from ghostprep.arguments import check_times
from ghostprep.errors import InputError

DARK_S: Final = 0.5
"""The least dark between two appearances: shorter, and the one would seem to turn into the other."""


@dataclass(frozen=True, slots=True)
class Appearance:
    """One ghost, once."""

    ghost: int
    """Which of the ghosts, counted from 0."""
    start: int
    stop: int
    """Its first frame in the file, and the first after it."""


@dataclass(frozen=True, slots=True)
class Schedule:
    """What is shown when, for a whole file that is repeated."""

    appearances: tuple[Appearance, ...]
    """In the order of time. The file begins and ends in the dark."""
    frames: int
    """Length of the file."""
    rate: Fraction
    """Frames a second."""
    seed: int
    """With the same settings and seed the schedule is the same."""

    def __post_init__(self) -> None:
        end = 0
        for one in self.appearances:
            if not end <= one.start < one.stop <= self.frames:
                raise ValueError(f"{one} overlaps another or leaves the {self.frames} frames")
            end = one.stop

    def __iter__(self) -> Iterator[tuple[int, int] | None]:
        """Yield for each frame of the file the ghost and its frame, or None for black."""
        at = 0
        for one in self.appearances:
            yield from (None for _ in range(one.start - at))
            yield from ((one.ghost, k) for k in range(one.stop - one.start))
            at = one.stop
        yield from (None for _ in range(self.frames - at))

    @property
    def intervals(self) -> tuple[int, int]:
        """Least and greatest number of frames from the beginning of one to that of the next."""
        starts = [one.start for one in self.appearances]
        steps = [b - a for a, b in zip(starts, [*starts[1:], starts[0] + self.frames], strict=True)]
        return min(steps), max(steps)

    def as_dict(self) -> dict[str, object]:
        """Return the schedule as it stands in a report; `start_s` and `stop_s` in seconds."""
        return {
            "frames": self.frames,
            "seconds": float(self.frames / self.rate),
            "seed": self.seed,
            "appearances": [
                {**asdict(a), "start_s": float(a.start / self.rate), "stop_s": float(a.stop / self.rate)}
                for a in self.appearances
            ],
        }


def plan_appearances(
    lengths: Sequence[int], rate: Fraction, *, every_s: tuple[float, float], total_s: float, seed: int = 0
) -> Schedule:
    """Let ghosts appear one after another at uneven intervals.

    Parameters
    ----------
    lengths : sequence of int
        Frames of each ghost, from dark to dark.
    every_s : (float, float)
        Least and greatest time in seconds from one appearance to the next, beginning to beginning. Equal
        values give a regular rhythm.
    total_s : float
        Longest file in seconds. It is filled exactly if the intervals allow that.
    seed : int
        Chooses among the schedules that fit.

    Returns
    -------
    Schedule
        No ghost appears twice running, over the file's end neither (unless there is only one ghost).

    Raises
    ------
    InputError
        A ghost does not fit the interval, or the file is too short for the ghosts to alternate.
    """
    if not lengths or min(lengths) < 1:
        raise ValueError(f"lengths are {list(lengths)}, each ghost needs a frame at least")
    low, high = (round(Fraction(s).limit_denominator(10**6) * rate) for s in every_s)
    dark = max(1, round(Fraction(DARK_S) * rate))
    total = int(Fraction(total_s).limit_denominator(10**6) * rate)
    _check_interval(lengths, rate, (low, high), dark, every_s)
    chance = random.Random(seed)  # noqa: S311 - a show, not a secret
    least = [max(low, n + dark) for n in lengths]
    count, order = _fill(least, high, total, chance)
    if count == 0:
        needed = min(least) if len(lengths) == 1 else sum(sorted(least)[:2])
        raise InputError(
            f"is {total_s:g} s, the ghosts need {float(needed / rate):.1f} s to appear in turn",
            where="--repeat-for",
            remedy="ask for a longer file or shorter intervals",
        )
    intervals = _intervals([least[g] for g in order], high, total, chance)
    frames = sum(intervals)
    # half of the last dark goes to the beginning, so that the player starts over in the middle of the dark
    at = (intervals[-1] - lengths[order[-1]]) // 2
    shown: list[Appearance] = []
    for ghost, interval in zip(order, intervals, strict=True):
        shown.append(Appearance(ghost, at, at + lengths[ghost]))
        at += interval
    return Schedule(tuple(shown), frames, rate, seed)


def _check_interval(
    lengths: Sequence[int], rate: Fraction, every: tuple[int, int], dark: int, every_s: tuple[float, float]
) -> None:
    check_times(every_s, "--appear")
    longest = max(range(len(lengths)), key=lambda g: lengths[g])
    if lengths[longest] + dark > every[1]:
        raise InputError(
            f"ghost {longest + 1} lasts {float(lengths[longest] / rate):.1f} s, which does not fit every"
            f" {every_s[1]:g} s",
            where="--appear",
            remedy=f"ask for at least {float((lengths[longest] + dark) / rate) + 0.05:.1f} s, or shorten it"
            " with --length",
        )


def _fill(least: Sequence[int], high: int, total: int, chance: random.Random) -> tuple[int, list[int]]:
    """Return how many appearances fill the file, and which ghost is each."""
    ghosts = len(least)
    step = 2 if ghosts == 2 else 1
    fewest = 1 if ghosts == 1 else 2
    # near the mean interval, so that there is room to be uneven; then as close as the length allows
    wanted = round(total / ((min(least) + high) / 2))
    counts = sorted(
        (n for n in range(fewest, total // min(least) + 1) if n % step == 0), key=lambda n: abs(n - wanted)
    )
    short: tuple[int, list[int]] | None = None
    for n in counts:
        order = _order(n, ghosts, chance)
        if sum(least[g] for g in order) > total:
            continue
        if n * high >= total:
            return n, order
        if short is None or n > short[0]:
            short = n, order  # fits, and leaves a rest
    if short is None and sum(sorted(least)[:fewest]) <= total:
        # only the shortest ghosts fit so short a file
        short = fewest, sorted(range(ghosts), key=lambda g: least[g])[:fewest]
    return short or (0, [])


def _order(count: int, ghosts: int, chance: random.Random) -> list[int]:
    """Return which ghost appears when: all about equally often, none twice running in the circle."""
    if ghosts == 1:
        return [0] * count
    order: list[int] = []
    shown = [0] * ghosts
    for place in range(count):
        barred = {order[-1]} if order else set()
        if place == count - 1:
            barred.add(order[0])
        free = [g for g in range(ghosts) if g not in barred]
        rarest = min(shown[g] for g in free)
        ghost = chance.choice([g for g in free if shown[g] <= rarest + (1 if ghosts > 2 else 0)])
        order.append(ghost)
        shown[ghost] += 1
    return order


def _intervals(least: Sequence[int], high: int, total: int, chance: random.Random) -> list[int]:
    """Draw intervals between their least and `high` whose sum is `total`, or as near below as they reach."""
    drawn = [chance.randint(low, high) for low in least]
    wanted = min(total, high * len(least))
    while (rest := wanted - sum(drawn)) != 0:
        room = [high - x if rest > 0 else x - low for x, low in zip(drawn, least, strict=True)]
        movable = [i for i, r in enumerate(room) if r > 0]
        share = max(1, abs(rest) // len(movable))
        chance.shuffle(movable)
        for i in movable:
            move = min(share, room[i], abs(wanted - sum(drawn)))
            drawn[i] += move if rest > 0 else -move
    return drawn
