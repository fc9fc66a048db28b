"""Where a frame shows the bare backing, and how bright that is."""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np

from ghostprep.arrays import Floats, Mask
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.keyed import floats

_OPEN = 0.82
"""Share of the backing from which a place counts as seen through to it."""
_EMPTY = 0.9
"""Share of the backing from which there is nothing before it, not even the softest hair."""
_ENOUGH = 0.03
"""Share of the picture that must show it before its brightness is believed."""


class Small(NamedTuple):
    """The key's parts on a small picture; float32 (h, w) each."""

    key: Floats
    strict: Floats
    luma: Floats

    @classmethod
    def of(cls, light: Floats, axis: HueAxis) -> Small:
        """Return the parts of light (h, w, 3), amounts of the mix."""
        luma, along, across = cv2.split(cv2.transform(light, axis.rows))
        beside = np.abs(across)
        key, strict = (cv2.scaleAdd(beside, -slope, along) for slope in (axis.slope, axis.strict))
        return cls(floats(key), floats(strict), floats(luma))


class Open(NamedTuple):
    """Where the bare backing is seen."""

    bare: Mask
    """(h, w): where it is seen through."""
    empty: Mask
    """(h, w): where nothing at all is before it."""
    gain: float
    """How bright the backing is in this frame against its plate; 1 where too little of it is seen."""


def find_open(seen: Small, plate: Small) -> Open:
    """Find where a frame shows the bare backing; `plate` is the same of the backing alone, nowhere 0."""
    share = np.divide(seen.strict, plate.strict)
    bare = np.asarray(share > _OPEN, np.bool_)
    gain = 1.0
    if cv2.countNonZero(bare.view(np.uint8)) >= _ENOUGH * bare.size:
        weight = bare.astype(np.float32)
        gain = float(np.clip(np.vdot(seen.key, weight) / np.vdot(plate.key, weight), 0.8, 1.25))
    return Open(bare, (share > _EMPTY * gain) & bare, gain)
