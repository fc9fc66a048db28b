"""The key against a plate that is not even in hue: a cluttered room, white paper."""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Figure, Floats, Frame
from ghostprep.channels import largest_channel
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.enclosed import enclosed
from ghostprep.picture.key.guided import guided_filter
from ghostprep.picture.key.keyed import Keyed, as_bytes, floats, to_codes
from ghostprep.picture.key.region import Region, filled_up, shrink_for
from ghostprep.picture.key.scratch import Scratch
from ghostprep.picture.key.sheer import find_sheer, halved, taken_out
from ghostprep.transfer import figure_of_codes

_UNLIKE, _SOLID = 1.9, 4.0
"""Deviations from the plate, in units of its noise over a small patch (1 on the bare plate), from which there
may be figure, and from which it is solid."""
_NOISIEST = 2.0
"""How many times noisier than its glimpses a frame is believed to be at most."""
_REACH, _REACH_IN_ROOM = 5, 3
"""Pixels of the small picture over which the figure's colours are carried to its edge (twice): before one
colour a wide mean is calmest; before a room's many, hair and coat each need their own."""
_DOUBT = 14.0
"""Contrast between figure and plate, codes, below which the surroundings decide."""
_FLAT = 200.0
"""Variance of the picture's luma, codes squared, below which the matte does not follow it: the room's
own edges are none of the matte's."""
_LOW, _HIGH = 0.03, 0.95
_SUM, _MEAN = np.ones((1, 3), np.float32), np.full((1, 3), 1 / 3, np.float32)


@dataclass(frozen=True, eq=False)
class DifferenceKeyer:
    """Keys frames of one crop and size against a plate.

    With F the figure's colour near a pixel C and B the plate there, the matte is the projection
    of C - B on F - B; the figure is what is left when the uncovered share of B is taken away.
    """

    plate: Floats
    """(h, w, 3): the scene without the figure, R'G'B' codes; filled up at its right and lower side."""
    certainty: Floats
    """(h, w): 1 over the square of the noise around the plate at each place, codes."""
    size: tuple[int, int]
    """Width and height of the frames."""
    detail: Detail | None = None
    """The plate's detail, where it has any that can show through cloth."""
    scratch: Scratch = field(default_factory=Scratch, repr=False)

    @classmethod
    def of(cls, plate: Floats, noise: Floats, mix: Curve | None = None) -> DifferenceKeyer:
        """Prepare the keyer.

        Parameters
        ----------
        plate : ndarray of float32 (h, w, 3)
        noise : ndarray of float32 (h, w)
            Sigma of one channel, codes.
        mix : Curve, optional
            How figure and plate were mixed, where the plate has detail that can show through cloth.
        """
        certainty = floats(1 / np.maximum(noise, 0.7) ** 2)
        whole = filled_up(plate)
        detail = None if mix is None else Detail.of(whole, mix)
        return cls(whole, filled_up(certainty), (plate.shape[1], plate.shape[0]), detail)

    def __call__(self, frame: Frame) -> Keyed:
        """Key one frame (h, w, 3)."""
        (w, h), shrink = self.size, shrink_for(self.size)
        whole = filled_up(frame)
        level = self._level(whole, shrink)
        solid, near = _solid_and_near(level)
        figure, matte = np.zeros(whole.shape, np.uint16), np.zeros(whole.shape[:2], np.uint8)
        place = Region.around(near, max(2 // shrink, 1))
        if place is not None:
            region = place.scaled(shrink)
            alpha = self._within(whole, solid[place.cut], near[place.cut], region)
            covered = level[place.cut] > _UNLIKE
            figure[region.cut], matte[region.cut] = self._finish(whole[region.cut], alpha, covered, region)
        return Keyed(figure[:h, :w], matte[:h, :w])

    def _level(self, whole: Frame, shrink: int) -> Floats:
        """Return in small how far a frame lies from the plate, in units of its noise.

        A coder's first picture is noisier than the rest; most of the picture is bare plate and tells.
        """
        get, (h, w) = self.scratch, whole.shape[:2]
        apart = cv2.subtract(whole, self.plate, dst=get("apart", h, w, 3), dtype=cv2.CV_32F)
        square = cv2.multiply(apart, apart, dst=apart)
        unlike = cv2.transform(square, _MEAN, dst=get("a", h, w))
        np.multiply(unlike, self.certainty, out=unlike)
        unlike = cv2.resize(unlike, (w // shrink, h // shrink), interpolation=cv2.INTER_AREA)
        level = floats(np.sqrt(unlike))
        return floats(level / np.float32(np.clip(np.median(level), 1, _NOISIEST)))

    def _within(self, whole: Frame, solid: Frame, near: Floats, region: Region) -> Floats:
        """Return the matte (h, w), 0..1, of the part of the frame in which there may be figure."""
        get, (w, h), frame, plate = self.scratch, region.size, whole[region.cut], self.plate[region.cut]
        apart = cv2.subtract(frame, plate, dst=get("apart", h, w, 3), dtype=cv2.CV_32F)
        small = as_bytes(cv2.resize(frame, solid.shape[::-1], interpolation=cv2.INTER_AREA))
        colour, hold = _own_colour(
            floats(small), as_bytes(solid), reach=_REACH if self.detail is None else _REACH_IN_ROOM
        )
        toward = cv2.resize(colour, (w, h), dst=get("toward", h, w, 3), interpolation=cv2.INTER_LINEAR)
        cv2.subtract(toward, plate, dst=toward)
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
        alpha = guided_filter(guide, floats(reach), 1, _FLAT, shrink=2)
        np.clip(
            np.multiply(np.subtract(alpha, _LOW, out=alpha), 1 / (_HIGH - _LOW), out=alpha), 0, 1, out=alpha
        )
        np.multiply(np.maximum(alpha, held, out=alpha), support, out=alpha)
        return floats(alpha)

    def _finish(self, frame: Frame, alpha: Floats, covered: npt.NDArray[np.bool_], region: Region) -> Keyed:
        plate = self.plate[region.cut]
        bare = np.subtract(1, alpha, out=self.scratch("a", *alpha.shape))
        off = cv2.merge((bare, bare, bare), dst=self.scratch("apart", *plate.shape))
        left = cv2.subtract(frame, cv2.multiply(off, plate, dst=off), dst=off, dtype=cv2.CV_32F)
        matte = as_bytes(cv2.convertScaleAbs(alpha, alpha=255))
        keyed = Keyed(figure_of_codes(floats(left)), matte).within(matte)
        if self.detail is None:
            return keyed
        noise = floats(1 / np.sqrt(self.certainty[region.cut]))
        return self.detail.taken(
            frame,
            keyed.figure,
            alpha,
            covered,
            noise,
            near=self.scratch("support", *alpha.shape),
            region=region,
        )


@dataclass(frozen=True, eq=False)
class Detail:
    """The plate in amounts, for what of its detail shows through cloth."""

    whole: Floats
    half: Floats
    """(h, w, 3): at the frames' size, and at half of it."""
    mix: Curve

    @classmethod
    def of(cls, plate: Floats, mix: Curve) -> Detail:
        """Prepare a plate of codes (h, w, 3)."""
        light = mix.amounts(to_codes(plate))
        return cls(light, halved(light), mix)

    def taken(
        self,
        frame: Frame,
        figure: Figure,
        alpha: Floats,
        covered: npt.NDArray[np.bool_],
        noise: Floats,
        *,
        near: Floats,
        region: Region,
    ) -> Keyed:
        """Return figure and matte without what shows through."""
        light = self.mix.amounts(np.ascontiguousarray(frame))
        half = halved(light)
        top, left = region.top // 2, region.left // 2
        theirs = self.half[top : top + half.shape[0], left : left + half.shape[1]]
        noise = halved(noise) * largest_channel(self.mix.a_code(theirs))
        sheer = find_sheer(half, theirs, covered, noise)
        if sheer is not None:
            figure, alpha = taken_out(
                light, self.whole[region.cut], sheer, figure, alpha, near=near, curve=self.mix
            )
        return Keyed(figure, as_bytes(cv2.convertScaleAbs(alpha, alpha=255)))


def _solid_and_near(level: Floats) -> tuple[Frame, Floats]:
    """Return where the figure is solid, with its inside filled, and where there can be figure at all."""
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (3, 3))
    solid = (level > _SOLID).astype(np.uint8)
    # single patches of the bare plate inside a figure are chance
    seen = cv2.erode((level < _UNLIKE).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    solid |= enclosed(seen, solid)
    near = cv2.dilate((cv2.blur(level, (3, 3)) > _UNLIKE).astype(np.uint8), disc)
    return as_bytes(solid), floats(near)


def _own_colour(small: Floats, solid: Frame, reach: int) -> tuple[Floats, Floats]:
    """Return the figure's colour (h, w, 3), carried over its edge, and where its inside is sure (h, w)."""
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (3, 3))
    inner = cv2.erode(solid, disc, borderType=cv2.BORDER_REPLICATE)
    hold = cv2.blur(cv2.erode(inner, disc, borderType=cv2.BORDER_REPLICATE).astype(np.float32), (3, 3))
    mask = inner.astype(np.float32)
    window = (reach, reach)
    weight = cv2.blur(cv2.blur(mask, window), window)
    mass = floats(cv2.blur(cv2.blur(small * mask[..., None], window), window))
    # without a solid part near, middle grey: better than nothing
    return floats((mass + 0.003 * 128) / (weight + 0.003)[..., None]), floats(hold)
