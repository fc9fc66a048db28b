"""The key for an even coloured backing, at any hue: subtract as much of the plate as its hue shows."""

from __future__ import annotations

import functools
from dataclasses import dataclass, field

import cv2
import numpy as np

from ghostprep.picture.key.beside import Beside
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.glow import GlowPlate, find_glow
from ghostprep.picture.key.guided import guided_filter
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.keyed import Bytes, Floats, Keyed, as_bytes, floats
from ghostprep.picture.key.plate import fill_holes
from ghostprep.picture.key.scratch import Scratch
from ghostprep.picture.key.solid import Small, Solid, find_solid

_TRACE = 9
"""Matte codes up to which there is no figure."""
_DOUBT = 0.015
"""Variance of the share that chroma's coarser detail alone brings to an edge."""
_LOW, _HIGH, _HIGH_AT_LEAST = 0.02, 0.94, 0.7
"""Shares of the backing that count as none and as all; the noisier the clip, the less of it counts as all."""


_INSIDE = 0.5
"""Hold from which a pixel lies inside the figure."""


@dataclass(frozen=True, eq=False)
class ChromaPlate:
    """A coloured plate with what the key reads on it, worked out once.

    Attributes
    ----------
    light : ndarray of float32 (h, w, 3)
        The backing as it looks at each place, in amounts of the mix.
    tinge : ndarray of float32 (h, w)
        Chroma along the backing's hue, at least 1.
    full, luma : ndarray of float32 (h, w)
        Key and luma of the plate.
    most, slope : ndarray of float32 (h, w)
        ``most - slope * luma`` bounds the plate's share from above: light beyond the plate's own
        cannot come from it, so at least so much is figure.
    small : Small
        Key and luma on the small picture on which the figure's inside is judged.
    """

    light: Floats
    tinge: Floats
    full: Floats
    luma: Floats
    most: Floats
    slope: Floats
    small: Small

    @functools.cached_property
    def glow(self) -> GlowPlate:
        """The same in small, for light that covers nothing; only mixes of light ask for it."""
        return GlowPlate.of(self.light)

    @classmethod
    def of(cls, light: Floats, axis: HueAxis) -> ChromaPlate:
        """Work out what the key reads on a plate of amounts (h, w, 3)."""
        turned = cv2.transform(light, axis.rows())
        across = np.abs(turned[..., 2])
        tinge = floats(np.maximum(turned[..., 1], 1))
        full = floats(np.maximum(turned[..., 1] - axis.slope * across, 1))
        strict = floats(np.maximum(turned[..., 1] - axis.strict * across, 1))
        luma = floats(np.maximum(turned[..., 0], 1))
        slope = floats(1 / np.maximum(255 - luma, 16))
        h, w = full.shape
        shrink = 4 if max(h, w) >= 480 else 2 if max(h, w) >= 200 else 1
        size = (max(w // shrink, 1), max(h // shrink, 1))
        parts = (full, strict, luma)
        small = Small(*(floats(cv2.resize(p, size, interpolation=cv2.INTER_AREA)) for p in parts))
        return cls(light, tinge, full, luma, floats(1 + (luma * 1.03 + 4) * slope), slope, small)


@dataclass(frozen=True, eq=False)
class ChromaKeyer:
    """Keys frames of one crop and size against a coloured plate.

    The figure's own colours are taken to keep their chroma over luma up to its edge. So
    with t of the plate in a pixel C, key(C - t plate) = tint luma(C - t plate), which gives t:
    it holds the backing that is seen through and around the figure and the spill on it alike.

    Attributes
    ----------
    plate : ChromaPlate
    axis : HueAxis
        The backing's hue among amounts.
    curve : Curve
        How figure and backing were mixed.
    wanders : bool
        The camera moves: make a plate of each frame's own backing.
    beside : Beside or None
        What lies outside the backing, if that does not fill the frame.
    """

    plate: ChromaPlate
    axis: HueAxis
    curve: Curve
    wanders: bool = False
    beside: Beside | None = None
    scratch: Scratch = field(default_factory=Scratch, repr=False)

    def __call__(self, frame: Bytes) -> Keyed:
        """Key one frame (h, w, 3)."""
        get, (h, w) = self.scratch, frame.shape[:2]
        light = self.curve.amounts(frame, out=get("light", h, w, 3))
        rows = self.axis.rows()
        luma = cv2.transform(light, rows[0:1], dst=get("luma", h, w))
        key = cv2.transform(light, rows[1:2], dst=get("key", h, w))
        tinge = get("tinge", h, w)
        np.copyto(tinge, key)
        across = cv2.transform(light, rows[2:3], dst=get("across", h, w))
        np.abs(across, out=across)
        cv2.scaleAdd(across, -self.axis.slope, key, dst=key)
        plate, solid = self._solid(light, floats(key), floats(across), floats(luma))
        tint, kept, hold = (
            cv2.resize(x, (w, h), dst=get(name, h, w), interpolation=cv2.INTER_LINEAR)
            for x, name in zip(solid[:3], ("tint", "kept", "hold"), strict=True)
        )
        a, b = get("a", h, w), get("b", h, w)
        # the plate's share by hue ...
        np.subtract(key, np.multiply(tint, luma, out=a), out=a)
        np.subtract(plate.full, np.multiply(tint, plate.luma, out=b), out=b)
        share = np.divide(a, np.multiply(b, solid.gain, out=b), out=a)
        # ... bounded by light
        np.subtract(plate.most, np.multiply(plate.slope, luma, out=b), out=b)
        np.clip(np.minimum(share, b, out=share), 0, 1, out=share)
        smooth = guided_filter(
            as_bytes(cv2.cvtColor(frame, cv2.COLOR_RGB2GRAY)), share, 4, 30.0, shrink=2, doubt=_DOUBT
        )
        high = _bare_from(smooth, solid)
        clear = np.multiply(np.subtract(smooth, _LOW, out=b), 1 / (high - _LOW), out=b)
        np.clip(clear, 0, 1, out=clear)
        taken = np.maximum(smooth, clear, out=smooth)
        # spill: what of the backing's hue is left, except where cloth has that hue itself
        whole_key = get("tint", h, w)
        if solid.kept.any():
            np.subtract(key, np.multiply(kept, luma, out=kept), out=key)
        np.maximum(
            taken, np.divide(key, np.multiply(plate.full, solid.gain, out=whole_key), out=key), out=taken
        )
        # inside: nothing is seen through, and little is spill
        loose = np.subtract(1, hold, out=across)
        limit = np.multiply(taken, loose, out=a)
        np.minimum(taken, cv2.scaleAdd(hold, 2 * self.axis.spill, limit, dst=limit), out=taken)
        self._leave_neutral(floats(tinge), taken, floats(hold), plate, solid.gain)
        np.multiply(clear, loose, out=clear)
        keyed = self._finish(light, floats(taken), clear, plate, solid.gain)
        return keyed if self.beside is None else self.beside.cut(frame, keyed)

    def _leave_neutral(
        self, tinge: Floats, taken: Floats, hold: Floats, plate: ChromaPlate, gain: float
    ) -> None:
        """Take no more inside the figure than makes a tinged grey grey: white hair must not turn pink."""
        most = np.multiply(plate.tinge, gain, out=self.scratch("most", *taken.shape))
        np.divide(tinge, most, out=most)
        inside = (tinge > 0) & (hold > _INSIDE)
        np.minimum(taken, most, out=taken, where=inside)

    def _solid(self, light: Floats, key: Floats, across: Floats, luma: Floats) -> tuple[ChromaPlate, Solid]:
        """Judge the figure's inside on a small picture, against the plate that holds for this frame."""
        plate, size = self.plate, self.plate.small.key.shape[::-1]
        seen, beside, bright = (
            cv2.resize(x, size, interpolation=cv2.INTER_AREA) for x in (key, across, luma)
        )
        strict = seen - (self.axis.strict - self.axis.slope) * beside
        small = Small(floats(seen), floats(strict), floats(bright))
        if self.wanders:
            plate = self._plate_of(light, small)
        return plate, find_solid(small, plate.small, self.axis.spill)

    def _plate_of(self, light: Floats, seen: Small) -> ChromaPlate:
        """Make a plate from the backing that this frame itself shows."""
        middle = self.plate.small
        alike = (seen.strict > 0.6 * middle.strict) & (seen.strict < 1.6 * middle.strict)
        # the same luma for its chroma
        alike &= np.abs(seen.luma * middle.key - middle.luma * seen.key) < 0.25 * middle.luma * seen.key
        bare = cv2.erode(cv2.medianBlur(alike.astype(np.uint8), 3), np.ones((5, 5), np.uint8))
        if bare.mean() < 0.02:
            return self.plate
        size = seen.key.shape[::-1]
        small = floats(cv2.resize(light, size, interpolation=cv2.INTER_AREA))
        own = cv2.GaussianBlur(fill_holes(small, bare.astype(np.float32)), (0, 0), 1.5)
        whole = cv2.resize(own, light.shape[1::-1], interpolation=cv2.INTER_LINEAR)
        return ChromaPlate.of(floats(whole), self.axis)

    def _finish(self, light: Floats, taken: Floats, clear: Floats, plate: ChromaPlate, gain: float) -> Keyed:
        get, (h, w) = self.scratch, clear.shape
        off = cv2.merge((taken, taken, taken), dst=get("off", h, w, 3))
        cv2.multiply(off, plate.light, dst=off, scale=gain)
        left = floats(cv2.subtract(light, off, dst=off))
        figure = self.curve.codes(left)
        matte = as_bytes(cv2.convertScaleAbs(np.subtract(1, clear, out=clear), alpha=255))
        # exactly nothing where the backing is bare, whatever the noise: among light a trace of it is grey
        matte = as_bytes(cv2.threshold(matte, _TRACE, 0, cv2.THRESH_TOZERO)[1])
        figure = as_bytes(cv2.copyTo(figure, matte))
        if self.curve.linear:
            glow = find_glow(light, plate.glow, matte, gain, self.curve)
            if glow is not None:
                figure = as_bytes(cv2.add(figure, glow))
        return Keyed(figure, matte)


def _bare_from(share: Floats, solid: Solid) -> float:
    """Return the share from which the backing counts as bare, below the noise of this frame."""
    open_ = cv2.erode(solid.open_.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    if open_.sum() < 50:
        return _HIGH
    seen = cv2.resize(share, open_.shape[::-1], interpolation=cv2.INTER_NEAREST)[open_]
    return float(np.clip(seen.mean() - 4.5 * seen.std(), _HIGH_AT_LEAST, _HIGH))
