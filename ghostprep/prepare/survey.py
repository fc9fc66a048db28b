"""One pass over the clip in small frames: what is behind the figure, where it is, how it moves."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from types import TracebackType
from typing import Final, Self, TypeAlias

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.box import Box
from ghostprep.clip import ClipFacts, FrameStream, glance, probe, read_frames
from ghostprep.errors import InputError
from ghostprep.loop import Strip
from ghostprep.picture import Key, Keyed, learn_key
from ghostprep.picture.channels import largest_channel
from ghostprep.prepare.fit import Body
from ghostprep.prepare.ordered import in_order
from ghostprep.prepare.recipe import Recipe
from ghostprep.prepare.store import FrameStore
from ghostprep.prepare.timeline import Clock
from ghostprep.progress import Progress

Frame: TypeAlias = npt.NDArray[np.uint8]

LONGEST: Final = 320
"""Longer side of the survey's frames, pixels: enough for boxes to a third of a pixel."""

FLOW_WIDTH: Final = 160
"""Width of the frames that are kept for judging joins."""

KEPT_BYTES: Final = 1 << 30
"""The most temporary disk that those frames may take; past it, joins are judged without them."""

_SEEN: Final = 16
"""Matte, 0..255, from which a pixel belongs to what the figure touches."""

_SOLID: Final = 128


@dataclass(frozen=True, slots=True)
class Survey:
    """What one pass over the clip found.

    Attributes
    ----------
    facts : ClipFacts
        With the frames counted.
    key : Key
    rate : Fraction
        Ticks a second of the even clock on which everything below counts.
    times : tuple of Fraction
        Presentation time of each source frame, seconds.
    source : ndarray of int (ticks,)
        Source frame that shows at each tick.
    strip : Strip
        The keyed figure in small, one entry a tick.
    small : FrameStore or None
        Keyed frames `FLOW_WIDTH` px wide, one a tick; None where the clip is too long.
    reach : ndarray of float32 (ticks, 4)
        Left, top, right, bottom of all that the figure touches, source px; NaN: no figure.
    solid : ndarray of float32 (ticks, 4)
        The same of its solid part, to a fraction of a pixel.
    bright : ndarray of float32 (ticks,)
        Code, 0..1, that 99 % of the figure's pixels stay below in their largest channel.
    damage : str or None
        What the decoder said where the clip breaks off.
    """

    facts: ClipFacts
    key: Key
    rate: Fraction
    times: tuple[Fraction, ...]
    source: npt.NDArray[np.int64]
    strip: Strip
    small: FrameStore | None
    reach: npt.NDArray[np.float32]
    solid: npt.NDArray[np.float32]
    bright: npt.NDArray[np.float32]
    damage: str | None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Give the temporary disk back."""
        if self.small is not None:
            self.small.close()

    def body(self, first: int, last: int) -> Body | None:
        """Return the figure's measures over the ticks `first` to `last`; None where there is none."""
        reach, solid = self.reach[first : last + 1], self.solid[first : last + 1]
        reach, solid = reach[~np.isnan(reach[:, 0])], solid[~np.isnan(solid[:, 0])]
        if not len(reach) or not len(solid):
            return None
        left, top = np.floor(reach[:, :2].min(axis=0)).astype(int)
        right, bottom = np.ceil(reach[:, 2:].max(axis=0)).astype(int)
        box = Box(int(left), int(top), int(right - left), int(bottom - top)).within(self.facts.size)
        height = float(np.median(solid[:, 3] - solid[:, 1]))
        middle = float(np.median((solid[:, 0] + solid[:, 2]) / 2))
        # the lowest the feet get, not the mean: while walking one foot is always lifted
        return Body(box, max(height, 1.0), (middle, float(np.percentile(solid[:, 3], 95))))


def read_picture(path: Path) -> Frame:
    """Return the first frame of a still picture, RGB, at its own size."""
    with read_frames(probe(path)) as stream:
        for frame in stream:
            return frame
    raise InputError("holds no picture", where=str(path), remedy="give a PNG or JPEG file")


def learn(facts: ClipFacts, recipe: Recipe) -> Key:
    """Look at the clip here and there and learn what is behind the figure."""
    glimpses = [glimpse.frame for glimpse in glance(facts)]
    if not glimpses:
        raise InputError(
            "holds no picture that can be decoded", where=str(facts.path), remedy="export it again"
        )
    plate = read_picture(recipe.plate) if recipe.plate else None
    return learn_key(glimpses, kind=recipe.backing, plate=plate, alpha=facts.alpha)


def survey(facts: ClipFacts, key: Key, rate: Fraction, recipe: Recipe, progress: Progress) -> Survey:
    """Read the clip once, in small frames.

    Parameters
    ----------
    facts : ClipFacts
    key : Key
        What `learn` returned.
    rate : Fraction
        Ticks a second; see `ghostprep.prepare.timeline.clock_rate`.
    recipe : Recipe
        ``start`` and ``end`` bound the part that is used.
    progress : Progress

    Raises
    ------
    InputError
        The part asked for holds no frame.
    """
    size = small_size(facts.size, LONGEST)
    keyer = key.at(None, facts.size, size)
    clock = Clock(rate, 1 / facts.rate)
    notes = _Notes(facts.size, size)
    times: list[Fraction] = []
    try:
        with read_frames(facts, size=size, pixels="rgba" if facts.alpha != "none" else "rgb24") as stream:
            chosen = _chosen(stream, recipe, times)
            for (index, time), keyed in in_order(lambda pair: (pair[0], keyer(pair[1])), chosen):
                notes.show(clock.advance(time))
                notes.take(index, keyed)
                progress("survey", index + 1, facts.frames)
            notes.show(clock.finish())
            damage = stream.damage
        if not notes.source:
            seconds = float(times[-1] + 1 / facts.rate) if times else 0.0
            raise InputError(
                f"no frame lies in the part asked for; the clip is {seconds:.2f} s long",
                where=str(facts.path),
                remedy="change --start and --end",
            )
    except BaseException:
        notes.close()
        raise
    progress("survey", len(times), len(times))
    return notes.survey(facts, key, rate, times, damage)


def small_size(size: tuple[int, int], longest: int) -> tuple[int, int]:
    """Return `size` scaled so that its longer side is at most `longest`, never enlarged."""
    scale = min(1.0, longest / max(size))
    return max(round(size[0] * scale), 1), max(round(size[1] * scale), 1)


def _chosen(
    stream: FrameStream, recipe: Recipe, times: list[Fraction]
) -> Iterator[tuple[tuple[int, Fraction], Frame]]:
    """Yield the frames in the part asked for, with their index and time; note every time."""
    for index, frame in enumerate(stream):
        time = stream.times[index] - stream.times[0]
        times.append(stream.times[index])
        if recipe.end is not None and time >= recipe.end:
            times.pop()
            return
        if recipe.start is None or time >= recipe.start:
            yield (index, time), frame


class _Notes:
    """What is kept of each frame, entered once for every tick at which it shows."""

    def __init__(self, full: tuple[int, int], size: tuple[int, int]) -> None:
        self._scale = np.array([full[0] / size[0], full[1] / size[1]] * 2, np.float32)
        self._flow_size = small_size(size, FLOW_WIDTH)
        self._strip = Strip()
        self._small: FrameStore | None = FrameStore(self._flow_size)
        self._held: tuple[int, Keyed] | None = None
        self.source: list[int] = []
        self._rows: list[tuple[npt.NDArray[np.float32], npt.NDArray[np.float32], float]] = []

    def take(self, index: int, keyed: Keyed) -> None:
        self._held = (index, keyed)

    def show(self, ticks: int) -> None:
        if not ticks or self._held is None:
            return
        index, keyed = self._held
        row = self._measured(keyed)
        small = cv2.resize(keyed.figure, self._flow_size, interpolation=cv2.INTER_AREA)
        for _ in range(ticks):
            self.source.append(index)
            self._rows.append(row)
            self._strip.add(keyed.figure)
            if self._small is not None:
                self._small.append(np.asarray(small, np.uint8))
                if len(self._small) * small.size > KEPT_BYTES:
                    self._small.close()
                    self._small = None

    def close(self) -> None:
        if self._small is not None:
            self._small.close()

    def _measured(self, keyed: Keyed) -> tuple[npt.NDArray[np.float32], npt.NDArray[np.float32], float]:
        lit = largest_channel(keyed.figure)
        # a lamp's glow is light without coverage, and must not be cut off either
        reach = _edges(np.maximum(keyed.matte, lit), _SEEN) * self._scale
        solid = _edges(keyed.matte, _SOLID) * self._scale
        largest = lit[keyed.matte >= _SOLID]
        bright = float(np.percentile(largest, 99)) / 255 if largest.size else 0.0
        return reach, solid, bright

    def survey(
        self, facts: ClipFacts, key: Key, rate: Fraction, times: list[Fraction], damage: str | None
    ) -> Survey:
        return Survey(
            facts=replace(facts, frames=len(times)),
            key=key,
            rate=rate,
            times=tuple(times),
            source=np.array(self.source, np.int64),
            strip=self._strip,
            small=self._small,
            reach=np.array([row[0] for row in self._rows], np.float32),
            solid=np.array([row[1] for row in self._rows], np.float32),
            bright=np.array([row[2] for row in self._rows], np.float32),
            damage=damage,
        )


def _edges(matte: Frame, level: int) -> npt.NDArray[np.float32]:
    """Return left, top, right, bottom where the matte crosses `level`, to a fraction of a pixel.

    The outermost row that reaches the level covers its pixel in part; how far the row
    outside it falls short says where in between the edge lies.
    """
    columns = cv2.reduce(matte, 0, cv2.REDUCE_MAX).ravel().astype(np.float32)
    rows = cv2.reduce(matte, 1, cv2.REDUCE_MAX).ravel().astype(np.float32)
    if columns.max(initial=0) < level:
        return np.full(4, np.nan, np.float32)
    left, right = _crossings(columns, level)
    top, bottom = _crossings(rows, level)
    return np.array([left, top, right, bottom], np.float32)


def _crossings(profile: npt.NDArray[np.float32], level: int) -> tuple[float, float]:
    inside = np.flatnonzero(profile >= level)
    first, last = int(inside[0]), int(inside[-1])

    def outward(edge: int, step: int) -> float:
        # distance past the edge pixel's centre at which the profile has fallen to the level
        beyond = edge + step
        if not 0 <= beyond < len(profile):
            return 0.5
        here, there = float(profile[edge]), float(profile[beyond])
        return min((here - level) / max(here - there, 1.0), 1.0)

    return first + 0.5 - outward(first, -1), last + 0.5 + outward(last, 1)
