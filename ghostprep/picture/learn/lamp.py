"""The hue of a lamp's glow before an even backing, from glimpses: light that is added, and hides nothing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import cv2
import numpy as np

from ghostprep.arrays import Floats
from ghostprep.channels import largest_channel
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.falloff import darkened, only_adds
from ghostprep.picture.key.keyed import floats
from ghostprep.picture.learn.folds import unit

_SHRINK = 2
"""Glows have no detail, so they are looked for on a picture this much smaller."""
_SEEN = 0.01
"""Share of the figure's place that a glow must fill: on draws, edges that look like one fill half of it."""
_ONE = 0.98
"""Share of the light that must be of one hue: a lamp has one, and what is seen through cloth has more."""
_EVEN = 0.85
"""Where the middle of a glow's light may lie from its dimmest, 0, to its brightest, 1, in logarithms. Of a
round hill each brightness has an area that goes as 1 over it: 0.5. A pale cloth that fades out before green
looks like so much pink light too, but most of it is bright. On draws lamps have 0.75 at most, cloths 0.94."""


class LampGlow(NamedTuple):
    """What glimpses tell of a glow."""

    hue: Floats
    """(3,): direction of its light, amounts of the mix; of length 1."""
    brightest: float
    """Length of its brightest amounts."""
    pixels: int
    """How many of the glimpses' it fills."""


def find_lamp_glow(lights: Sequence[Floats], back: Floats, least: float, curve: Curve) -> LampGlow | None:
    """Find the one hue of light that was added to a backing and falls off to nothing; None for none.

    Parameters
    ----------
    lights : sequence of ndarray of float32 (h, w, 3)
        Glimpses, amounts of the mix.
    back : ndarray of float32 (h, w, 3)
        The backing alone.
    least : float
        Codes off the backing, averaged a little, from which there is something.
    curve : Curve
        How figure and backing were mixed.
    """
    size = (max(back.shape[1] // _SHRINK, 1), max(back.shape[0] // _SHRINK, 1))
    plate = floats(cv2.resize(back, size, interpolation=cv2.INTER_AREA))
    code = curve.a_code(plate)
    glows = [np.zeros((0, 3), np.float32)]
    for light in lights:
        more = floats(cv2.resize(light, size, interpolation=cv2.INTER_AREA) - plate)
        added = floats(more / code)
        body = darkened(added, least / 2)
        bright = largest_channel(floats(cv2.blur(added, (3, 3)))) > 2 * least
        if (bright & ~body).any():
            glows.append(more[bright & only_adds(added, body, least)])
    glow = np.concatenate(glows)
    share = len(glow) / (len(lights) * size[0] * size[1])
    hue = unit(floats(np.maximum(glow.sum(0), 0)))
    along = glow @ hue
    # no light at all is no lamp's either: beside a drawn edge before an exact backing
    if share < _SEEN or along @ along <= _ONE * float((glow * glow).sum()):
        return None
    dim, middle, bright = np.log(np.percentile(along[along > 0], (5, 50, 95)))
    if middle - dim > _EVEN * (bright - dim):
        return None
    return LampGlow(hue, float(along.max()), len(glow) * _SHRINK**2)
