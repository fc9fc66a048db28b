"""What is to be said of things beside the figure: marks that stay lit, and a backing's end that cuts it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import cv2
import numpy as np

from ghostprep.finding import Finding
from ghostprep.picture.key.keyed import Bytes, Floats, as_bytes
from ghostprep.picture.key.marks import Marks

_LIT: Final = 127
_APART: Final = np.ones((9, 9), np.uint8)
"""What lies nearer to the figure than half of this belongs to it."""
_BLURRED, _PAST = np.ones((13, 13), np.uint8), np.ones((25, 25), np.uint8)
"""How near to the backing's end nothing is judged, and how far away it is (twice the pixels)."""
_SMALLEST, _SMALL = 6, 0.03
_MOSTLY: Final = 0.75
"""Share of the pictures in which something is seen, from which it is no chance."""
_WIDE: Final = 0.03
"""Part of the picture's width over which a figure meets the backing's end, from which it is cut there."""


def on_marks(mattes: Sequence[Bytes]) -> list[Finding]:
    """Return what is to be said of small things that stay lit away from the figure.

    Parameters
    ----------
    mattes : sequence of ndarray of uint8 (h, w)
    """
    counts = [_marks_in(matte) for matte in mattes]
    if not counts or float(np.mean([count > 0 for count in counts])) < _MOSTLY:
        return []
    usual = round(float(np.median(counts)))
    things = "a small thing stays" if usual == 1 else f"{usual} small things stay"
    return [
        Finding(
            "caution",
            "backing",
            f"away from the figure {things} lit in nearly every picture",
            "take marks off the backing, or leave them out with --crop; what belongs to the figure may stay",
        )
    ]


def on_fixed(marks: Marks | None) -> list[Finding]:
    """Return what is to be said of marks that are taken away."""
    if marks is None:
        return []
    what = "a small thing moves" if marks.usual == 1 else f"{marks.usual} small things move"
    return [
        Finding(
            "caution",
            "backing",
            f"{what} with the backing, as marks on it do: where they touch nothing, they are taken away, "
            "and with them all that is as small, of their colour and apart from the figure",
            "take marks off the backing",
        )
    ]


def on_cut(mattes: Sequence[Bytes], outside: Floats) -> list[Finding]:
    """Return what is to be said of a figure that always ends where the backing does.

    Parameters
    ----------
    mattes : sequence of ndarray of uint8 (h, w)
    outside : ndarray of float32 (h, w)
        1 outside the backing.
    """
    beyond = (outside > 0.5).astype(np.uint8)
    # the outermost of the backing, and what lies just past it
    rim = as_bytes(cv2.dilate(beyond, np.ones((3, 3), np.uint8))) & (1 - beyond)
    sides = [side for side in (_cut_side(matte, rim, beyond) for matte in mattes) if side]
    if not mattes or len(sides) < _MOSTLY * len(mattes):
        return []
    side = max(set(sides), key=sides.count)
    return [
        Finding(
            "caution",
            "figure",
            f"the figure ends at the backing's {side} end, and what stands beyond it is cut away",
            "let the backing reach beyond the figure, or cut the clip there yourself with --crop",
        )
    ]


def _marks_in(matte: Bytes) -> int:
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


def _cut_side(matte: Bytes, rim: Bytes, beyond: Bytes) -> str:
    """Return at which end of the backing the figure is cut, empty if it is not."""
    lit = (matte > _LIT).astype(np.uint8)
    meets = lit & rim
    length = cv2.countNonZero(meets)
    # not right behind the end, which the small picture blurs
    past = as_bytes(cv2.dilate(meets, _PAST)) & ~as_bytes(cv2.dilate(rim, _BLURRED)) & beyond & lit
    if length < _WIDE * matte.shape[1] or cv2.countNonZero(past) > length:
        return ""
    x, y = (float(np.mean(places)) for places in np.nonzero(meets)[::-1])
    backing = np.nonzero(1 - beyond)
    left, right, top, bottom = backing[1].min(), backing[1].max(), backing[0].min(), backing[0].max()
    ends = {"left": x - left, "right": right - x, "upper": y - top, "lower": bottom - y}
    return min(ends, key=lambda name: ends[name])
