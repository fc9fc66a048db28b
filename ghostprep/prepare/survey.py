"""One pass over the clip in small frames: what is behind the figure, where it is, how it moves."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from fractions import Fraction
from types import TracebackType
from typing import Self, TypeAlias

import numpy as np
import numpy.typing as npt

from ghostprep.clip import ClipFacts
from ghostprep.errors import InputError
from ghostprep.loop import Strip
from ghostprep.picture import Key
from ghostprep.prepare.delivery import Kept
from ghostprep.prepare.fit import Body
from ghostprep.prepare.foresee import body_of
from ghostprep.prepare.look_through import look_through
from ghostprep.prepare.recall import digest_of, recall, remember
from ghostprep.prepare.recipe import Recipe
from ghostprep.prepare.sightings import Sightings
from ghostprep.prepare.timeline import Clock
from ghostprep.progress import Progress

Frame: TypeAlias = npt.NDArray[np.uint8]


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
    source : ndarray of int (ticks,)
        Source frame that shows at each tick.
    strip : Strip
        The keyed figure in small, one entry a tick.
    sights : Sightings
        What was seen in each source frame.
    content : str
        The clip's SHA-256 in hex, empty for numbered pictures.
    """

    facts: ClipFacts
    key: Key
    rate: Fraction
    source: npt.NDArray[np.int64]
    strip: Strip
    sights: Sightings
    content: str

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Give the temporary disk back."""
        self.sights.close()

    @property
    def times(self) -> tuple[Fraction, ...]:
        """Presentation time of each source frame, seconds."""
        return self.sights.times

    @property
    def fetch(self) -> Callable[[int], Frame] | None:
        """From a tick to its keyed figure in small; None where the clip is too long to keep them."""
        small, rows = self.sights.small, self._rows
        return None if small is None else lambda tick: small[int(rows[tick])]

    def reach(self, ticks: Sequence[int]) -> npt.NDArray[np.float32]:
        """Return left, top, right, bottom of all that the figure touches at each tick, source px (n, 4)."""
        return self.sights.reach[self._rows[list(ticks)]]

    @property
    def bright(self) -> npt.NDArray[np.float32]:
        """Code, 0..1, that 99 % of the figure's pixels stay below in their largest channel, (ticks,)."""
        return self.sights.bright[self._rows]

    @property
    def _rows(self) -> npt.NDArray[np.int64]:
        return self.source - self.sights.first

    def body(self, first: int, last: int) -> Body | None:
        """Return the figure's measures over the ticks `first` to `last`; None where there is none."""
        rows = self._rows[first : last + 1]
        return body_of(self.sights.reach[rows], self.sights.solid[rows], self.facts.size)


def survey(
    facts: ClipFacts,
    key: Key,
    rate: Fraction,
    recipe: Recipe,
    progress: Progress,
    *,
    content: str = "",
    kept: Kept | None = None,
) -> Survey:
    """Read the clip once, in small frames, or recall what an earlier run saw in it.

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
    content : str
        The clip's SHA-256; empty: nothing is recalled or kept.
    kept : Kept, optional
        Takes the frames of the pass, where there is one, for the render.

    Raises
    ------
    InputError
        The part asked for holds no frame.
    """
    ticks = _Ticks(rate, 1 / facts.rate)
    digest = digest_of(facts, key, recipe, content) if recipe.cache else None
    with ExitStack() as held:
        sights = recall(digest)
        if sights is None:
            sights = look_through(facts, key, recipe, ticks.take, progress, kept=kept)
            held.callback(sights.close)
            remember(digest, sights)
        else:
            held.callback(sights.close)
            for number, small in enumerate(sights.small or (), sights.first):
                ticks.take(number, sights.times[number] - sights.times[0], small)
        ticks.finish()
        if not ticks.source:
            seconds = float(sights.times[-1] + 1 / facts.rate) if sights.times else 0.0
            raise InputError(
                f"no frame lies in the part asked for; the clip is {seconds:.2f} s long",
                where=str(facts.path),
                remedy="change --start and --end",
            )
        held.pop_all()
    count = len(sights.times)
    progress("survey", count, count)
    return Survey(
        facts=replace(facts, frames=count),
        key=key,
        rate=rate,
        source=np.array(ticks.source, np.int64),
        strip=ticks.strip,
        sights=sights,
        content=content,
    )


class _Ticks:
    """Enters each source frame into the strip, once for every tick at which it shows."""

    def __init__(self, rate: Fraction, frame_s: Fraction) -> None:
        self.strip = Strip()
        self.source: list[int] = []
        self._clock = Clock(rate, frame_s)
        self._held: tuple[int, Frame] | None = None

    def take(self, number: int, time: Fraction, small: Frame) -> None:
        self._show(self._clock.advance(time))
        self._held = (number, small)

    def finish(self) -> None:
        self._show(self._clock.finish())

    def _show(self, ticks: int) -> None:
        if self._held is None:
            return
        number, small = self._held
        for _ in range(ticks):
            self.source.append(number)
            self.strip.add(small)
