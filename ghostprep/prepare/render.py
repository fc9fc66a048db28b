"""The chosen stretch only, at the size it is shown: key, blend, place, tone."""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator
from contextlib import closing
from dataclasses import dataclass
from functools import partial
from types import TracebackType
from typing import Literal, Self, TypeAlias

import numpy as np
import numpy.typing as npt

from ghostprep.box import Box
from ghostprep.clip import read_frames
from ghostprep.loop import LoopPlan
from ghostprep.loop.assemble import assemble
from ghostprep.picture import Keyed, Keyer
from ghostprep.picture.tone import Tone
from ghostprep.prepare.delivery import Kept, cut_out, serves, shrink_of
from ghostprep.prepare.fit import Fit
from ghostprep.prepare.ordered import in_order
from ghostprep.prepare.recall_stretch import ReadBefore
from ghostprep.prepare.store import FrameStore, check_room
from ghostprep.prepare.survey import Survey
from ghostprep.progress import Progress

Frame: TypeAlias = npt.NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Stretch:
    """The keyed figures of the chosen stretch, by tick.

    Attributes
    ----------
    store : FrameStore
        One keyed figure for each source frame that is needed.
    place : dict
        Where in the store each source frame lies.
    source : ndarray of int (ticks,)
        Source frame that shows at each tick.
    """

    store: FrameStore
    place: dict[int, int]
    source: npt.NDArray[np.int64]

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Give the disk space back."""
        self.store.close()

    def __call__(self, tick: int) -> Frame:
        """Return the keyed figure (h, w, 3) that shows at a tick."""
        return self.store[self.place[int(self.source[tick])]]


def key_stretch(
    seen: Survey,
    plan: LoopPlan,
    fit: Fit,
    progress: Progress,
    *,
    kept: Kept | None = None,
    recall: bool = False,
) -> Stretch:
    """Key the frames that the plan needs, cropped and scaled to where they will stand.

    Parameters
    ----------
    seen : Survey
    plan : LoopPlan
    fit : Fit
    progress : Progress
    kept : Kept, optional
        What the survey's pass kept of its frames.
    recall : bool
        Whether frames that an earlier run read may be used, and these be kept for a later one.

    Raises
    ------
    InputError
        The frames would not fit the temporary disk.
    """
    ticks = {tick for mix in plan.steps for tick in mix.sources}
    needed = sorted({int(seen.source[tick]) for tick in ticks})
    check_room(len(needed), fit.size)
    keyer = seen.key.at(fit.crop, seen.facts.size, fit.size)
    store = FrameStore(fit.size)
    place: dict[int, int] = {}
    try:
        with (
            ReadBefore(seen.facts, fit, needed, seen.content if recall else "") as before,
            closing(_delivered(seen, fit, needed, kept, before)) as frames,
        ):
            for index, frame, keyed in in_order(partial(_keyed, keyer), frames):
                before.take(frame)
                place[index] = store.append(keyed.figure)
                progress("key", len(place), len(needed))
            before.keep()
    except BaseException:
        store.close()
        raise
    return Stretch(store, place, seen.source)


def _keyed(keyer: Keyer, one: tuple[int, Callable[[], Frame]]) -> tuple[int, Frame, Keyed]:
    index, cut = one
    frame = cut()
    return index, frame, keyer(frame)


def _delivered(
    seen: Survey, fit: Fit, needed: list[int], kept: Kept | None, before: ReadBefore
) -> Generator[tuple[int, Callable[[], Frame]], None, None]:
    """Yield each needed frame's number, with what cuts it out: that is work for the threads that key."""
    first, last = needed[0], needed[-1]
    shrink = shrink_of(seen.facts)
    if before.frames is not None:
        for number, index in enumerate(needed):
            yield index, partial(before.frames.__getitem__, number)
    elif not serves(fit, shrink):
        for index, frame in _read(seen, needed, size=fit.size, crop=fit.crop):
            yield index, partial(_itself, frame)
    elif kept is not None and kept.holds(fit.crop, first, last):
        origin = (kept.region.x, kept.region.y)
        for index in needed:
            yield index, partial(cut_out, kept[index], fit.crop, shrink, origin, fit.size)
    else:
        width, height = seen.facts.size
        for index, frame in _read(seen, needed, size=(width // shrink, height // shrink)):
            yield index, partial(cut_out, frame, fit.crop, shrink, (0, 0), fit.size)


def _itself(frame: Frame) -> Frame:
    return frame


def _read(
    seen: Survey, needed: list[int], *, size: tuple[int, int], crop: Box | None = None
) -> Iterator[tuple[int, Frame]]:
    """Decode the needed frames."""
    wanted, first, stop = set(needed), needed[0], needed[-1] + 1
    pixels: Literal["rgba", "rgb24"] = "rgba" if seen.facts.alpha != "none" else "rgb24"
    with read_frames(
        seen.facts, size=size, crop=crop, start=first, stop=stop, times=seen.times, pixels=pixels
    ) as stream:
        yield from ((index, frame) for index, frame in enumerate(stream, first) if index in wanted)


def raster_frames(
    stretch: Callable[[int], Frame], plan: LoopPlan, fit: Fit, tone: Tone, progress: Progress
) -> Iterator[Frame]:
    """Yield the loop's frames as the raster shows them, in play order."""

    def finished(figure: Frame) -> Frame:
        return fit.place(tone(figure))

    for number, frame in enumerate(in_order(finished, assemble(plan, stretch)), 1):
        progress("render", number, len(plan))
        yield frame
