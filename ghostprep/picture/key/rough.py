"""A rough key: about where the figure is and what it looks like in small, in well under a millisecond.

It serves boxes, brightness and thumbnails, never what is shown: spill and veils are none of its business.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from ghostprep.arrays import Figure, Floats, Frame
from ghostprep.channels import largest_channel
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.keyed import Keyed, as_bytes, floats, to_codes
from ghostprep.picture.key.outside import OutsideCut
from ghostprep.transfer import CODE, figure_of_codes, rounded

_MOST, _LEAST = 0.85, 0.15
"""Shares of the backing's chroma from which a pixel is backing, and up to which it is figure: evenly about
the half, which an edge passes at half coverage. A shadow on the cloth keeps more than the first."""
_BARE = 3.0
"""Distance from a plate, in its noise, up to which a pixel is bare."""
_NEAR = np.ones((5, 5), np.uint8)
_TRACE = 16
"""Matte and light, codes, under which there is nothing: more than noise leaves in a small picture."""


@dataclass(frozen=True, eq=False)
class RoughChromaKeyer:
    """Tells the figure by how much of the backing's chroma is missing."""

    plate: Floats
    """(h, w, 3): the backing, R'G'B' codes."""
    rows: Floats
    """(2, 3): from R'G'B' to chroma along the backing's hue and across it."""
    full: Floats
    """(h, w): the plate's own chroma along its hue."""
    beside: OutsideCut | None = None
    """What lies outside the backing, if that does not fill the frame."""

    @classmethod
    def of(cls, plate: Floats, beside: OutsideCut | None = None) -> RoughChromaKeyer:
        """Prepare the keyer for a plate (h, w, 3)."""
        rows = HueAxis.of(plate.mean((0, 1))).rows[1:]
        full = floats(np.maximum(cv2.transform(plate, rows[:1]), 1))
        return cls(plate, rows, full, beside)

    def __call__(self, frame: Frame) -> Keyed:
        """Key one frame (h, w, 3)."""
        codes = frame.astype(np.float32)
        # row by row: a tenth of the time of both at once
        along, across = (floats(cv2.transform(codes, self.rows[k : k + 1])) for k in (0, 1))
        share = np.maximum(along - np.abs(across), 0)
        share /= self.full
        matte = cv2.convertScaleAbs(np.maximum(_MOST - share, 0), alpha=255 / (_MOST - _LEAST))
        seen = cv2.merge((share, share, share))
        light = cv2.subtract(codes, cv2.multiply(seen, self.plate, dst=seen), dst=codes)
        keyed = _clean(figure_of_codes(floats(light)), as_bytes(matte))
        return keyed if self.beside is None else self.beside.cut(frame, keyed)


@dataclass(frozen=True, eq=False)
class RoughPlateKeyer:
    """Tells the figure by its distance from the plate."""

    plate: Frame
    """(h, w, 3)."""
    least: Frame
    """(h, w): distance, codes, up to which a pixel is bare."""

    @classmethod
    def of(cls, plate: Floats, noise: Floats) -> RoughPlateKeyer:
        """Prepare the keyer for a plate (h, w, 3) and its noise (h, w)."""
        least = np.clip(np.rint(_BARE * np.maximum(noise, 1)), 0, 254)
        return cls(to_codes(plate), as_bytes(least.astype(np.uint8)))

    def __call__(self, frame: Frame) -> Keyed:
        """Key one frame (h, w, 3)."""
        apart = as_bytes(cv2.absdiff(frame, self.plate))
        beyond = cv2.subtract(largest_channel(apart), self.least)
        # at an edge the distance falls from that of the figure beside it to none
        whole = cv2.max(cv2.dilate(beyond, _NEAR), self.least)
        matte = as_bytes(cv2.divide(beyond, whole, scale=255))
        # by its coverage: an edge that is cut off hard would flicker
        figure = cv2.multiply(frame, cv2.merge((matte,) * 3), scale=CODE / 255, dtype=cv2.CV_16U)
        return _clean(np.asarray(figure, np.uint16), matte)


def _clean(figure: Figure, matte: Frame) -> Keyed:
    """Return both without traces, and without single pixels."""
    seen = cv2.threshold(
        cv2.max(matte, largest_channel(rounded(figure))), _TRACE - 1, 255, cv2.THRESH_BINARY
    )[1]
    seen = cv2.medianBlur(seen, 3)
    return Keyed(figure, matte).within(as_bytes(seen))
