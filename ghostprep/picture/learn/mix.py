"""Tell a camera's clip from a drawn one: whether light added up at the figure's edge, or codes.

With figure colour F and backing B next to an edge, a pixel across it lies on the straight line from F to B
among codes if codes were mixed, and on a curve beside it if light was. Where between the two the pixels lie
is looked at on a small picture: chroma is coded at half the detail, which bends a sharp edge's colours.
"""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np

from ghostprep.arrays import Floats
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.keyed import Bytes, floats
from ghostprep.picture.learn.figure import at_most
from ghostprep.transfer import from_linear, to_linear

_SMALL = 240
"""Longest side of the pictures, at most half the clip's; of 160, 200, 240 and 320 it told the most right."""
_NEAR, _ALIKE = 9, 12.0
"""Pixels over which the figure's solid colour is taken to an edge, and codes by which it may vary there."""
_SOLID, _STRICT = 0.12, 1.2
"""Share of the backing up to which a place is solid; how fast chroma beside its hue counts against it."""
_STEPS = np.linspace(0.05, 0.95, 19)
"""Coverages at which line and curve are compared with a pixel; near either end they tell nothing."""
_APART = 2.0
"""Codes that the curve must lie beside the line."""
_DRAWN, _FILMED = 0.35, 0.25
"""Where between codes (0) and light (1) it is taken for light: noise and unevenness speak for a camera."""
_ASTRAY = -0.5
"""What leans as far the other way as half of light speaks of something else: spill, a lamp, thin cloth."""


class MixGuess(NamedTuple):
    """How figure and backing were mixed.

    Attributes
    ----------
    linear : bool
        In light, as in a camera.
    lean : float
        What the edges say: about 0 for codes, about 1 for light; 0.5 if they say nothing.
    """

    linear: bool
    lean: float


def guess_mix(frames: Bytes, plate: Floats, noise: float) -> MixGuess:
    """Guess the mix from edges, and from noise and evenness of the backing where edges say little.

    Parameters
    ----------
    frames : ndarray of uint8 (n, h, w, 3)
    plate : ndarray of float32 (h, w, 3)
        R'G'B' codes, of the same size.
    noise : float
        Sigma of the frames around the plate, codes.
    """
    drawn = noise < 1.2 and float(plate.std((0, 1)).max()) < 2
    small = at_most(frames, min(_SMALL, max(frames.shape[1:3]) // 2 or 1))
    behind = floats(cv2.resize(plate, small.shape[2:0:-1], interpolation=cv2.INTER_AREA))
    between = np.concatenate([_between(floats(frame), behind, noise) for frame in small])
    lean = float(np.median(between)) if len(between) >= 60 else 0.5
    if len(between) < 60 or lean < _ASTRAY:
        return MixGuess(not drawn, lean)
    return MixGuess(lean > (_DRAWN if drawn else _FILMED), lean)


def _between(frame: Floats, plate: Floats, noise: float) -> Floats:
    """Return where edge pixels lie between the line (0) and the curve (1)."""
    axis = HueAxis.of(plate.mean((0, 1)))
    turned, bare = cv2.transform(frame, axis.rows), cv2.transform(plate, axis.rows)
    full = np.maximum(bare[..., 1] - axis.slope * np.abs(bare[..., 2]), 1)
    share = (turned[..., 1] - _STRICT * np.abs(turned[..., 2])) / full
    apart = cv2.blur(np.abs(frame - plate).max(-1), (3, 3)) > max(4 * noise, 6)
    disc, dot = np.ones((3, 3), np.uint8), np.ones((2, 2), np.uint8)
    solid = floats(cv2.erode(((cv2.blur(share, (3, 3)) < _SOLID) & apart).astype(np.uint8), disc))
    backing = cv2.erode((~apart).astype(np.uint8), dot)
    weight = cv2.blur(solid, (_NEAR, _NEAR))
    rim = (solid == 0) & (backing == 0) & (weight > 0.05)
    rim &= cv2.dilate(backing, np.ones((7, 7), np.uint8)) > 0
    own, square = (
        cv2.blur(x * solid[..., None], (_NEAR, _NEAR))[rim] / weight[rim][:, None]
        for x in (frame, frame * frame)
    )
    alike = (square - own * own).max(1, initial=0) < _ALIKE**2
    seen, figure, behind = frame[rim][alike], floats(own[alike]), plate[rim][alike]
    lit, dim = to_linear(figure / 255), to_linear(behind / 255)
    line, curve = np.full((2, len(seen)), np.inf, np.float32)
    at = np.zeros(len(seen), np.float32)
    for part in _STEPS:
        straight = ((seen - part * figure - (1 - part) * behind) ** 2).sum(1)
        at = floats(np.where(straight < line, part, at))
        line = np.minimum(line, straight)
        bent = from_linear(part * lit + (1 - part) * dim) * 255
        curve = np.minimum(curve, ((seen - bent) ** 2).sum(1))
    way = figure - behind
    bow = from_linear((lit + dim) / 2) * 255 - (figure + behind) / 2
    along = (bow * way).sum(1) / np.maximum((way * way).sum(1), 1)
    aside = ((bow - along[:, None] * way) ** 2).sum(1)
    told = (np.abs(at - 0.5) < 0.36) & (aside > _APART**2)
    return floats(0.5 + (line - curve)[told] / (2 * aside[told]))
