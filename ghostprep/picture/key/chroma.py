"""The key for an even coloured backing, at any hue: subtract as much of the plate as its hue shows."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

import cv2
import numpy as np

from ghostprep.arrays import Floats, Frame, Light, Mask
from ghostprep.picture.key.bare import Open, Small, find_open
from ghostprep.picture.key.chroma_plate import ChromaPlate
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.glow import find_glow
from ghostprep.picture.key.guided import through, windows
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.keyed import Keyed, as_bytes, floats, pixels_at, put_pixels
from ghostprep.picture.key.outside import OutsideCut
from ghostprep.picture.key.palette import AgainstPlate, Palette
from ghostprep.picture.key.plate import fill_holes
from ghostprep.picture.key.region import Region, filled_up, shrink_for
from ghostprep.picture.key.scratch import Scratch
from ghostprep.picture.key.unmix import Unmixer
from ghostprep.transfer import codes_to_light, light_to_codes

_TRACE = 6
"""Matte codes up to which there is no figure."""
_REACH = 4
"""Pixels of the clip, two samples of its chroma, over which the share is smoothed to each side."""
_DOUBT = 0.015
"""Variance of the share that chroma's coarser detail alone brings to an edge."""
_LOW, _HIGH, _HIGH_AT_LEAST = 0.02, 0.94, 0.7
"""Shares of the backing that count as none and as all; the noisier the clip, the less of it counts as all."""


class Look(NamedTuple):
    """What the small picture of a frame tells."""

    light: Floats
    plate: ChromaPlate
    open: Open


@dataclass(frozen=True, eq=False)
class ChromaKeyer:
    """Keys frames of one crop and size against a coloured plate.

    The figure's hues are known; `Unmixer` tells how much of the plate is in each pixel besides:
    what is seen through and around the figure, and the spill on it alike.
    """

    plate: ChromaPlate
    size: tuple[int, int]
    """Width and height of the frames; the plate is filled up at its right and lower side."""
    axis: HueAxis
    """The backing's hue among amounts."""
    curve: Curve
    """How figure and backing were mixed."""
    palette: Palette
    """What the figure is made of."""
    wanders: bool
    """The camera moves: make a plate of each frame's own backing."""
    beside: OutsideCut | None
    """What lies outside the backing, if that does not fill the frame."""
    veil: Light | None
    """(h, w, 3): light that is taken from figure and backing alike before all else; see `find_glare`."""
    reach: int = _REACH
    """The same in pixels of the frames."""
    scratch: Scratch = field(default_factory=Scratch, repr=False)

    @classmethod
    def of(
        cls,
        codes: Frame,
        axis: HueAxis,
        curve: Curve,
        palette: Palette,
        *,
        wanders: bool,
        beside: OutsideCut | None,
        glare: float,
        scale: float = 1.0,
    ) -> ChromaKeyer:
        """Prepare the keyer for a plate of codes (h, w, 3).

        Parameters
        ----------
        glare : float
            Share of the plate's light that lies over all.
        scale : float
            Pixels of the frames over those of the clip that they were made of.
        """
        size = (codes.shape[1], codes.shape[0])
        veil = codes_to_light(codes) * np.float32(glare) if glare else None
        light = curve.amounts(filled_up(_lifted(codes, veil)))
        plate = ChromaPlate.of(light, axis, shrink_for(size), curve)
        reach = max(round(_REACH * min(scale, 1)), 1)
        return cls(plate, size, axis, curve, palette, wanders, beside, veil, reach)

    def __call__(self, frame: Frame) -> Keyed:
        """Key one frame (h, w, 3)."""
        (w, h), shrink = self.size, shrink_for(self.size)
        whole = filled_up(_lifted(frame, self.veil))
        look = self._look(whole, shrink)
        figure, matte = np.zeros(whole.shape, np.uint16), np.zeros(whole.shape[:2], np.uint8)
        anything = ~look.open.empty
        if self.beside is not None:
            size = anything.shape[::-1]
            # outside the backing the key says nothing
            anything &= cv2.resize(filled_up(self.beside.inside), size, interpolation=cv2.INTER_NEAREST) > 0
        place = Region.around(anything)
        if place is not None:
            shown = np.ones(whole.shape[:2], np.float32)
            part, share = self._within(whole, look, place, shrink)
            cut = place.scaled(shrink).cut
            figure[cut], matte[cut], shown[cut] = part.figure, part.matte, share
            lamp = look.plate.glow
            deep = None if self.beside is None else self.beside.deep(lamp.light.shape)
            glow = find_glow(look.light, lamp, matte, look.open.gain * shown, self.curve, within=deep)
            if glow is not None:
                glow.onto(figure)
        keyed = Keyed(figure[:h, :w], matte[:h, :w])
        return keyed if self.beside is None else self.beside.cut(frame, keyed)

    def _look(self, whole: Frame, shrink: int) -> Look:
        """Look at the frame in small, against the plate that holds for it."""
        little = whole
        # halved step by step: OpenCV is fast at exactly half
        while shrink * little.shape[0] > whole.shape[0]:
            size = (little.shape[1] // 2, little.shape[0] // 2)
            little = as_bytes(cv2.resize(little, size, interpolation=cv2.INTER_AREA))
        light = self.curve.amounts(little)
        seen = Small.of(light, self.axis)
        plate = self._plate_of(light, seen, shrink) if self.wanders else self.plate
        return Look(light, plate, find_open(seen, plate.small))

    def _within(self, whole: Frame, look: Look, place: Region, shrink: int) -> tuple[Keyed, Floats]:
        """Key the part of the frame in which there is anything but backing, and tell how much of it shows."""
        get, plate, gain = self.scratch, look.plate, look.open.gain
        region = place.scaled(shrink)
        (w, h), cut = region.size, region.cut
        light = self.curve.amounts(whole[cut], out=get("light", h, w, 3))
        behind = np.multiply(plate.light[cut], gain, out=get("behind", h, w, 3))
        small = AgainstPlate(look.light[place.cut], floats(plate.little[place.cut] * gain))
        unmixer = Unmixer(self.palette, self.axis, self.curve)
        share, hue = unmixer(AgainstPlate(light, behind), small, look.open.empty[place.cut])
        guide = as_bytes(cv2.cvtColor(whole[cut], cv2.COLOR_RGB2GRAY))
        smooth = through(
            guide, *windows(floats(guide), share, self.reach, 30.0, _DOUBT), out=get("smooth", h, w)
        )
        high = _bare_from(smooth, look.open.bare[place.cut])
        clear = np.subtract(smooth, _LOW, out=get("clear", h, w))
        np.clip(np.multiply(clear, 1 / (high - _LOW), out=clear), 0, 1, out=clear)
        taken = floats(cv2.max(smooth, clear, dst=smooth))
        off = cv2.merge((taken, taken, taken), dst=get("off", h, w, 3))
        cv2.multiply(off, behind, dst=off)
        rest = floats(cv2.subtract(light, off, dst=off))
        matte = as_bytes(cv2.convertScaleAbs(clear, alpha=-255, beta=255))
        # exactly nothing where the backing is bare, whatever the noise: among light a trace of it is grey
        matte = as_bytes(cv2.threshold(matte, _TRACE, 0, cv2.THRESH_TOZERO)[1])
        _have_hue(rest, matte, hue)
        return Keyed(self.curve.figure(rest), matte).within(matte), share

    def _plate_of(self, light: Floats, seen: Small, shrink: int) -> ChromaPlate:
        """Make a plate from the backing that this frame itself shows."""
        middle = self.plate.small
        alike = (seen.strict > 0.6 * middle.strict) & (seen.strict < 1.6 * middle.strict)
        # the same luma for its chroma
        alike &= np.abs(seen.luma * middle.key - middle.luma * seen.key) < 0.25 * middle.luma * seen.key
        bare = cv2.erode(cv2.medianBlur(alike.astype(np.uint8), 3), np.ones((5, 5), np.uint8))
        if bare.mean() < 0.02:
            return self.plate
        own = cv2.GaussianBlur(fill_holes(light, bare.astype(np.float32)), (0, 0), 1.5)
        whole = cv2.resize(own, self.plate.light.shape[1::-1], interpolation=cv2.INTER_LINEAR)
        return ChromaPlate.of(floats(whole), self.axis, shrink, self.curve)


def _lifted(frame: Frame, veil: Light | None) -> Frame:
    """Return a frame without the light of a veil that lies over all of it."""
    return frame if veil is None else light_to_codes(codes_to_light(frame) - veil)


def _have_hue(light: Floats, matte: Frame, hue: Floats) -> None:
    """Give the figure's thinnest light (h, w, 3) the hue that was found for it, in place.

    What is left of a frame after nearly all of it is taken away has the noise of the whole: it shines in
    all colours among black.
    """
    thin = np.flatnonzero((matte > 0) & (matte < 255))
    here, own, weight = pixels_at(light, thin), pixels_at(hue, thin), matte.take(thin) / np.float32(255)
    own *= np.maximum(np.einsum("cn,cn->n", here, own), 0)
    put_pixels(light, thin, own + weight * (here - own))


def _bare_from(share: Floats, bare: Mask) -> float:
    """Return the share from which the backing counts as bare, below the noise of this frame."""
    inner = cv2.erode(bare.view(np.uint8), np.ones((5, 5), np.uint8))
    if cv2.countNonZero(inner) < 50:
        return _HIGH
    seen = cv2.resize(share, bare.shape[::-1], interpolation=cv2.INTER_NEAREST)
    mean, spread = cv2.meanStdDev(seen, mask=inner)
    return float(np.clip(float(mean[0, 0]) - 4.5 * float(spread[0, 0]), _HIGH_AT_LEAST, _HIGH))
