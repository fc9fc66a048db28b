"""The parts of a picture that no outline crosses: pieces of cloth, with all their folds."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeVar

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Floats, Mask
from ghostprep.channels import largest_channel
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.keyed import floats

T = TypeVar("T", bound=np.generic)

_OUTLINE = 5.0
"""Codes by which light changes from pixel to pixel and to the next at an outline; folds are softer."""
_FEW = 100
"""Pixels that a patch has at least: smaller ones are hair."""


@dataclass(frozen=True, eq=False)
class Patches:
    """A picture's patches, numbered from 1."""

    numbers: npt.NDArray[np.int32]
    """(h, w): of the patch at each place, 0 where there is none."""
    boxes: tuple[tuple[slice, slice], ...]
    """Of each of them."""
    light: Floats
    """(n, 3): the mean of each."""

    @classmethod
    def of(cls, light: Floats, there: Mask, curve: Curve) -> Patches:
        """Find the patches of light (h, w, 3), averaged a little, within a place (h, w)."""
        steps = cv2.morphologyEx(light, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8))
        flat = there & (largest_channel(floats(steps)) < _OUTLINE * curve.a_code_in(light))
        count, numbers, stats, _ = cv2.connectedComponentsWithStats(flat.view(np.uint8), connectivity=4)
        kept = np.flatnonzero(stats[1:, cv2.CC_STAT_AREA] >= _FEW) + 1
        renumber = np.zeros(count, np.int32)
        renumber[kept] = np.arange(len(kept)) + 1
        numbers = renumber[numbers]
        sums = [np.bincount(numbers.ravel(), channel.ravel(), len(kept) + 1) for channel in cv2.split(light)]
        mean = np.stack(sums, 1)[1:] / stats[kept, cv2.CC_STAT_AREA, None]
        boxes = tuple(np.s_[y : y + h, x : x + w] for x, y, w, h, _ in stats[kept].tolist())
        return cls(numbers, boxes, floats(mean))

    def __iter__(self) -> Iterator[tuple[tuple[slice, slice], Mask]]:
        """Return each one's box, and where it is in that."""
        for number, box in enumerate(self.boxes, 1):
            yield box, np.asarray(self.numbers[box] == number, np.bool_)

    def spread(self, values: npt.NDArray[T], beside: npt.NDArray[T]) -> npt.NDArray[T]:
        """Return what is `beside` (h, w, ...), with each patch's own of the values (n, ...) all over it."""
        out, at = beside.copy(), self.numbers > 0
        out[at] = values[self.numbers[at] - 1]
        return out
