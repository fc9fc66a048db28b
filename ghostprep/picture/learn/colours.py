"""The colours of a figure before a coloured backing, from glimpses, and what their folds tell."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Floats, Frame, Mask
from ghostprep.channels import largest_channel, squared
from ghostprep.parallel import in_order
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.keyed import floats, to_codes
from ghostprep.picture.key.palette import DARK
from ghostprep.picture.key.region import Region
from ghostprep.picture.learn.cloth import SOLID
from ghostprep.picture.learn.colour import Colour, inner
from ghostprep.picture.learn.even import EvenPlate
from ghostprep.picture.learn.folds import FoldReader, Folds, unit
from ghostprep.picture.learn.lamp import LampGlow, find_lamp_glow
from ghostprep.picture.learn.patches import Patches

_COLOURS, _SAMPLES = 24, 20_000
"""Colours that glimpses are parted into, and pixels that they are found by."""
_ONE = 0.015
"""Radians between two colours up to which they are one."""
_SOFT = 1.5
"""Pixels (sigma) over which a colour is averaged before it is named: noise has every hue."""
_FINE = 9
"""Pixels over which finer detail is summed up."""
_FEW, _FEW_OF = 30, 0.002
"""Pixels well within a colour that it needs, and the share of the figure's."""
_LEAST = 4.0
"""Codes from the plate, averaged a little, from which there is something whatever the noise."""


class Colours(NamedTuple):
    """The figure's colours, and a lamp's glow."""

    found: list[Colour]
    glow: LampGlow | None = None


def find_colours(frames: Frame, backing: EvenPlate, axis: HueAxis, curve: Curve) -> Colours:
    """Find the colours of the figure that glimpses show.

    Parameters
    ----------
    frames : ndarray of uint8 (n, h, w, 3)
        Black where nothing counts.
    backing : EvenPlate
        Its plate and noise.
    axis : HueAxis
        The backing's hue among amounts.
    curve : Curve
        How figure and backing were mixed.

    Returns
    -------
    Colours
        No colour where the glimpses show no figure.

    References
    ----------
    .. [1] Omer, Werman, "Color lines: image specific color representation", CVPR 2004: a cloth's pixels
       lie on a line.
    """
    size = (frames.shape[2], frames.shape[1])
    plate = cv2.resize(backing.plate, size, interpolation=cv2.INTER_LINEAR)
    back = curve.amounts(to_codes(plate))
    lights = [curve.amounts(frame) for frame in frames]
    least = max(3 * backing.noise, _LEAST)
    there = [
        inner(cv2.blur(largest_channel(floats(cv2.absdiff(floats(frame), plate))), (3, 3)) > least)
        & (largest_channel(frame) > 0)
        for frame in frames
    ]
    place = Region.around(np.any(there, axis=0))
    if place is None:
        return Colours([])
    back, *lights = (np.ascontiguousarray(x[place.cut]) for x in (back, *lights))
    there = [x[place.cut] for x in there]
    soft = [floats(cv2.GaussianBlur(light, (0, 0), _SOFT)) for light in lights]
    centres = _centres(soft, there)
    if not len(centres):
        return Colours([])

    read_folds = FoldReader(axis, SOLID, curve, backing.noise)

    def parted(frame: int) -> tuple[npt.NDArray[np.int64], list[tuple[int, Folds]]]:
        smooth = soft[frame]
        bright = there[frame] & (squared(smooth) > DARK**2)
        patches = Patches.of(smooth, bright, curve)
        # a cloth's light leads a veil through many colours: a patch has the name of its mean
        names = (patches.light @ centres.T).argmax(-1)
        which = patches.spread(names, np.where(bright, (smooth @ centres.T).argmax(-1), -1))
        fine = floats(cv2.blur(squared(lights[frame] - smooth), (_FINE, _FINE)))
        folds = [read_folds(smooth[box], back[box], fine[box], here) for box, here in patches]
        return which, [*zip(names.tolist(), folds, strict=True)]

    def summed(k: int) -> Colour:
        colour = Colour()
        for light, (which, folds) in zip(lights, parts, strict=True):
            colour.add(light, back, which == k)
            colour.folds += [of_one for name, of_one in folds if name == k]
        return colour

    parts = [parted(frame) for frame in range(len(frames))]
    colours = list(in_order(summed, range(len(centres))))
    enough = max(_FEW, _FEW_OF * sum(colour.inside for colour in colours))
    found = [colour for colour in colours if colour.inside >= enough]
    return Colours(found, find_lamp_glow(lights, back, least, curve))


def _centres(lights: Sequence[Floats], there: Sequence[Mask]) -> Floats:
    """Return the directions (k, 3) around which the figure's colours lie."""
    seen = np.concatenate([light[some] for light, some in zip(lights, there, strict=True)])
    seen = seen[squared(seen) > DARK**2]
    seen = seen[:: max(len(seen) // _SAMPLES, 1)]
    if len(seen) < _COLOURS:
        return np.zeros((0, 3), np.float32)
    ends = (cv2.TERM_CRITERIA_MAX_ITER + cv2.TERM_CRITERIA_EPS, 25, 1e-4)
    cv2.setRNGSeed(0)
    first = np.zeros((len(seen), 1), np.int32)
    _, which, centres = cv2.kmeans(unit(seen), _COLOURS, first, ends, 1, cv2.KMEANS_PP_CENTERS)
    return _apart(unit(floats(centres))[np.argsort(-np.bincount(which.ravel(), minlength=_COLOURS))])


def _apart(centres: Floats) -> Floats:
    """Return directions (k, 3) without those that are one with an earlier one: noise parts a flat colour."""
    kept: list[Floats] = []
    for centre in centres:
        if all(np.linalg.norm(centre - other) > _ONE for other in kept):
            kept.append(centre)
    return np.stack(kept)
