"""The key against a plate that is not even in hue: a cluttered room, darkness, white paper."""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np

from ghostprep.picture.key.guided import guided_filter
from ghostprep.picture.key.islands import enclosed
from ghostprep.picture.key.keyed import Bytes, Floats, Keyed, as_bytes, floats
from ghostprep.picture.key.scratch import Scratch

_UNLIKE, _SOLID, _LIKE = 1.9, 4.0, 1.4
"""Deviations from the plate, in units of its noise over a small patch (1 on the bare plate):
from which there may be figure, from which it is solid, and up to which the plate is seen."""
_REACH = 5
"""Pixels of the small picture over which the figure's colours are carried to its edge (twice)."""
_DOUBT = 14.0
"""Contrast between figure and plate, codes, below which the surroundings decide."""
_LOW, _HIGH = 0.03, 0.95
_SUM, _MEAN = np.ones((1, 3), np.float32), np.full((1, 3), 1 / 3, np.float32)


@dataclass(frozen=True, eq=False)
class DifferenceKeyer:
    """Keys frames of one crop and size against a plate.

    With F the figure's colour near a pixel C and B the plate there, the matte is the projection
    of C - B on F - B; the figure is what is left when the uncovered share of B is taken away.

    Attributes
    ----------
    plate : ndarray of float32 (h, w, 3)
        The scene without the figure, R'G'B' codes.
    certainty : ndarray of float32 (h, w)
        1 over the square of the noise around the plate at each place, codes.
    """

    plate: Floats
    certainty: Floats
    scratch: Scratch = field(default_factory=Scratch, repr=False)

    @classmethod
    def of(cls, plate: Floats, noise: Floats) -> DifferenceKeyer:
        """Prepare the keyer; `noise` (h, w) is the sigma of one channel, codes."""
        return cls(plate, floats(1 / np.maximum(noise, 0.7) ** 2))

    def __call__(self, frame: Bytes) -> Keyed:
        """Key one frame (h, w, 3)."""
        get, (h, w) = self.scratch, frame.shape[:2]
        codes = get("codes", h, w, 3)
        np.copyto(codes, frame)
        apart = cv2.subtract(codes, self.plate, dst=get("apart", h, w, 3))
        square = cv2.multiply(apart, apart, dst=get("square", h, w, 3))
        size = _small_size(w, h)
        unlike = cv2.transform(square, _MEAN, dst=get("a", h, w))
        np.multiply(unlike, self.certainty, out=unlike)
        level = np.sqrt(cv2.resize(unlike, size, interpolation=cv2.INTER_AREA))
        solid, near = _solid_and_near(floats(level))
        if not near.any():
            return Keyed(np.zeros_like(frame), np.zeros((h, w), np.uint8))
        small = cv2.resize(codes, size, interpolation=cv2.INTER_AREA)
        colour, hold = _own_colour(floats(small), solid)
        toward = cv2.resize(colour, (w, h), dst=get("toward", h, w, 3), interpolation=cv2.INTER_LINEAR)
        cv2.subtract(toward, self.plate, dst=toward)
        reach = cv2.transform(cv2.multiply(apart, toward, dst=apart), _SUM, dst=get("reach", h, w))
        length = cv2.transform(cv2.multiply(toward, toward, dst=toward), _SUM, dst=get("length", h, w))
        ways = (cv2.blur(solid.astype(np.float32), (3, 3)), hold, near)
        inside, held, support = (
            cv2.resize(floats(x), (w, h), dst=get(name, h, w), interpolation=cv2.INTER_LINEAR)
            for x, name in zip(ways, ("inside", "held", "support"), strict=True)
        )
        # where figure and plate look alike, the projection says nothing: the surroundings decide
        np.add(reach, np.multiply(inside, _DOUBT**2, out=inside), out=reach)
        np.divide(reach, np.add(length, _DOUBT**2, out=length), out=reach)
        np.clip(reach, 0, 1, out=reach)
        guide = as_bytes(cv2.cvtColor(frame, cv2.COLOR_RGB2GRAY))
        alpha = guided_filter(guide, floats(reach), 3, 60.0, shrink=2)
        np.clip(
            np.multiply(np.subtract(alpha, _LOW, out=alpha), 1 / (_HIGH - _LOW), out=alpha), 0, 1, out=alpha
        )
        np.multiply(np.maximum(alpha, held, out=alpha), support, out=alpha)
        return self._finish(codes, alpha)

    def _finish(self, codes: Floats, alpha: Floats) -> Keyed:
        bare = np.subtract(1, alpha, out=self.scratch("a", *alpha.shape))
        off = cv2.merge((bare, bare, bare), dst=self.scratch("square", *codes.shape))
        cv2.subtract(codes, cv2.multiply(off, self.plate, dst=off), dst=codes)
        figure = np.clip(np.rint(codes, out=codes), 0, 255, out=codes).astype(np.uint8)
        matte = as_bytes(cv2.convertScaleAbs(alpha, alpha=255))
        return Keyed(as_bytes(cv2.copyTo(figure, matte)), matte)


def _small_size(w: int, h: int) -> tuple[int, int]:
    shrink = 4 if max(h, w) >= 480 else 2 if max(h, w) >= 200 else 1
    return max(w // shrink, 1), max(h // shrink, 1)


def _solid_and_near(level: Floats) -> tuple[Bytes, Floats]:
    """Return where the figure is solid, with its inside filled, and where there can be figure at all."""
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (3, 3))
    solid = (level > _SOLID).astype(np.uint8)
    # single patches of the bare plate inside a figure are chance
    seen = cv2.erode((level < _LIKE).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    solid |= enclosed(seen, solid)
    near = cv2.dilate((cv2.blur(level, (3, 3)) > _UNLIKE).astype(np.uint8), disc)
    return as_bytes(solid), floats(near)


def _own_colour(small: Floats, solid: Bytes) -> tuple[Floats, Floats]:
    """Return the figure's colour (h, w, 3), carried over its edge, and where its inside is sure (h, w)."""
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (3, 3))
    inner = cv2.erode(solid, disc, borderType=cv2.BORDER_REPLICATE)
    hold = cv2.blur(cv2.erode(inner, disc, borderType=cv2.BORDER_REPLICATE).astype(np.float32), (3, 3))
    mask = inner.astype(np.float32)
    window = (_REACH, _REACH)
    weight = cv2.blur(cv2.blur(mask, window), window)
    mass = floats(cv2.blur(cv2.blur(small * mask[..., None], window), window))
    # without a solid part near, middle grey: better than nothing
    return floats((mass + 0.003 * 128) / (weight + 0.003)[..., None]), floats(hold)
