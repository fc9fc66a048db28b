"""A coloured plate with all that the key reads on it, worked out once."""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np

from ghostprep.arrays import Floats
from ghostprep.picture.key.bare import Small
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.glow import GlowPlate
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.keyed import floats
from ghostprep.picture.key.region import shrunk


@dataclass(frozen=True, eq=False)
class ChromaPlate:
    """A coloured plate with what the key reads on it, worked out once."""

    light: Floats
    """(h, w, 3): the backing as it looks at each place, in amounts of the mix."""
    small: Small
    """Key and luma on the small picture on which bare backing is found."""
    curve: Curve
    """How figure and backing were mixed."""

    @functools.cached_property
    def little(self) -> Floats:
        """The light (h, w, 3) at the size of the small picture."""
        return shrunk(self.light, self.light.shape[0] // self.small.key.shape[0])

    @functools.cached_property
    def glow(self) -> GlowPlate:
        """The same in small, for light that covers nothing."""
        return GlowPlate.of(self.light, self.curve)

    @classmethod
    def of(cls, light: Floats, axis: HueAxis, shrink: int, curve: Curve) -> ChromaPlate:
        """Work out what the key reads on a plate of amounts (h, w, 3), whose sides `shrink` divides."""
        small = Small(*(shrunk(floats(np.maximum(part, 1)), shrink) for part in Small.of(light, axis)))
        return cls(light, small, curve)
