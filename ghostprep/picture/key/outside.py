"""Cuts away what lies outside the backing, and keeps the figure where it steps out there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import cv2
import numpy as np

from ghostprep.arrays import Floats, Frame
from ghostprep.picture.key.hue import like
from ghostprep.picture.key.keyed import Keyed, as_bytes, floats, to_codes
from ghostprep.picture.key.region import filled_up
from ghostprep.transfer import CODE

_SAME, _OTHER = 3.0, 7.0
"""Difference from what stands there, in units of its noise: bare below the first, figure above the second."""


class Outside(NamedTuple):
    """What lies beside the backing."""

    mask: Floats
    """(h, w): 1 outside the backing, 0 on it, soft between."""
    plate: Floats
    """(h, w, 3): what stands there, R'G'B' codes."""
    noise: Floats
    """(h, w): codes by which frames differ from that; more at its edges, which the small picture blurs."""


@dataclass(frozen=True, eq=False)
class OutsideCut:
    """What lies outside the backing, at the crop and size of the frames."""

    inside: Frame
    """(h, w): 1 on the backing, 0 outside it."""
    plate: Frame
    """(h, w, 3): what stands there, R'G'B' codes."""
    noise: Floats
    """(h, w): sigma around it, codes."""
    least: Frame
    """(h, w): difference up to which a place outside is bare; 255 on the backing."""
    colour: Floats
    """(3,): the backing's, R'G'B' codes."""

    @classmethod
    def of(cls, mask: Floats, plate: Frame, noise: Floats, colour: Floats) -> OutsideCut:
        """Prepare the cut; `mask` (h, w) is 1 outside the backing."""
        inside = (mask < 0.5).astype(np.uint8)
        least = np.where(inside > 0, 255, np.clip(np.ceil(_SAME * noise), 0, 254))
        return cls(as_bytes(inside), plate, noise, as_bytes(least.astype(np.uint8)), colour)

    def cut(self, frame: Frame, keyed: Keyed) -> Keyed:
        """Put the difference from what stands there in place of the key, outside the backing."""
        figure, matte = keyed.within(self.inside)
        apart = cv2.blur(cv2.cvtColor(cv2.absdiff(frame, self.plate), cv2.COLOR_RGB2GRAY), (5, 5))
        differs = apart > self.least
        if not differs.any():
            return Keyed(figure, matte)
        there = np.clip((apart / self.noise - _SAME) / (_OTHER - _SAME), 0, 1) * differs
        # a figure that steps out hangs together with the one on the backing; what moves elsewhere goes
        there *= _reached(floats(there), matte, self.inside)
        here = there > 0
        # at the backing's edge it may be seen through the figure, and nobody keyed it there
        here[here] = ~like(frame[here], self.colour)
        figure[here] = np.rint(frame[here] * (CODE * there[here][:, None]))
        matte[here] = to_codes(255 * there[here])
        return Keyed(figure, matte)

    def deep(self, shape: tuple[int, ...]) -> Frame:
        """Return 1 well within the backing on a smaller picture of a shape, where light is the backing's."""
        inside = cv2.resize(filled_up(self.inside), (shape[1], shape[0]), interpolation=cv2.INTER_NEAREST)
        return as_bytes(cv2.erode(inside, np.ones((7, 7), np.uint8), borderValue=1))


def _reached(there: Floats, matte: Frame, inside: Frame) -> Floats:
    """Return 1 on the parts outside that touch the figure on the backing."""
    figure = (matte > 127) & (inside > 0)
    parts = (there > 0.3) | figure
    _, labels = cv2.connectedComponents(parts.astype(np.uint8), connectivity=8)
    touched = np.zeros(int(labels.max()) + 1, bool)
    touched[labels[figure]] = True
    touched[0] = False
    near = cv2.dilate(touched[labels].astype(np.uint8), np.ones((5, 5), np.uint8))
    return floats(near)
