"""One colour of the figure: what glimpses tell of it, and which others could make it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import cv2
import numpy as np

from ghostprep.arrays import Floats, Frame, Mask
from ghostprep.channels import squared
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.keyed import as_bytes, floats
from ghostprep.picture.learn.folds import Folds, Told, together, unit

_MADE, _MUCH = 0.07, 0.1
"""How far off the plane a colour may lie that another and the backing make, and the share of the backing that
they need for it."""


@dataclass(eq=False)
class Colour:
    """What glimpses tell of one colour: of pixels well inside it, sums of light and backing; its folds."""

    pixels: int = 0
    inside: int = 0
    """Those of them that lie well within it."""
    light: Floats = field(default_factory=lambda: np.zeros(3, np.float32))
    plate: Floats = field(default_factory=lambda: np.zeros(3, np.float32))
    folds: list[Folds] = field(default_factory=list)
    lengths: list[Floats] = field(default_factory=list)

    @cached_property
    def hue(self) -> Floats:
        """(3,): its direction, of length 1."""
        return unit(self.light)

    def add(self, light: Floats, back: Floats, here: Mask) -> None:
        """Add what one frame shows of it `here` (h, w)."""
        at = np.flatnonzero(well_within(here))
        lit = light.reshape(-1, 3).take(at, 0)
        self.pixels += int(np.count_nonzero(here))
        self.inside += len(at)
        self.light += lit.sum(0)
        self.plate += back.reshape(-1, 3).take(at, 0).sum(0)
        self.lengths.append(np.sqrt(squared(lit)))

    def without(self, share: float) -> Floats:
        """Return the hue that is left where a share of the backing shows."""
        return unit(floats(np.maximum(self.light - share * self.plate, 0)))

    @property
    def brightest(self) -> float:
        """Length of the brightest amounts that were seen of it, but for one in twenty."""
        return float(np.percentile(np.concatenate(self.lengths), 95))

    @property
    def varied(self) -> float:
        """How far its light varies: the logarithm of the upper quartile over the lower."""
        lower, upper = np.percentile(np.concatenate(self.lengths), (25, 75))
        return float(np.log(upper / max(lower, 1e-3)))

    @property
    def compact(self) -> float:
        """How far it lies in one piece: little in hair and at edges."""
        return self.inside / max(self.pixels, 1)

    @cached_property
    def told(self) -> Told:
        """What its folds tell."""
        return together(self.folds)

    def showing(self, axis: HueAxis) -> float:
        """Return the share of the backing's own hue that it shows; below 0 for foreign hues."""
        return float(axis.narrow(self.light) / max(float(axis.narrow(self.plate)), 1e-3))

    def made_of(self, hue: Floats) -> tuple[float, float]:
        """Return u and v of ``light = u hue + v plate`` by least squares."""
        lit, through = np.linalg.lstsq(np.stack([hue, self.plate], 1), self.light, rcond=None)[0]
        return float(lit), float(through)

    def is_made_of(self, hue: Floats) -> bool:
        """Return whether a hue and the backing together make it."""
        lit, through = self.made_of(hue)
        off = np.linalg.norm(lit * hue + through * self.plate - self.light) / np.linalg.norm(self.light)
        return bool(lit > 0 and through > _MUCH and off < _MADE)

    def is_made_of_more(self, cloths: Sequence[Colour]) -> bool:
        """Return whether there is more of a cloth that makes it, thin before the backing."""
        return any(self.is_made_of(cloth.hue) for cloth in cloths if cloth.inside > self.inside)


def inner(there: Mask) -> Mask:
    """Return it without single pixels, which are noise."""
    return np.asarray(cv2.medianBlur(there.astype(np.uint8), 5) > 0, np.bool_)


def well_within(there: Mask) -> Frame:
    """Return what lies well within a place, without specks and a pixel of rim; 1 there, 0 elsewhere."""
    return as_bytes(cv2.erode(inner(there).view(np.uint8), np.ones((3, 3), np.uint8)))
