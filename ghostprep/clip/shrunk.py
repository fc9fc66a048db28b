"""A large clip's frames at a half, a quarter or an eighth of their size, and parts cut from them.

Reading a large clip costs most of a run. Where it is short, most of it is in the loop, and reading it
twice would nearly double the work. So one pass delivers it at such a size, and what it delivers is kept.
Whether a frame is found there or has to be decoded again, it is the same.
"""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np

from ghostprep.arrays import Frame
from ghostprep.box import Box
from ghostprep.clip.facts import ClipFacts
from ghostprep.clip.glance import is_short

LARGE: Final = 1900
"""Longer side, pixels, from which reading is what costs."""
DELIVERED: Final = 960
"""Pixels that the delivered longer side has at least."""
FINER: Final = 1.4
"""Delivered pixels over those asked for, along each side, at least."""
KEPT_BYTES: Final = 3 << 29
"""The most temporary disk that kept frames may take."""


def shrink_of(facts: ClipFacts) -> int:
    """Return by how much a clip is shrunk on delivery: 2, 4 or 8; 1 where it is not delivered so."""
    longest = max(facts.size)
    if longest < LARGE or facts.alpha != "none" or not is_short(facts):
        return 1
    fitting = [s for s in (8, 4, 2) if longest // s >= DELIVERED and not any(n % s for n in facts.size)]
    return fitting[0] if fitting else 1


def serves(part: Box, size: tuple[int, int], shrink: int) -> bool:
    """Return whether the delivered picture is fine enough for a part at a size, and can be cut to it."""
    on_grid = not any(n % shrink for n in part)
    scale = max(size[0] / part.width, size[1] / part.height)
    return shrink > 1 and on_grid and scale * shrink * FINER <= 1


def may_be_kept(facts: ClipFacts) -> bool:
    """Return whether delivered frames may be kept at all."""
    shrink, (width, height) = shrink_of(facts), facts.size
    taken = float(facts.rate) * (facts.duration_s or 0) * (width // shrink) * (height // shrink) * 3
    return shrink > 1 and taken <= KEPT_BYTES


def worth_keeping(facts: ClipFacts, size: tuple[int, int]) -> bool:
    """Return whether they are of use, if parts of them will be wanted at about a size."""
    shrink, (width, height) = shrink_of(facts), facts.size
    # which parts is not known yet; they are shown larger than the whole picture would be
    scale = min(size[0] / width, size[1] / height)
    return scale * shrink * FINER <= 1


def cut_out(frame: Frame, part: Box, shrink: int, size: tuple[int, int]) -> Frame:
    """Return a part (source pixels, on the grid of `shrink`) of a delivered frame (h, w, 3), scaled."""
    x, y = part.x // shrink, part.y // shrink
    cut = frame[y : y + part.height // shrink, x : x + part.width // shrink]
    return np.asarray(cv2.resize(cut, size, interpolation=cv2.INTER_AREA), np.uint8)
