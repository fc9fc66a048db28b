"""Marks on a backing before a moving camera, and the key that takes them away where they stand alone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Floats, Frame
from ghostprep.box import Box
from ghostprep.picture.key.keyed import Keyed, Keyer, as_bytes, floats

_LIT = 12
"""Matte codes from which something is there, however faint: the blurred rim of a mark goes with it."""
_APART = 0.008
"""Share of the source's longer side within which two lit things belong together."""
_TURNED = 48.0
"""Distance of R'G'B' codes within which a colour is that of a mark: light and blur change it."""
_LARGER = 2.0
"""How much larger than those seen a mark may be."""


class Marks(NamedTuple):
    """Small things that are fixed to the backing."""

    colours: Floats
    """(n, 3): the looks that they have, R'G'B' codes."""
    size: float
    """The largest one's coverage as a share of the source frame."""
    usual: int
    """How many are seen at a time."""


class Islands(NamedTuple):
    """Lit things of a keyed frame that lie apart from each other."""

    zones: npt.NDArray[np.int32]
    """(h, w): number of the thing around each place on a small picture, 0 where there is none."""
    mass: Floats
    """(n,): coverage of each, as a share of the source frame; number 0 is none."""
    colours: Floats
    """(n, 3): R'G'B' codes of each."""
    middles: Floats
    """(n, 2): x and y of each, as shares of the longer side of the picture."""


@dataclass(frozen=True, slots=True)
class Gauge:
    """How the pixels of keyed frames measure the source frame."""

    pixel: float
    """One pixel's area as a share of the source frame."""
    shrink: int
    """Things are told apart on a picture this much smaller."""
    half_gap: int
    """Half the pixels of that picture within which two things belong together."""

    @classmethod
    def of(cls, crop: Box | None, source_size: tuple[int, int], size: tuple[int, int]) -> Gauge:
        """Return the gauge of frames that were cropped and scaled as in `Key.at`."""
        box = crop or Box(0, 0, *source_size)
        across, down = size[0] / box.width, size[1] / box.height
        gap = _APART * max(source_size) * max(across, down)
        shrink = max(int(gap / 3), 1)
        return cls(
            1 / (across * down * source_size[0] * source_size[1]), shrink, max(round(gap / shrink / 2), 1)
        )

    def islands(self, keyed: Keyed) -> Islands:
        """Tell the lit things of a keyed frame apart."""
        h, w = keyed.matte.shape
        small = (max(w // self.shrink, 1), max(h // self.shrink, 1))
        lit = (keyed.matte >= _LIT).view(np.uint8) * np.uint8(255)
        lit = as_bytes((cv2.resize(lit, small, interpolation=cv2.INTER_AREA) > 0).view(np.uint8))
        # half the gap on each side
        reach = np.ones((2 * self.half_gap + 1, 2 * self.half_gap + 1), np.uint8)
        count, zones = cv2.connectedComponents(cv2.dilate(lit, reach), connectivity=8)
        cover = floats(cv2.resize(keyed.matte, small, interpolation=cv2.INTER_AREA)) / 255
        light = floats(cv2.resize(keyed.codes, small, interpolation=cv2.INTER_AREA))
        y, x = np.mgrid[: small[1], : small[0]]

        def total(values: npt.NDArray[np.generic]) -> Floats:
            return floats(np.bincount(zones.ravel(), np.asarray(values, np.float64).ravel(), count))

        mass = total(cover)
        per = 1 / np.maximum(mass, 1e-6)
        colours = np.stack([total(light[..., c]) for c in range(3)], axis=1) * per[:, None]
        colours = np.minimum(colours, 255)  # thin things are covered more than their matte says
        middles = np.stack([total(cover * x), total(cover * y)], axis=1) * per[:, None] / max(small)
        mass = mass * floats(self.pixel * (w * h) / (small[0] * small[1]))
        mass[0] = 0
        return Islands(np.asarray(zones, np.int32), floats(mass), floats(colours), floats(middles))


@dataclass(frozen=True, eq=False)
class MarklessKeyer:
    """A key that leaves out what looks like the backing's marks and touches nothing else."""

    keyer: Keyer
    marks: Marks
    gauge: Gauge

    def __call__(self, frame: Frame) -> Keyed:
        """Key one frame (h, w, 3)."""
        keyed = self.keyer(frame)
        islands = self.gauge.islands(keyed)
        goes = (islands.mass <= _LARGER * self.marks.size) & looks_like(islands.colours, self.marks.colours)
        goes[0] = False
        if not goes.any():
            return keyed
        h, w = keyed.matte.shape
        away = goes[islands.zones].astype(np.uint8)
        stays = cv2.resize(1 - away, (w, h), interpolation=cv2.INTER_NEAREST)
        return keyed.within(as_bytes(stays))


def looks_like(colours: Floats, known: Floats) -> npt.NDArray[np.bool_]:
    """Return which of some colours (n, 3) are nearly one of those known (m, 3)."""
    apart = np.linalg.norm(colours[:, None] - known[None], axis=2)
    return np.asarray(apart.min(axis=1, initial=np.inf) < _TURNED, np.bool_)
