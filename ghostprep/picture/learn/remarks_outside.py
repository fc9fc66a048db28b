"""What is to be said of things beside the figure: marks that stay lit, and a backing's end that cuts it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import cv2
import numpy as np

from ghostprep.arrays import Floats, Frame, Mask
from ghostprep.finding import Finding
from ghostprep.picture.key.marks import Marks

_LIT: Final = 127
"""Coverage, 0..255, above which a place counts as figure."""
_APART: Final = np.ones((9, 9), np.uint8)
"""What lies nearer to the figure than half of this belongs to it."""
_PAST: Final = (6.0, 12.0)
"""Pixels past the backing's end where it shows whether a figure goes on; nearer, the small picture blurs."""
_GOES_ON: Final = 0.5
"""Part of what meets the backing's end that must go on past it: else the figure is cut there."""
_SMALLEST, _SMALL = 6, 0.03
_MOSTLY: Final = 0.75
"""Share of the pictures in which something is seen, from which it is no chance."""
_WIDE: Final = 0.03
"""Part of the picture's width over which a figure meets the backing's end, from which it is cut there."""


def on_marks(mattes: Sequence[Frame]) -> list[Finding]:
    """Return what is to be said of small things that stay lit away from the figure.

    Parameters
    ----------
    mattes : sequence of ndarray of uint8 (h, w)
    """
    counts = [_marks_in(matte) for matte in mattes]
    if sum(count > 0 for count in counts) < _MOSTLY * max(len(counts), 1):
        return []
    usual = round(float(np.median(counts)))
    things = "a small thing stays" if usual == 1 else f"{usual} small things stay"
    text = f"away from the figure {things} lit in nearly every picture"
    remedy = "take marks off the backing, or leave them out with --crop; what belongs to the figure may stay"
    return [Finding("caution", "backing", text, remedy)]


def on_fixed(marks: Marks | None) -> list[Finding]:
    """Return what is to be said of marks that are taken away."""
    if marks is None:
        return []
    what = "a small thing moves" if marks.usual == 1 else f"{marks.usual} small things move"
    text = (
        f"{what} with the backing, as marks of tape on it do: they are taken away, "
        "and so is whatever else is as small, of their colour and apart from the figure"
    )
    return [Finding("caution", "backing", text, "take the marks off the backing before filming")]


def on_cut(mattes: Sequence[Frame], outside: Floats) -> list[Finding]:
    """Return what is to be said of a figure that always ends where the backing does.

    Parameters
    ----------
    mattes : sequence of ndarray of uint8 (h, w)
    outside : ndarray of float32 (h, w)
        1 outside the backing.
    """
    end = _End.of((outside > 0.5).astype(np.uint8))
    sides = [side for side in map(end.cuts, mattes) if side]
    if len(sides) < _MOSTLY * max(len(mattes), 1):
        return []
    side = max(set(sides), key=sides.count)
    text = f"the figure is cut off where the backing ends, at its {side} edge"
    remedy = "let the backing reach beyond the figure, or cut the clip there yourself with --crop"
    return [Finding("caution", "figure", text, remedy)]


def _marks_in(matte: Frame) -> int:
    """Return how many small lit things lie apart from the largest one."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats((matte > _LIT).astype(np.uint8))
    if count <= 2:
        return 0
    areas = stats[:, cv2.CC_STAT_AREA].copy()
    areas[0] = 0
    figure = int(np.argmax(areas))
    near = np.unique(labels[cv2.dilate((labels == figure).astype(np.uint8), _APART) > 0])
    small = (areas >= _SMALLEST) & (areas <= _SMALL * areas[figure])
    small[near] = False
    return int(small.sum())


class _End(NamedTuple):
    """Where the backing ends."""

    rim: Mask
    """(h, w): the outermost of the backing."""
    past: Mask
    """(h, w): just past its end."""
    sides: dict[str, int]
    """Row or column of each of the backing's sides."""

    @classmethod
    def of(cls, beyond: Frame) -> _End:
        """Find it; `beyond` (h, w) is 1 outside the backing."""
        far = cv2.distanceTransform(beyond, cv2.DIST_L2, cv2.DIST_MASK_5)
        rim = (cv2.dilate(beyond, np.ones((3, 3), np.uint8)) > beyond).view(np.bool_)
        x, y, w, h = cv2.boundingRect(1 - beyond)
        sides = {"left": x, "right": x + w - 1, "upper": y, "lower": y + h - 1}
        return cls(rim, (far > _PAST[0]) & (far <= _PAST[1]), sides)

    def cuts(self, matte: Frame) -> str:
        """Return at which end of the backing a figure is cut, empty if it is not."""
        lit = matte > _LIT
        meets = lit & self.rim
        if np.count_nonzero(meets) < _WIDE * matte.shape[1]:
            return ""
        should = self.past & (
            cv2.distanceTransform((~meets).view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5) <= _PAST[1]
        )
        if should.any() and float(lit[should].mean()) >= _GOES_ON:
            return ""
        x, y = (float(np.mean(places)) for places in np.nonzero(meets)[::-1])
        at = {"left": x, "right": x, "upper": y, "lower": y}
        return min(self.sides, key=lambda side: abs(at[side] - self.sides[side]))
