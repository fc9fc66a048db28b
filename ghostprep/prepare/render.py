"""The chosen stretch only, at the size it is shown: key, blend, place, tone."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final, Self

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Codes, Figure, Frame, Frames
from ghostprep.clip import Footage, FrameStore, check_room
from ghostprep.loop import LoopPlan, mixed
from ghostprep.loop.plan import Blend
from ghostprep.parallel import in_order
from ghostprep.picture.calm import calm
from ghostprep.picture.key.keyed import Keyed
from ghostprep.picture.place import Drift, Placement
from ghostprep.picture.tone import Tone
from ghostprep.prepare.fit import Fit
from ghostprep.prepare.survey import Survey
from ghostprep.progress import Progress
from ghostprep.proof.flash import FlashProof
from ghostprep.transfer import CODE

FIGURE_BYTES: Final = 6
"""Of a figure's pixel: three channels of 16 bits, which a store keeps as bytes."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """The keyed figures of the chosen stretch, by tick."""

    store: FrameStore
    """The bytes of one keyed figure for each source frame that is needed, no larger than it was filmed."""
    place: dict[int, int]
    """Where in the store each source frame lies."""
    source: npt.NDArray[np.int64]
    """(ticks,): source frame that shows at each tick."""

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        """Give the disk space back."""
        self.store.close()

    def __call__(self, tick: int) -> Figure:
        """Return the keyed figure (h, w, 3) that shows at a tick."""
        return self.store[self.place[int(self.source[tick])]].view(np.uint16)


def enlarged(figure: Figure, size: tuple[int, int]) -> Figure:
    """Return a figure (h, w, 3), of which no more was keyed than was filmed, in the size that is shown."""
    if figure.shape[1::-1] == size:
        return figure
    larger = cv2.resize(figure, size, interpolation=cv2.INTER_CUBIC)
    # bicubic undershoots beside bright edges: keep at least one code where the figure is
    least = cv2.resize(np.minimum(figure, CODE), size, interpolation=cv2.INTER_NEAREST)
    return np.asarray(cv2.max(larger, least, dst=larger), np.uint16)


def key_stretch(footage: Footage, seen: Survey, plan: LoopPlan, fit: Fit, progress: Progress) -> Stretch:
    """Key the plan's frames, cropped and scaled for their place; InputError: too many for the temporary disk.

    What is shown larger than it was filmed is keyed as filmed: more pixels would tell the key no more.
    """
    ticks = {tick for step in plan.steps for tick in step.sources}
    needed = sorted({int(seen.source[tick]) for tick in ticks})
    size = (min(fit.size[0], fit.crop.width), min(fit.size[1], fit.crop.height))
    check_room(len(needed), size, FIGURE_BYTES)
    keyer = seen.key.at(fit.crop, seen.facts.size, size)

    def keyed() -> Iterator[Frame]:
        for number, one in enumerate(in_order(keyer, footage.frames(needed, fit.crop, size)), 1):
            yield _told_from_backing(one).view(np.uint8)
            progress("key", number, len(needed))

    about = (seen.key.digest(), fit.crop, needed)
    store = footage.recall.made(about, len(needed), size, keyed, channels=FIGURE_BYTES)
    progress("key", len(needed), len(needed))
    return Stretch(store, {source: place for place, source in enumerate(needed)}, seen.source)


def _told_from_backing(keyed: Keyed) -> Figure:
    """Return the figure with at least one code of light wherever it covers more than half of a pixel.

    So 0 is backing and nothing else all the way to the file: guard, settling, silhouette and the proof of
    black read the figure's shape off its light, and black clothes are no hole in it. One code is 0.03 % of
    white.
    """
    least = cv2.threshold(keyed.matte, 127, 1, cv2.THRESH_BINARY)[1] * np.uint16(CODE)
    return np.asarray(cv2.max(keyed.figure, cv2.merge((least, least, least))), np.uint16)


def raster_frames(
    stretch: Callable[[int], Figure],
    plan: LoopPlan,
    fit: Fit,
    tone: Tone,
    progress: Progress,
    *,
    finish: Callable[[Figure], Codes],
) -> Iterator[Codes]:
    """Yield the loop's frames as the raster shows them, in play order.

    `finish` is what becomes of each pixel at the end: `rounded` to 8 bits, unless something is still to come.
    """
    if isinstance(fit.place, Drift):
        tone = replace(tone, edge=tone.edge * fit.place.finer)

    def finished(step: Blend) -> Codes:
        # mixed as filmed: more pixels would only take time
        figure, (right, down) = tone(enlarged(mixed(plan, step, stretch), fit.size)), step.shift
        if isinstance(fit.place, Drift):
            return finish(fit.place(figure, (right * fit.figure_px, down * fit.figure_px)))
        # this only moves pixels: rounded first, they are half as many bytes
        if isinstance(fit.place, Placement):
            return fit.place(finish(figure))
        return finish(fit.place(figure))

    for number, frame in enumerate(in_order(finished, plan.steps), 1):
        progress("render", number, len(plan))
        yield frame


def calmed(
    figures: Iterator[Figure], size: tuple[int, int], flash: FlashProof, rate: Fraction
) -> Iterator[Figure]:
    """Yield raster figures that the flash proof, to which they are added, passes; changed only if need be."""
    with FrameStore(size, FIGURE_BYTES) as store:
        for figure in figures:
            flash.add(figure)
            store.append(figure.view(np.uint8))

        def again() -> Iterator[Figure]:
            return (stored.view(np.uint16) for stored in store)

        yield from again() if flash.passed() else calm(again, rate, red=not flash.red().passed)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reel:
    """The frames of one file, before it is encoded."""

    frames: Frames
    """As the raster shows them, in play order."""
    rate: Fraction
    """Frames a second."""
    keyed: bool
    """Whether there is black around the figure."""
    join_steps: tuple[int, ...] = ()
    blend_frames: tuple[int, ...] = ()
    """Where the loop is joined; see `ghostprep.loop.LoopPlan`."""
    as_shot: Callable[[int], Frame | None]
    """From a frame's number to its keyed figure, upright, not yet placed; None where it is dark."""
