"""Tell a camera's clip from a drawn one: whether light added up at the figure's edge, or codes.

With figure colour F and backing B next to an edge, a pixel across it lies on the straight line from F to B
among codes if codes were mixed, and on a curve beside it if light was. Codecs blur both, and
keep chroma at half the detail, but what lies beside the line keeps its sum over a window across the edge.
"""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np

from ghostprep.arrays import Floats, Frame, Mask
from ghostprep.channels import largest_channel
from ghostprep.picture.key.backing import Mix
from ghostprep.picture.key.hue import HueAxis, luma_chroma
from ghostprep.picture.key.keyed import floats, to_codes
from ghostprep.transfer import from_linear, to_linear

_NEAR, _ALIKE = 21, 15.0
"""Pixels over which the figure's solid colour is taken to an edge, and codes by which it may vary there."""
_SOLID = 0.12
"""Share of the backing up to which a place is solid."""
_EDGE_CODES = 10
"""Codes of grey from the plate from which a place is worth a look."""
_EDGE, _APART = 15, 20.0
"""Pixels across which an edge is looked for, and codes by which figure and backing must differ there."""
_WINDOW, _STEP = 9, 3
"""Pixels of a window across an edge, and from one to the next."""
_UNKNOWN = 0.15
"""Share of a window that may be neither figure, nor backing, nor between two known colours."""
_SHARES = np.linspace(0, 1, 13, dtype=np.float32)
"""Coverages at which the curve is worked out."""
_OFF, _ROUNDS, _FEW = 2.0, 12, 20
"""Codes by which a window's mean may lie off for other reasons (folds, spill, codecs); rounds of the fit, and
windows that it needs."""
_CODES, _LIGHT = 0.05, 0.45
"""Leans of clips that were mixed in codes and in light, on draws: codecs pull both together, for what they
blur they mix in codes."""
_SPREAD, _DOUBT = 0.15, 0.15
"""By how much clips of one mix differ, and how much more where windows lie off as far as the curve does."""
_FILMED = 0.3
"""What noise or an uneven backing say for a camera, and else for a program, as a logarithm of odds."""
_RISK = 0.6
"""Odds, as a logarithm, from which light is believed: on draws, codes that were keyed as light cost twice as
much as light that was keyed as codes."""
_SURE = 0.5
"""Odds beyond those, as a logarithm, from which nothing is said."""


class MixGuess(NamedTuple):
    """How figure and backing were mixed."""

    mix: Mix
    """Light, as in a camera; codes, as in most programs."""
    lean: float
    """What the edges say: about 0 for codes, about 1 for light; NaN if they say nothing."""
    sure: bool
    """Whether the answer is clearly likelier than the other."""


def guess_mix(frames: Frame, plate: Floats, noise: float) -> MixGuess:
    """Guess the mix from edges, and from noise or an uneven backing, which speak for a camera.

    Parameters
    ----------
    frames : ndarray of uint8 (n, h, w, 3)
    plate : ndarray of float32 (h, w, 3)
        R'G'B' codes, of the same size.
    noise : float
        Sigma of the frames around the plate, codes.
    """
    seen, curve = np.concatenate([_windows(*_near(frame, plate), noise) for frame in frames]).swapaxes(0, 1)
    lean, doubt = _lean(seen, curve) if len(seen) >= _FEW else (float("nan"), 0.0)
    filmed = noise >= 1.2 or float(plate.std((0, 1)).max()) >= 2
    odds = (_FILMED if filmed else -_FILMED) + (0.0 if np.isnan(lean) else _odds(lean, doubt))
    return MixGuess("light" if odds > _RISK else "codes", lean, abs(odds - _RISK) > _SURE)


def _odds(lean: float, doubt: float) -> float:
    """Return the logarithm of how much likelier a lean is in light; leans are spread as Cauchy's."""
    codes, light = (((lean - mean) ** 2) / (_SPREAD**2 + doubt**2) for mean in (_CODES, _LIGHT))
    return float(np.log1p(codes) - np.log1p(light))


def _lean(seen: Floats, curve: Floats) -> tuple[float, float]:
    """Return the lean by which the curve (n, 3) fits what windows show (n, 3) best, and its doubt.

    Repeated weighted least squares; weights are those of Cauchy's distribution, for some windows lie.
    """
    weight, lean, off = np.ones(len(seen), np.float32), 0.0, np.zeros(len(seen), np.float32)
    length = (curve * curve).sum(1)
    for _ in range(_ROUNDS):
        lean = float(weight @ (seen * curve).sum(1)) / max(float(weight @ length), 1e-6)
        off = floats(((seen - lean * curve) ** 2).sum(1))
        weight = floats(1 / (1 + off / _OFF**2))
    return lean, _DOUBT * float(np.sqrt(np.median(off) / max(float(length.mean()), 1e-6)))


def _near(frame: Frame, plate: Floats) -> tuple[Floats, Floats]:
    """Return frame and plate, codes, around what is not the backing: all the rest tells nothing."""
    apart = cv2.medianBlur(cv2.cvtColor(cv2.absdiff(frame, to_codes(plate)), cv2.COLOR_RGB2GRAY), 5)
    x, y, w, h = cv2.boundingRect((apart > _EDGE_CODES).astype(np.uint8))
    cut = np.s_[max(y - _NEAR, 0) : y + h + _NEAR, max(x - _NEAR, 0) : x + w + _NEAR]
    return floats(frame[cut]), plate[cut]


def _windows(frame: Floats, plate: Floats, noise: float) -> Floats:
    """Return for windows (n) the mean (2, 3), in Y'CbCr, of what lies beside the line: frame, and curve."""
    rim, solid, known = _edges(frame, plate, noise)
    weight = cv2.blur(solid, (_NEAR, _NEAR))
    rim &= weight > 0.05
    own, square = (
        cv2.blur(x * solid[..., None], (_NEAR, _NEAR))[rim] / weight[rim][:, None]
        for x in (frame, frame * frame)
    )
    figure, behind, seen = (luma_chroma(x) for x in (own, plate[rim], frame[rim]))
    way = floats(figure - behind)
    length = (way * way).sum(1)
    told = ((square - own * own).max(1, initial=0) < _ALIKE**2) & (length > _APART**2)
    way = floats(way / np.sqrt(np.maximum(length, 1))[:, None])

    def beside(x: Floats) -> Floats:
        return floats(x - (x * way).sum(1)[:, None] * way)

    lit, dim = to_linear(floats(own) / 255), to_linear(plate[rim] / 255)
    nearest, curve = np.full(len(seen), np.inf, np.float32), np.zeros_like(seen)
    for share in _SHARES:
        bent = luma_chroma(from_linear(share * lit + (1 - share) * dim) * 255)
        off = ((seen - bent) ** 2).sum(1)
        curve = np.where((off < nearest)[:, None], bent, curve)
        nearest = np.minimum(nearest, off)
    rows = np.zeros((*rim.shape, 6), np.float32)
    rows[rim] = np.hstack([beside(floats(seen - behind)), beside(floats(curve - behind))]) * told[:, None]
    known[rim] = told
    used = rim & known & (cv2.blur(floats(known), (_WINDOW, _WINDOW)) > 1 - _UNKNOWN)
    every = np.s_[::_STEP, ::_STEP]
    return floats(cv2.blur(rows, (_WINDOW, _WINDOW))[every][used[every]].reshape(-1, 2, 3))


def _edges(frame: Floats, plate: Floats, noise: float) -> tuple[Mask, Floats, Mask]:
    """Return what lies between solid figure and backing, the solid figure, and all but what is neither."""
    axis = HueAxis.of(plate.mean((0, 1)))
    share = axis.narrow(frame) / np.maximum(axis.strength(plate), 1)
    apart = cv2.blur(largest_channel(floats(cv2.absdiff(frame, plate))), (3, 3)) > max(4 * noise, 6)
    disc = np.ones((3, 3), np.uint8)
    solid = cv2.erode(((cv2.blur(share, (3, 3)) < _SOLID) & apart).astype(np.uint8), disc)
    backing = cv2.erode((~apart).astype(np.uint8), disc)
    rim = (solid == 0) & (backing == 0)
    near = cv2.dilate(backing, np.ones((_EDGE, _EDGE), np.uint8)) > 0
    return np.asarray(rim & near, np.bool_), floats(solid), np.asarray(~rim, np.bool_)
