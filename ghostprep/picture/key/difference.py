"""The key against a plate that is not even in hue: a cluttered room, white paper."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Floats, Frame
from ghostprep.channels import dot, largest_channel
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.enclosed import enclosed
from ghostprep.picture.key.guided import through, windows
from ghostprep.picture.key.keyed import Keyed, as_bytes, floats, to_codes
from ghostprep.picture.key.region import Region, filled_up, shrink_for, shrunk
from ghostprep.picture.key.sheer import find_sheer

_UNLIKE, _SOLID = 1.9, 4.0
"""Deviations from the plate, in units of its noise over a small patch (1 on the bare plate), from which there
may be figure, and from which it is solid."""
_SPECK = 20.0
"""The same up to which an island is a speck: the root of all its solid places' squares together."""
_NOISIEST = 2.0
"""How many times noisier than its glimpses a frame is believed to be at most."""
_REACH = (5, 5)
"""Pixels of the small picture over which the figure's colours are carried to its edge (twice)."""
_FLAT = 200.0
"""Variance of the picture's luma, codes squared, below which the matte does not follow it: the room's
own edges are none of the matte's."""
_WHOLE = 0.95
"""Coverage from which it is whole."""
_LINE, _FOLD, _APART = 20.0, 10.0, 55.0
"""Codes (sigma) off the line from plate to figure up to which a colour may be a mixture of both, off that
from black to the figure up to which it is a fold of it, and between the two from which their line tells."""
_AROUND = (7, 7)
"""Pixels of the half picture over which that is judged, as a veil's detail is: one colour may lie there by
chance."""
_BESIDE = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (3, 3))


@dataclass(frozen=True, eq=False)
class DifferenceKeyer:
    """Keys frames of one crop and size against a plate.

    With F the figure's colour near a pixel C and B the plate there, the matte is the projection of C - B on
    F - B, or what the plate's detail tells where that shows through; within a solid outline it is whole where
    C lies off the line from B to F, or on that from black to F, as folds do. The figure is what is left of
    the frame when the uncovered share of the plate is taken away.
    """

    plate: Floats
    """(h, w, 3): the scene without the figure, R'G'B' codes; filled up at its right and lower side."""
    noise: Floats
    """(h, w): sigma of one channel around the plate at each place, codes."""
    light: Floats
    half: Floats
    """(h, w, 3): the plate in amounts of the mix, at the frames' size and at half of it."""
    size: tuple[int, int]
    """Width and height of the frames."""
    mix: Curve
    """How figure and plate were mixed."""

    @classmethod
    def of(cls, plate: Floats, noise: Floats, mix: Curve | None = None) -> DifferenceKeyer:
        """Prepare the keyer.

        Parameters
        ----------
        plate : ndarray of float32 (h, w, 3)
        noise : ndarray of float32 (h, w)
            Sigma of one channel, codes.
        mix : Curve, optional
            How figure and plate were mixed; codes where that is not told.
        """
        # in an amount of light, a dark room's noise would be more than it was
        whole, mix = filled_up(plate), mix if mix and mix.mix else Curve("codes")
        light = mix.amounts(to_codes(whole))
        size = (plate.shape[1], plate.shape[0])
        return cls(whole, filled_up(floats(np.maximum(noise, 0.7))), light, shrunk(light, 2), size, mix)

    def __call__(self, frame: Frame) -> Keyed:
        """Key one frame (h, w, 3)."""
        (w, h), shrink = self.size, shrink_for(self.size)
        whole = filled_up(frame)
        level = self._level(whole, shrink)
        near = cv2.dilate(_without_specks(cv2.blur(level, (3, 3)) > _UNLIKE, level), _BESIDE)
        figure, matte = np.zeros(whole.shape, np.uint16), np.zeros(whole.shape[:2], np.uint8)
        place = Region.around(floats(near), max(2 // shrink, 1))
        if place is not None:
            region = place.scaled(shrink)
            part = self._within(whole[region.cut], level[place.cut], floats(near[place.cut]), region)
            figure[region.cut], matte[region.cut] = part
        return Keyed(figure[:h, :w], matte[:h, :w])

    def _level(self, whole: Frame, shrink: int) -> Floats:
        """Return in small how far a frame lies from the plate, in units of its noise.

        A coder's first picture is noisier than the rest; most of the picture is bare plate and tells.
        """
        apart = floats(cv2.subtract(whole, self.plate, dtype=cv2.CV_32F))
        square = dot(apart, apart) / (3 * self.noise**2)
        level = np.sqrt(shrunk(floats(square), shrink))
        return floats(level / np.float32(np.clip(np.median(level), 1, _NOISIEST)))

    def _within(self, frame: Frame, level: Floats, near: Floats, region: Region) -> Keyed:
        """Key the part of the frame in which there may be figure."""
        frame, plate = np.ascontiguousarray(frame), self.plate[region.cut]
        firm = as_bytes((level > _SOLID).astype(np.uint8))
        # single patches of the bare plate inside a figure are chance
        seen = cv2.erode((level < _UNLIKE).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
        solid = floats(firm | enclosed(seen, firm))
        # the inside of what is solid is so however dark its folds
        inner = cv2.erode(solid, _BESIDE, iterations=2, borderType=cv2.BORDER_REPLICATE)
        own, near = (_resized(x, region.size) for x in (_own_colour(frame, solid), near))
        toward = floats(cv2.subtract(own, plate))
        apart = floats(cv2.subtract(frame, plate, dtype=cv2.CV_32F))
        length = dot(toward, toward)
        share = floats(np.clip(dot(apart, toward) / (length + 1), 0, 1))
        guide = as_bytes(cv2.cvtColor(frame, cv2.COLOR_RGB2GRAY))
        smooth = through(guide, *windows(floats(guide), share, 1, _FLAT))
        fold = _off_line(shrunk(floats(frame), 2), shrunk(own, 2))
        between = _between(shrunk(floats(apart - share[..., None] * toward), 2), shrunk(length, 2), fold)
        inside = _resized(floats(cv2.blur(inner, (3, 3))), between.shape[::-1]) * (1 - between)
        alpha = np.maximum(np.clip(smooth / _WHOLE, 0, 1), _resized(inside, region.size))
        # what cloth or light lets through of the plate
        light, half = self.mix.amounts(frame), region.scaled(1, over=2).cut
        noise = shrunk(self.noise[region.cut], 2) * largest_channel(self.mix.a_code(self.half[half]))
        sheer = find_sheer(shrunk(light, 2), self.half[half], level > _UNLIKE, noise)
        bare, lit = sheer.shown(floats(1 - alpha * near))
        there = near * ((bare < 1) | (lit > 0))
        off = cv2.multiply(cv2.merge((bare,) * 3), self.light[region.cut])
        left = cv2.multiply(cv2.subtract(light, off, dst=off), cv2.merge((there,) * 3))
        return Keyed(self.mix.figure(floats(left)), as_bytes(cv2.convertScaleAbs(bare, alpha=-255, beta=255)))


def _without_specks(unlike: npt.NDArray[np.bool_], level: Floats) -> Floats:
    """Return what is unlike the plate (h, w), 1 there, without islands that hardly are: a codec's noise.

    Hysteresis as in Canny, "A computational approach to edge detection", IEEE PAMI 8(6), 1986: what is weak
    counts where it hangs together with what is strong.
    """
    _, island = cv2.connectedComponents(unlike.astype(np.uint8), connectivity=8)
    strong = level > _SOLID
    strength = np.bincount(island[strong], level[strong] ** 2, int(island.max()) + 1)
    strength[0] = 0
    return floats(strength[island] > _SPECK**2)


def _between(off: Floats, length: Floats, fold: Floats) -> Floats:
    """Return how far colours lie between plate and figure, 0..1: what is thin does.

    `off` (h, w, 3) is how far they lie off that line, `length` (h, w) the square of the line's, and `fold`
    the square (h, w) of how far they lie off that from black to the figure's own. Solid cloth of several
    colours lies off the one, and its folds lie on the other.
    """
    apart, dark = (cv2.blur(x, _AROUND) for x in (dot(off, off), fold))
    thin = cv2.exp(apart * (-0.5 / _LINE**2)) * (1 - cv2.exp(dark * (-0.5 / _FOLD**2)))
    return floats(thin * (length / (length + _APART**2)))


def _off_line(colours: Floats, line: Floats) -> Floats:
    """Return the square (h, w) of how far colours (h, w, 3) lie off a line from black."""
    along = np.clip(dot(colours, line) / (dot(line, line) + 1), 0, None)
    off = floats(colours - along[..., None] * line)
    return dot(off, off)


def _resized(picture: Floats, size: tuple[int, int]) -> Floats:
    return floats(cv2.resize(picture, size, interpolation=cv2.INTER_LINEAR))


def _own_colour(frame: Frame, solid: Floats) -> Floats:
    """Return the figure's colour (h, w, 3) in small, carried over its edge; `solid` (h, w) is 1 within."""
    small = cv2.resize(frame, solid.shape[::-1], interpolation=cv2.INTER_AREA)
    inner = cv2.erode(solid, _BESIDE, borderType=cv2.BORDER_REPLICATE)
    weight = cv2.blur(cv2.blur(inner, _REACH), _REACH)
    mass = cv2.blur(cv2.blur(small * inner[..., None], _REACH), _REACH)
    # without a solid part near, middle grey: better than nothing
    return floats((mass + 0.003 * 128) / (weight + 0.003)[..., None])
