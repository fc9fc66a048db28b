"""The backing to exact black."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from moviepy import Clip, Effect

from ghostprep.arrays import Frame
from ghostprep.effects.frames import glimpses_of
from ghostprep.picture import learn_key


@dataclass
class KeyToBlack(Effect):  # type: ignore[misc]  # moviepy has no types
    """Take the backing to exact black, the figure premultiplied.

    Attributes
    ----------
    kind : str
        What is behind the figure, as for ``make --backing``.
    plate : ndarray of uint8 (h, w, 3), optional
        A picture of the backing alone.
    mix : str
        What adds up at the figure's edge, as for ``make --mix``.
    """

    kind: str = "auto"
    plate: Frame | None = None
    mix: str = "auto"

    def apply(self, clip: Clip) -> Clip:
        """Return the keyed clip."""
        size = (int(clip.w), int(clip.h))
        key = learn_key(glimpses_of(clip), kind=self.kind, plate=self.plate, mix=self.mix)
        keyer = key.at(None, size, size)
        return clip.image_transform(lambda frame: keyer(np.asarray(frame, np.uint8)).codes)
