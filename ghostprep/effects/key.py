"""The backing to exact black."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
from moviepy import Clip

from ghostprep.arrays import Frame
from ghostprep.backings import Mixed
from ghostprep.effects.checked import CheckedEffect
from ghostprep.effects.frames import glimpses_of, with_alpha
from ghostprep.prepare.learn import key_from


@dataclass
class KeyToBlack(CheckedEffect):
    """Take the backing to exact black, the figure premultiplied; a clip's mask is its alpha.

    Attributes
    ----------
    kind : str
        What is behind the figure, as for ``make --backing``.
    plate : ndarray of uint8 (h, w, 3), optional
        A picture of the backing alone.
    mix : str
        What adds up at the figure's edge, as for ``make --mix``.
    solid, sheer : tuple of str
        Cloths of the figure, as for ``make --solid`` and ``make --sheer``.
    """

    kind: str = "auto"
    plate: Frame | None = None
    mix: Mixed = "auto"
    solid: tuple[str, ...] = ()
    sheer: tuple[str, ...] = ()

    def apply(self, clip: Clip) -> Clip:
        """Return the keyed clip; its mask has done its part."""
        size = (int(clip.w), int(clip.h))
        said = "none" if clip.mask is None else "straight"
        looks = partial(glimpses_of, clip)
        key = key_from(
            looks,
            max(size),
            kind=self.kind,
            plate=self.plate,
            alpha=said,
            mix=self.mix,
            solid=self.solid,
            sheer=self.sheer,
        )
        keyer = key.at(None, size, size)
        channels = 4 if key.backing.kind == "alpha" else 3

        def keyed(time: float) -> Frame:
            return keyer(np.ascontiguousarray(with_alpha(clip, time)[..., :channels])).codes

        return clip.with_updated_frame_function(keyed).without_mask()
