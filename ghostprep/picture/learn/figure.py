"""What glimpses of the keyed figure tell, whatever is behind it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import cv2

from ghostprep.arrays import Frame
from ghostprep.box import small_size
from ghostprep.picture.key.key import Key
from ghostprep.picture.key.keyed import as_bytes
from ghostprep.picture.key.plate import cut_to
from ghostprep.picture.learn.remarks import on_figure
from ghostprep.picture.learn.remarks_outside import on_cut, on_marks

MIDDLE: Final = 320
"""Longest side of the pictures on which plates are made and figures are looked at."""


def with_figure_remarks(key: Key, frames: Frame) -> Key:
    """Return the key with what is to be said of the figure that it gives in glimpses (n, h, w, 3 or 4)."""
    h, w = frames.shape[1:3]
    small = at_most(frames[::4], MIDDLE)
    size = (small.shape[2], small.shape[1])
    keyed = list(map(key.at(None, (w, h), size), small))
    mattes = [one.matte for one in keyed]
    said = on_figure([one.codes for one in keyed], mattes)
    if key.backing.kind in ("green", "blue", "colour"):
        said += on_marks(mattes)
    if key.outside is not None:
        said += on_cut(mattes, cut_to(key.outside.mask, None, (w, h), size))
    return replace(key, remarks=(*key.remarks, *said))


def at_most(frames: Sequence[Frame] | Frame, longest: int) -> Frame:
    """Return frames shrunk so that their longer side is at most `longest` pixels."""
    size = small_size((frames[0].shape[1], frames[0].shape[0]), longest)
    return as_bytes([cv2.resize(f, size, interpolation=cv2.INTER_AREA) for f in frames])
