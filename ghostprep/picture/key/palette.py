"""The hues of which a figure is made, and pictures that are held against the backing alone."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from ghostprep.arrays import Floats
from ghostprep.picture.key.keyed import floats

DARK = 8.0
"""Amounts below which light has no hue that could be told."""
LEAST_COVER = 0.03
"""Least cover over which light is spread before it is held against the brightest."""


class Palette(NamedTuple):
    """The hues of which a figure is made."""

    hues: Floats
    """(k, 3): directions of their light, amounts of the mix; of length 1."""
    brightest: Floats
    """(k,): length of the brightest amounts seen of each."""
    through: Floats
    """(k,): share of the backing that shows where each was seen: 0 for solid cloth, more for a veil, 1 for a
    lamp's glow, which hides nothing."""
    solid: Floats
    """(k,): how much each is expected where it covers all: the share of the figure that is of it, more where
    somebody told; none of a lamp's glow."""
    thin: Floats
    """(k,): the same where some of the backing shows through it."""

    @property
    def whole(self) -> Floats:
        """(k,): length of the brightest amounts that each would have where it covered all."""
        return floats(
            self.brightest / np.where(self.through == 1, LEAST_COVER, np.maximum(1 - self.through, 0.2))
        )


class AgainstPlate(NamedTuple):
    """A picture and the backing alone, amounts (h, w, 3)."""

    light: Floats
    plate: Floats
