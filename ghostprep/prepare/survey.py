"""One light pass over the clip in small frames: where the figure is, how bright it is, how it moves."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Floats, Frame
from ghostprep.box import small_size
from ghostprep.clip import ClipFacts, Footage
from ghostprep.errors import InputError
from ghostprep.loop import LoopCandidate, ThumbnailStrip, search
from ghostprep.picture import Key
from ghostprep.picture.key.keyed import Keyer
from ghostprep.prepare.begin import SEEN_PX
from ghostprep.prepare.figure import FigureExtent, Measures, measured
from ghostprep.prepare.timeline import clock_rate, shown_at_ticks
from ghostprep.progress import Progress

FETCHED: Final = 512
"""Keyed small frames that are kept: the best joins lie near each other, and ask for the same ones."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """What one pass over the clip found."""

    facts: ClipFacts
    """With the frames counted."""
    key: Key
    rate: Fraction
    """Ticks a second of the even clock on which everything below counts."""
    source: npt.NDArray[np.int64]
    """(ticks,): source frame that shows at each tick."""
    strip: ThumbnailStrip
    """The figure in small, one entry a tick."""
    figure: Measures
    """Of the figure, one row a tick."""
    times: tuple[Fraction, ...]
    """Presentation time of each source frame, from the clip's first, seconds."""
    lasts_s: float
    """How long the part of the clip up to the last of them lasts, seconds."""
    damage: str | None
    """What the decoder said where the clip breaks off."""
    fetch: Callable[[int], Frame] | None
    """From a tick to its figure in small; None where the clip is too long to keep them."""
    loops: Callable[[tuple[float, float] | None], tuple[LoopCandidate, ...]]
    """From the shortest and longest loop asked for, seconds, or None, to what `search` finds."""

    def named(self, loop: LoopCandidate) -> str:
        """Return a loop as ``FIRST-LAST``, in source frames: what to type to take it."""
        return f"{self.source[loop.first]}-{self.source[loop.last]}"

    def ticks(self, first: int, last: int) -> tuple[int, int]:
        """Return the first and the last tick at which the source frames `first` to `last` show."""
        begin, end = np.searchsorted(self.source, (first, last + 1))
        return int(begin), int(end) - 1

    def body(self, first: int, last: int) -> FigureExtent | None:
        """Return the figure over the ticks `first` to `last`; None where there is none."""
        return self.figure.at(np.arange(first, last + 1)).body(self.facts.size)


def survey(footage: Footage, key: Key, rate: Fraction, progress: Progress) -> Survey:
    """Look once at every frame of the stretch that is used, in small.

    The footage stays the caller's, and `Survey.fetch` needs it open. The clock has as many ticks as `rate`,
    the output's, or within 0.1 % of it.

    Raises
    ------
    InputError
        The part asked for holds no frame.
    """
    full = footage.facts.size
    size = small_size(full, SEEN_PX)
    rate = clock_rate(footage.facts.rate, rate)
    about = ("survey", key.digest(), rate, footage.stretch)
    keyer, frames = key.rough(full, size), footage.look_through()
    if (found := footage.recall.value(about)) is not None:
        source, figure, packed = found
        strip = ThumbnailStrip.unpacked(*packed)
        for _ in frames:  # run through, so that the small frames and their times are there
            pass
    else:
        on_black = key.backing.kind == "black"
        source, figure, strip = _look(frames, keyer, footage, rate, progress, on_black=on_black)
        if footage.keeps_small:
            footage.recall.keep_value(about, (source, figure, strip.packed()))
    facts, times = footage.facts, footage.times
    lasts_s = float(times[-1] + footage.last_s) if times else 0.0
    if not len(source):
        raise InputError(
            f"no frame lies in the part asked for; the clip is {lasts_s:.2f} s long",
            where=str(facts.path),
            remedy="change --start and --end",
        )
    progress("survey", len(times), len(times))

    # by the same key as the strip: joins are held against the motion that it shows
    @lru_cache(FETCHED)
    def kept(number: int) -> Frame:
        return keyer(footage.small(number)).codes

    def fetch(tick: int) -> Frame:
        return kept(int(source[tick]))

    seen_again = fetch if footage.keeps_small else None

    def loops(length_s: tuple[float, float] | None) -> tuple[LoopCandidate, ...]:
        return footage.recall.worked_out(
            (*about, seen_again is not None, length_s),
            lambda: tuple(search(strip, rate, length_s=length_s, fetch=seen_again)),
        )

    return Survey(
        facts=facts,
        key=key,
        rate=rate,
        source=source,
        strip=strip,
        figure=figure,
        times=times,
        lasts_s=lasts_s,
        damage=footage.damage,
        fetch=seen_again,
        loops=loops,
    )


def _look(
    frames: Iterable[tuple[int, Fraction, Frame]],
    keyer: Keyer,
    footage: Footage,
    rate: Fraction,
    progress: Progress,
    *,
    on_black: bool,
) -> tuple[npt.NDArray[np.int64], Measures, ThumbnailStrip]:
    """Return the source frame that shows at each tick, what was measured of it, and all of them in small."""
    strip, facts = ThumbnailStrip(), footage.facts
    source: list[int] = []
    rows: list[Floats] = []

    def looked_at() -> Iterator[tuple[Fraction, tuple[int, Frame]]]:
        for number, time, frame in frames:
            keyed = keyer(frame)
            rows.append(measured(keyed, facts.size, on_black=on_black))
            progress("survey", number + 1, facts.frames)
            yield time, (number, keyed.codes)

    for number, small in shown_at_ticks(looked_at(), rate, lambda: footage.last_s):
        source.append(number)
        strip.add(small)
    shown = np.array(source, np.int64)
    # the first frame always shows at the first tick
    return shown, Measures.of(rows).at(shown - shown[:1]), strip
