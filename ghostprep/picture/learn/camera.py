"""Whether the camera moved: what has texture moves alike, or an even backing's light and dark places do."""

from __future__ import annotations

from typing import Final, NamedTuple

import cv2
import numpy as np

from ghostprep.arrays import Floats, Frame, Mask
from ghostprep.picture.key.keyed import as_bytes, floats

_TEXTURED: Final = (85.0, 20.0)
"""Percentile of the gradient, and codes a pixel, from which a place shows how it moves."""
_ENOUGH: Final = 50
"""Pixels that must be so."""
_ALIKE: Final = 0.5
"""Pixels within which two places moved alike."""
_AGREE: Final = 0.5
"""Part of the textured places that must have moved alike, for it to be the camera and not what it filmed."""
_MOVED: Final = 2.0
"""Codes by which wide patches of the backing differ from their mean over time, if the camera moves."""


class Shake(NamedTuple):
    """How a camera moved against its usual place."""

    moves: Floats
    """(n, 2): pixels right and down by which each picture's content lies off; 0 where nothing tells."""
    share: float
    """The usual length of a move, as a share of the picture's longer side."""


def find_shake(frames: Frame) -> Shake:
    """Find how the camera moved over glimpses (n, h, w, 3) of a clip, about 320 px on the longer side.

    Notes
    -----
    The median of the optical flow from the median over time, on its textured places: a figure is the smaller
    part of those. Flow: Kroeger et al., "Fast optical flow using dense inverse search", ECCV 2016.
    """
    usual = _grey(as_bytes(np.median(frames, axis=0).astype(np.uint8)))
    gradient = cv2.magnitude(cv2.Sobel(usual, cv2.CV_32F, 1, 0), cv2.Sobel(usual, cv2.CV_32F, 0, 1))
    textured = gradient > max(float(np.percentile(gradient, _TEXTURED[0])), _TEXTURED[1])
    moves = np.zeros((len(frames), 2), np.float32)
    if np.count_nonzero(textured) < _ENOUGH:
        return Shake(moves, 0.0)
    flow = cv2.DISOpticalFlow.create(cv2.DISOPTICAL_FLOW_PRESET_MEDIUM)
    agree = []
    for move, frame in zip(moves, frames, strict=True):
        there = flow.calc(usual, _grey(frame), np.zeros((*usual.shape, 2), np.float32))[textured]
        move[:] = np.median(there, axis=0)
        agree.append(float((np.linalg.norm(there - move, axis=1) < _ALIKE).mean()))
    if float(np.median(agree)) < _AGREE:
        return Shake(np.zeros_like(moves), 0.0)
    usually = float(np.median(np.linalg.norm(moves, axis=1)))
    return Shake(moves, usually / max(usual.shape))


def steadied(frames: Frame, shake: Shake) -> Frame:
    """Return frames (n, h, w, 3) moved back to their usual place; their size is that of `find_shake`."""
    size, flags = frames.shape[2:0:-1], cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    ways = (np.array([[1, 0, x], [0, 1, y]], np.float32) for x, y in shake.moves)
    back = [
        cv2.warpAffine(frame, way, size, flags=flags, borderMode=cv2.BORDER_REPLICATE)
        for frame, way in zip(frames, ways, strict=True)
    ]
    return as_bytes(back)


def _grey(frame: Frame) -> Frame:
    return as_bytes(cv2.cvtColor(frame, cv2.COLOR_RGB2GRAY))


def backing_moves(frames: Frame, first: Mask) -> bool:
    """Tell whether the backing's shading moves against the frame.

    Parameters
    ----------
    frames : ndarray of uint8 (n, h, w, 3)
    first : ndarray of bool (n, h, w)
        Where the backing is seen.
    """
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (7, 7))
    seen: list[tuple[Floats, Floats, float]] = []
    for frame, mask in zip(frames, first, strict=True):
        weight = floats(cv2.erode(mask.astype(np.uint8), disc))
        luma = floats(cv2.cvtColor(frame, cv2.COLOR_RGB2GRAY))
        middle = float((luma * weight).sum() / max(weight.sum(), 1))
        if weight.sum() > 50 and middle > 1:
            seen.append((luma, weight, middle))
    if len(seen) < 2:
        return False
    weights, middles = np.stack([weight for _, weight, _ in seen]), np.array([middle for *_, middle in seen])
    # a change of exposure is no move: bring all frames to one mean
    scale = floats(np.median(middles) / middles)
    lumas = np.stack([luma for luma, *_ in seen]) * scale[:, None, None]
    mean = (lumas * weights).sum(0) / np.maximum(weights.sum(0), 1e-3)
    apart = []
    for luma, weight in zip(lumas, weights, strict=True):
        patch = cv2.blur((luma - mean) * weight, (9, 9)) / np.maximum(cv2.blur(weight, (9, 9)), 0.05)
        # the median: a veil or cloth of the backing's hue passes for backing here
        apart.append(float(np.median(np.abs(patch[weight > 0]))))
    return float(np.median(apart)) > _MOVED
