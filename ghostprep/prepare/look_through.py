"""The pass over the clip in small keyed frames."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import Literal, TypeAlias

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.box import small_size
from ghostprep.clip import ClipFacts, FrameStream, read_frames
from ghostprep.picture import Key
from ghostprep.prepare.delivery import Kept, shrink_of
from ghostprep.prepare.ordered import in_order
from ghostprep.prepare.recipe import Recipe
from ghostprep.prepare.sightings import LONGEST, Gauge, Sighting, Sightings, Watch
from ghostprep.progress import Progress

Frame: TypeAlias = npt.NDArray[np.uint8]
Shown: TypeAlias = Callable[[int, Fraction, Frame], None]
"""Called with each frame's number, its time, and its keyed figure in small."""


def look_through(
    facts: ClipFacts,
    key: Key,
    recipe: Recipe,
    shown: Shown,
    progress: Progress,
    *,
    kept: Kept | None = None,
) -> Sightings:
    """Read the clip once, key every frame of the part asked for, and note what is seen.

    Parameters
    ----------
    facts : ClipFacts
    key : Key
    recipe : Recipe
        ``start`` and ``end`` bound the part.
    shown : callable
        Called for each frame, in order.
    progress : Progress
    kept : Kept, optional
        Where frames are kept for the render.
    """
    size = small_size(facts.size, LONGEST)
    keyer = key.at(None, facts.size, size)
    gauge = Gauge(facts.size, size)
    watch = Watch(gauge.small_size)
    times: list[Fraction] = []
    shrink = shrink_of(facts)
    delivered = size if shrink == 1 else (facts.size[0] // shrink, facts.size[1] // shrink)

    def seen(which: tuple[int, Fraction, Frame]) -> tuple[int, Fraction, Frame, Sighting]:
        index, time, frame = which
        small = frame
        if delivered != size:
            small = np.asarray(cv2.resize(frame, size, interpolation=cv2.INTER_AREA), np.uint8)
        return index, time, frame, gauge(keyer(small))

    pixels: Literal["rgba", "rgb24"] = "rgba" if facts.alpha != "none" else "rgb24"
    try:
        with read_frames(facts, size=delivered, pixels=pixels) as stream:
            for index, time, frame, sighting in in_order(seen, _chosen(stream, recipe, times)):
                if kept is not None:
                    kept.put(index, frame)
                watch.take(index, sighting)
                shown(index, time, sighting.small)
                progress("survey", index + 1, facts.frames)
            damage = stream.damage
    except BaseException:
        watch.close()
        raise
    return watch.sightings(times, damage)


def _chosen(
    stream: FrameStream, recipe: Recipe, times: list[Fraction]
) -> Iterator[tuple[int, Fraction, Frame]]:
    """Yield the frames in the part asked for, with their index and time; note every time."""
    for index, frame in enumerate(stream):
        time = stream.times[index] - stream.times[0]
        times.append(stream.times[index])
        if recipe.end is not None and time >= recipe.end:
            times.pop()
            return
        if recipe.start is None or time >= recipe.start:
            yield index, time, frame
