"""The figure's hues, learned from glimpses: which of its colours are cloth, and which are seen through.

What lights a cloth changes along its own hue. Where the cloth is solid, that is the line from black through
its colour. Where it is thin, the line starts at the share of the backing that comes through: the folds of a
veil tell its hue and its share, without any solid part of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Floats, Frame, Mask
from ghostprep.channels import largest_channel
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.keyed import floats, to_codes
from ghostprep.picture.key.palette import DARK, Palette
from ghostprep.picture.key.region import Region
from ghostprep.picture.learn.even import EvenPlate

_COLOURS, _SAMPLES = 16, 20_000
"""Colours that glimpses are parted into, and pixels that they are found by."""
_FOLDS = (0.8, 1.5, 3.0)
"""Sizes (sigma, pixels) at which folds are looked at; each against what is four times as wide."""
_SOFT = 1.5
"""Pixels (sigma) over which a colour is averaged before it is named: noise has every hue."""
_FEW, _FEW_OF = 30, 0.002
"""Pixels well within a colour that it needs, and the share of the figure's."""
_LEAST = 4.0
"""Codes from the plate, averaged a little, from which there is something whatever the noise."""
_WHOLE, _PARTLY = 0.5, 0.2
"""Share of a colour's pixels that lie well within it: in cloth, and at least in a veil, before which hair may
hang. Edges and hair have many colours close together."""
_CLEAR, _ON, _AGREE = 2.5, 0.09, 0.2
"""Least ratio of folds to what lies across them; how far off the plane of hue and backing a veil may lie, as
a share of its light; and how nearly its folds of all sizes must tell one share. A lamp's light on cloth is
no fold: what it tells changes with the size."""
_THIN, _MOST = 0.2, 0.95
"""Shares of the backing from which folds tell a veil, twice what codecs make of solid cloth, and up to which:
what is all backing is an edge."""
_SPILL = 0.04
"""Share of the backing's light up to which its hue on a cloth is spill; beyond, it is the cloth's own."""
_SOLID = 0.15
"""Share of the backing's own hue up to which a colour may be a cloth's."""
_SELDOM = 0.15
"""Weight of a colour that is nowhere whole: a hair's."""
_MADE, _MUCH = 0.07, 0.1
"""How far off the plane a colour may lie that another and the backing make, and the share of the backing that
they need for it."""


@dataclass(eq=False)
class _Colour:
    """What glimpses tell of one colour: of pixels well inside it, sums of light, backing and folds."""

    pixels: int = 0
    inside: int = 0
    """Those of them that lie well within it."""
    light: Floats = field(default_factory=lambda: np.zeros(3, np.float32))
    plate: Floats = field(default_factory=lambda: np.zeros(3, np.float32))
    folds: list[npt.NDArray[np.float64]] = field(default_factory=lambda: [np.zeros((3, 3)) for _ in _FOLDS])
    lengths: list[Floats] = field(default_factory=list)

    @cached_property
    def hue(self) -> Floats:
        return _unit(self.light)

    @property
    def brightest(self) -> float:
        return float(np.percentile(np.concatenate(self.lengths), 95))

    @property
    def compact(self) -> float:
        """How far it lies in one piece: little in hair and at edges."""
        return self.inside / max(self.pixels, 1)


def find_palette(frames: Frame, backing: EvenPlate, axis: HueAxis, curve: Curve) -> Palette:
    """Find the hues of the figure that glimpses show.

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
    Palette
        Grey alone where the glimpses show no figure.

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
        _inner(cv2.blur(largest_channel(floats(cv2.absdiff(floats(frame), plate))), (3, 3)) > least)
        & frame.any(-1)
        for frame in frames
    ]
    place = Region.around(np.any(there, axis=0))
    if place is None:
        return _palette([], axis)
    back, lights, there = back[place.cut], [x[place.cut] for x in lights], [x[place.cut] for x in there]
    soft = [floats(cv2.GaussianBlur(light, (0, 0), _SOFT)) for light in lights]
    centres = _centres(soft, there)
    if not len(centres):
        return _palette([], axis)
    colours = [_Colour() for _ in centres]
    for light, smooth, some in zip(lights, soft, there, strict=True):
        which = np.where(some & ((smooth**2).sum(-1) > DARK**2), (smooth @ centres.T).argmax(-1), -1)
        for k, colour in enumerate(colours):
            _add(colour, light, back, (which == k).astype(np.uint8))
    enough = max(_FEW, _FEW_OF * sum(colour.inside for colour in colours))
    return _palette([colour for colour in colours if colour.inside >= enough], axis)


def _inner(there: Mask) -> Mask:
    """Return it without single pixels, which are noise."""
    return np.asarray(cv2.medianBlur(there.astype(np.uint8), 5) > 0, np.bool_)


def _centres(lights: Sequence[Floats], there: Sequence[Mask]) -> Floats:
    """Return the directions (k, 3) around which the figure's colours lie."""
    seen = np.concatenate([light[some] for light, some in zip(lights, there, strict=True)])
    seen = seen[(seen**2).sum(1) > DARK**2]
    seen = seen[:: max(len(seen) // _SAMPLES, 1)]
    if len(seen) < _COLOURS:
        return np.zeros((0, 3), np.float32)
    ends = (cv2.TERM_CRITERIA_MAX_ITER + cv2.TERM_CRITERIA_EPS, 25, 1e-4)
    cv2.setRNGSeed(0)
    first = np.zeros((len(seen), 1), np.int32)
    _, _, centres = cv2.kmeans(_unit(seen), _COLOURS, first, ends, 1, cv2.KMEANS_PP_CENTERS)
    return _unit(floats(centres))


def _add(colour: _Colour, light: Floats, back: Floats, here: Frame) -> None:
    """Add what one frame shows of a colour, where `here` (h, w) is 1; folds are looked at within it."""
    colour.pixels += cv2.countNonZero(here)
    steady = cv2.medianBlur(here, 5)
    x, y, w, h = cv2.boundingRect(steady)
    if not w:
        return
    cut = np.s_[y : y + h, x : x + w]
    mask = steady[cut]
    inside = cv2.erode(mask, np.ones((3, 3), np.uint8)) > 0
    if not inside.any():
        return
    weight = mask.astype(np.float32)
    masked = light[cut] * weight[..., None]

    def mean(sigma: float) -> Floats:
        mass = np.maximum(cv2.GaussianBlur(weight, (0, 0), sigma), 1e-3)
        return floats(cv2.GaussianBlur(masked, (0, 0), sigma)[inside] / mass[inside][:, None])

    for j, sigma in enumerate(_FOLDS):
        fold = mean(sigma) - mean(4 * sigma)
        colour.folds[j] += fold.T @ fold
    colour.inside += int(inside.sum())
    colour.light += light[cut][inside].sum(0)
    colour.plate += back[cut][inside].sum(0)
    colour.lengths.append(np.linalg.norm(light[cut][inside], axis=1))


def _palette(colours: Sequence[_Colour], axis: HueAxis) -> Palette:
    """Return the hues: of cloth, of veils by their folds, and of hair that nothing else makes."""
    rows: list[tuple[Floats, float, float, float]] = []
    cloths = [colour for colour in colours if colour.compact > _WHOLE and not _like_backing(colour, axis)]
    thin: list[_Colour] = []
    for colour in colours:
        folds = _folds(colour)
        if folds.tell_a_veil and colour.compact > _PARTLY and axis.narrow(folds.hue) <= 0:
            rows.append((folds.hue, colour.inside, colour.brightest, folds.share))
        elif colour in cloths and (folds.tell_solid or not _made_of_more(colour, cloths)):
            rows.append((_without_spill(colour, axis), colour.inside, colour.brightest, 0))
        elif not _like_backing(colour, axis):
            thin.append(colour)
    hues = [row[0] for row in rows] + [colour.hue for colour in thin]
    for colour in thin:
        if not any(_makes(hue, colour) for hue in hues if hue is not colour.hue):
            rows.append((colour.hue, _SELDOM * colour.inside, colour.brightest, 0))
    if not rows:
        rows = [(_unit(np.ones(3, np.float32)), 1, 255, 0)]
    found, weight, brightest, through = (floats(np.array(column)) for column in zip(*rows, strict=True))
    return Palette(found, floats(weight / weight.sum()), brightest, through)


class _Folds(NamedTuple):
    """What the folds of a colour tell."""

    hue: Floats
    shares: tuple[float, ...]
    """Of the backing, by folds of each size."""
    clear: float
    """How much larger they are along their hue than across it."""
    off: float
    """How far the colour lies off the plane of that hue and the backing, as a share of its light."""

    @property
    def share(self) -> float:
        return self.shares[len(self.shares) // 2]

    @property
    def tell_a_veil(self) -> bool:
        told = self.clear > _CLEAR and self.off < _ON and max(self.shares) - min(self.shares) < _AGREE
        return told and min(self.shares) > _THIN and max(self.shares) < _MOST

    @property
    def tell_solid(self) -> bool:
        return self.clear > _CLEAR and max(self.shares) < _THIN


def _folds(colour: _Colour) -> _Folds:
    light, plate = floats(colour.light / colour.inside), floats(colour.plate / colour.inside)
    shares, hue, clear, off = [], colour.hue, 0.0, 1.0
    for j, folds in enumerate(colour.folds):
        power, ways = np.linalg.eigh(folds)
        way = floats(ways[:, 2] * np.sign(ways[:, 2] @ light))
        lit, through = _parts(way, plate, light)
        shares.append(through)
        if j == len(_FOLDS) // 2:
            clear = float(np.sqrt(max(power[2], 0) / max(power[1], 1e-9)))
            off = float(np.linalg.norm(lit * way + through * plate - light) / np.linalg.norm(light))
            hue = _unit(floats(np.maximum(way, 0)))
    return _Folds(hue, tuple(shares), clear, off)


def _without_spill(colour: _Colour, axis: HueAxis) -> Floats:
    """Return a cloth's hue without the backing's, where that is no more than spill."""
    share = axis.strength(colour.light) / axis.strength(colour.plate)
    return _unit(floats(colour.light - share * colour.plate)) if 0 < share < _SPILL else colour.hue


def _like_backing(colour: _Colour, axis: HueAxis) -> bool:
    return bool(axis.narrow(colour.light) > _SOLID * max(float(axis.narrow(colour.plate)), 1e-3))


def _made_of_more(colour: _Colour, cloths: Sequence[_Colour]) -> bool:
    """Return whether there is more of a cloth that makes a colour, thin before the backing."""
    return any(_makes(cloth.hue, colour) for cloth in cloths if cloth.inside > colour.inside)


def _makes(hue: Floats, colour: _Colour) -> bool:
    """Return whether a hue and the backing together make a colour."""
    lit, through = _parts(hue, colour.plate, colour.light)
    off = np.linalg.norm(lit * hue + through * colour.plate - colour.light) / np.linalg.norm(colour.light)
    return bool(lit > 0 and through > _MUCH and off < _MADE)


def _parts(hue: Floats, plate: Floats, light: Floats) -> tuple[float, float]:
    """Return u and v of ``light = u hue + v plate`` by least squares."""
    lit, through = np.linalg.lstsq(np.stack([hue, plate], 1), light, rcond=None)[0]
    return float(lit), float(through)


def _unit(x: Floats) -> Floats:
    return floats(x / np.maximum(np.linalg.norm(x, axis=-1, keepdims=True), 1e-6))
