"""The picture as it must be to look right once reflected."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from moviepy import Clip

from ghostprep.effects.checked import CheckedEffect
from ghostprep.picture.place import Orientation
from ghostprep.prepare.recipe import Recipe


@dataclass
class ForPane(CheckedEffect):
    """Turn the picture so that it looks right once reflected.

    Attributes
    ----------
    reflections : int
        Mirrors and panes between screen and eye.
    turn : {0, 90, 180, 270}
        How far the player is turned clockwise in its holder, degrees.
    """

    reflections: int = 1
    turn: int = 0

    def __post_init__(self) -> None:
        """Refuse what `make` would refuse."""
        super().__post_init__()
        Recipe(reflections=self.reflections, turn=self.turn)

    def apply(self, clip: Clip) -> Clip:
        """Return the clip as the raster shows it."""
        orientation = Orientation.of(self.reflections, self.turn)
        return clip.image_transform(lambda frame: orientation.apply(np.asarray(frame)), apply_to=["mask"])
