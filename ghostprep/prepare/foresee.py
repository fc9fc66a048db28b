"""How large the figure is and where, from what was seen of it; before the survey, from a few glimpses."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.box import Box, small_size
from ghostprep.clip import ClipFacts
from ghostprep.picture import Key
from ghostprep.prepare.fit import Body
from ghostprep.prepare.sightings import LONGEST, Gauge

Frame: TypeAlias = npt.NDArray[np.uint8]
Floats: TypeAlias = npt.NDArray[np.float32]


def body_of(reach: Floats, solid: Floats, source: tuple[int, int]) -> Body | None:
    """Return the figure's measures over some frames; None where there is no figure.

    Parameters
    ----------
    reach, solid : ndarray of float32 (frames, 4)
        As `ghostprep.prepare.sightings.Sightings` has them.
    source : tuple of int
        Width and height of the clip.
    """
    reach, solid = reach[~np.isnan(reach[:, 0])], solid[~np.isnan(solid[:, 0])]
    if not len(reach) or not len(solid):
        return None
    left, top = np.floor(reach[:, :2].min(axis=0)).astype(int)
    right, bottom = np.ceil(reach[:, 2:].max(axis=0)).astype(int)
    box = Box(int(left), int(top), int(right - left), int(bottom - top)).within(source)
    height = float(np.median(solid[:, 3] - solid[:, 1]))
    middle = float(np.median((solid[:, 0] + solid[:, 2]) / 2))
    # the lowest the feet get, not the mean: while walking one foot is always lifted
    return Body(box, max(height, 1.0), (middle, float(np.percentile(solid[:, 3], 95))))


def whole_picture(facts: ClipFacts) -> Body:
    """Return the measures of a clip in which all of the picture is the figure."""
    width, height = facts.size
    return Body(Box(0, 0, width, height), float(height), (width / 2, float(height)))


def foreseen(facts: ClipFacts, key: Key, glimpses: Sequence[Frame]) -> Body:
    """Return about what the survey will find, from the frames that the key was learned from."""
    size = small_size(facts.size, LONGEST)
    keyer = key.at(None, facts.size, size)
    gauge = Gauge(facts.size, size)
    small = (
        np.asarray(cv2.resize(frame, size, interpolation=cv2.INTER_AREA), np.uint8) for frame in glimpses
    )
    rows = np.stack([gauge(keyer(frame)).row for frame in small])
    return body_of(rows[:, :4], rows[:, 4:8], facts.size) or whole_picture(facts)
