"""Veiling glare: the backing's light, scattered in the lens over the whole picture.

It lifts the figure's blacks to the backing's own colour, and lies over skin and cloth alike, where nothing
tells it from the figure's own light. Its blacks do: where they show the backing's colour and nothing else,
that is the glare.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import cv2
import numpy as np

from ghostprep.arrays import Frame
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.keyed import Keyer, floats
from ghostprep.transfer import codes_to_light

_DARKEST: Final = 3.0
"""Percent of the figure's inside that are looked at: its blacks, if it has any."""
_SOLID: Final = 0.7
"""Coverage from which a place is solid: the most glare looks like a fifth of the backing there."""
_DIM: Final = 1 / 255
"""Least light that a backing is taken to have; white is 1."""
_ENOUGH: Final = 200
"""Pixels that must be among them."""
_ALIKE: Final = 0.15
"""How far the backing's share by chroma and by luma may lie apart, as a part of it: a black that reflects
light of its own has more luma than the glare explains."""
_LEAST, _MOST = 0.004, 0.07
"""Shares below which it is noise, and above which it is dark cloth of that hue and no glare."""


def find_glare(keyer: Keyer, plate: Frame, frames: Sequence[Frame]) -> float:
    """Return the share of the backing's light that lies over the whole picture; 0 where nothing tells.

    Parameters
    ----------
    keyer : Keyer
        Without glare, for frames of this size.
    plate : ndarray of uint8 (h, w, 3)
        The backing alone.
    frames : sequence of ndarray of uint8 (h, w, 3)

    Notes
    -----
    The term and its nature are those of ISO 9358, "Veiling glare of image forming systems".
    """
    behind = codes_to_light(plate)
    rows = HueAxis.of(255 * behind.mean((0, 1))).rows
    backing = cv2.transform(behind, rows)
    inside = np.ones((9, 9), np.uint8)
    tinges, lights = [], []
    for frame in frames:
        solid = cv2.erode((keyer(frame).matte > 255 * _SOLID).astype(np.uint8), inside) > 0
        # averaged a little, lest the darkest pixels be those that noise made dark
        turned = cv2.transform(cv2.blur(codes_to_light(frame), (3, 3)), rows)
        tinges.append((turned[..., 1] / np.maximum(backing[..., 1], _DIM))[solid])
        lights.append((turned[..., 0] / np.maximum(backing[..., 0], _DIM))[solid])
    tinge, light = floats(np.concatenate(tinges)), floats(np.concatenate(lights))
    if len(light) * _DARKEST / 100 < _ENOUGH:
        return 0.0
    blacks = light <= np.percentile(light, _DARKEST)
    by_hue, by_luma = float(np.median(tinge[blacks])), float(np.median(light[blacks]))
    if not _LEAST <= by_hue <= _MOST or abs(by_luma - by_hue) > _ALIKE * by_luma:
        return 0.0
    return by_hue
