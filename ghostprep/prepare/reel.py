"""What goes into the file: the frames, and what is promised of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from ghostprep.clip import Frames

Frame: TypeAlias = npt.NDArray[np.uint8]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reel:
    """The frames of one file, before it is encoded.

    Attributes
    ----------
    frames : Frames
        As the raster shows them, in play order.
    rate : Fraction
        Frames a second.
    keyed : bool
        Whether there is black around the figure.
    join_steps, blend_frames : tuple of int
        Where the loop is joined; see `ghostprep.loop.LoopPlan`.
    as_shot : callable
        From a frame's number to its keyed figure, upright, not yet placed; None where it is dark.
    """

    frames: Frames
    rate: Fraction
    keyed: bool
    join_steps: tuple[int, ...] = ()
    blend_frames: tuple[int, ...] = ()
    as_shot: Callable[[int], Frame | None]
