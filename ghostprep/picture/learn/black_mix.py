"""Whether light was added to a lifted black in light, as in a camera, or in codes, as in most programs."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Doubles, Floats, Frame
from ghostprep.picture.key.keyed import floats
from ghostprep.transfer import from_linear, to_linear

_CELL = 4
"""Side of the cells whose mean is taken, pixels: two of half-resolution chroma."""
_FAINTEST, _STEPS = 10, 12
"""Codes of the faintest light that is asked, and steps of brightness from there to white."""
_FEW = 50
"""Cells from which a step counts."""
_LEVEL = 8.0
"""Codes by which the level may be off: light that never leaves hides it, and the bend itself tells it."""
_SURELY = 1.5
"""How many times better light must fit: most clips with a lifted black are programs' (no source)."""


def added_in_light(frames: Frame, level: Floats) -> bool:
    """Tell whether one colour of light, added in light, explains glimpses (n, h, w, 3) better than in codes.

    Light of one colour keeps the ratio of its channels from faint to bright. Taken off in the wrong space,
    the black bends that line. Grey light has no line to bend, and counts as codes.

    Parameters
    ----------
    frames : ndarray of uint8 (n, h, w, 3)
    level : ndarray of float32 (h, w, 3)
        The black, R'G'B' codes.
    """
    if float(level.max()) < 1:
        return False
    size = max(level.shape[1] // _CELL, 1), max(level.shape[0] // _CELL, 1)
    seen = np.concatenate([_means(f, size) for f in frames])
    black = np.tile(_means(level, size), (len(frames), 1))
    high = (seen - black).max(-1)
    asked = (high > _FAINTEST) & (seen.max(-1) < 250)
    steps = np.digitize(high, np.geomspace(_FAINTEST, 255, _STEPS)) * asked
    kept = [steps == k for k in range(1, _STEPS) if (steps == k).sum() >= _FEW]
    if len(kept) < 4:
        return False
    seen, black = (np.stack([values[k].mean(0) for k in kept]) for values in (seen, black))
    painted, in_codes, in_light = (_misfit(seen, black, mix) for mix in _MIXES)
    return min(painted, in_codes) > _SURELY * in_light


def _means(picture: npt.NDArray[np.generic], size: tuple[int, int]) -> Doubles:
    return np.float64(cv2.resize(floats(picture), size, interpolation=cv2.INTER_AREA)).reshape(-1, 3)


def _light(codes: Doubles) -> Doubles:
    return np.asarray(to_linear(codes / 255), np.float64)


def _codes(light: Doubles) -> Doubles:
    return np.asarray(from_linear(light), np.float64) * 255


class _Mix(NamedTuple):
    """How an amount of one colour (n, 3), 0..1, shows over a black (n, 3), codes; and the way back."""

    shown: Callable[[Doubles, Doubles], Doubles]
    amount: Callable[[Doubles, Doubles], Doubles]


_MIXES = (
    _Mix(lambda add, black: 255 * add + black, lambda seen, black: (seen - black) / 255),
    _Mix(lambda add, black: _codes(add) + black, lambda seen, black: _light(seen - black)),
    _Mix(lambda add, black: _codes(add + _light(black)), lambda seen, black: _light(seen) - _light(black)),
)
"""Painted and added in codes; lit, and added in codes; lit, and added in light."""


def _misfit(seen: Doubles, black: Doubles, mix: _Mix) -> float:
    """Return the mean square, codes, that one colour of light leaves of colours (n, 3) over a black (n, 3).

    The logarithm of one colour's light is a sum: one share for its strength, one for the channel. Each counts
    by the codes that it stands for, and an offset of the level is fitted with them: linear least squares.
    """
    count = len(seen)
    light = np.maximum(mix.amount(seen, black), 1e-5)
    codes = (mix.shown(1.001 * light, black) - mix.shown(0.999 * light, black)) / 0.002 / np.sqrt(count)
    strength = (np.eye(count)[:, None] * codes[..., None]).reshape(-1, count)
    channel = (np.eye(3) * codes[..., None]).reshape(-1, 3)
    offset = np.tile(np.eye(3) / np.sqrt(count), (count, 1))
    terms = np.block([[strength, channel, offset], [np.zeros((3, count + 3)), np.eye(3) / _LEVEL]])
    wanted = np.append(codes * np.log(light), np.zeros((1, 3)))
    rest = terms @ np.linalg.lstsq(terms, wanted, rcond=None)[0] - wanted
    return float(rest @ rest)
