"""The figure's hues, learned from glimpses: which of its colours are cloth, and which are seen through.

What lights a cloth changes along its own hue. Where the cloth is solid, that is the line from black through
its colour. Where it is thin, the line starts at the share of the backing that comes through: the folds of a
veil tell its hue and its share, without any solid part of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Floats, Frame, Mask
from ghostprep.channels import largest_channel, squared
from ghostprep.parallel import in_order
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.keyed import as_bytes, floats, to_codes
from ghostprep.picture.key.palette import DARK, Palette
from ghostprep.picture.key.region import Region
from ghostprep.picture.learn.even import EvenPlate
from ghostprep.picture.learn.folds import FoldReader, Folds, Told, together, unit
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
_WHOLE = 0.55
"""Share of a cloth's pixels that lie well within it. Edges and hair have many colours close together."""
_SOLID = 0.15
"""Share of the backing's own hue up to which a colour may be a cloth's."""
_SELDOM = 0.15
"""Weight of a colour that is nowhere whole: a hair's."""
_MADE, _MUCH = 0.07, 0.1
"""How far off the plane a colour may lie that another and the backing make, and the share of the backing that
they need for it."""


@dataclass(eq=False)
class _Colour:
    """What glimpses tell of one colour: of pixels well inside it, sums of light and backing; its folds."""

    pixels: int = 0
    inside: int = 0
    """Those of them that lie well within it."""
    light: Floats = field(default_factory=lambda: np.zeros(3, np.float32))
    plate: Floats = field(default_factory=lambda: np.zeros(3, np.float32))
    folds: list[Folds] = field(default_factory=list)
    lengths: list[Floats] = field(default_factory=list)

    @cached_property
    def hue(self) -> Floats:
        return unit(self.light)

    def add(self, light: Floats, back: Floats, here: Mask) -> None:
        """Add what one frame shows of it `here` (h, w)."""
        at = np.flatnonzero(_well_within(here))
        lit = light.reshape(-1, 3).take(at, 0)
        self.pixels += int(np.count_nonzero(here))
        self.inside += len(at)
        self.light += lit.sum(0)
        self.plate += back.reshape(-1, 3).take(at, 0).sum(0)
        self.lengths.append(np.sqrt(squared(lit)))

    def without(self, share: float) -> Floats:
        """Return the hue that is left where a share of the backing shows."""
        return unit(floats(np.maximum(self.light - share * self.plate, 0)))

    @property
    def brightest(self) -> float:
        return float(np.percentile(np.concatenate(self.lengths), 95))

    @property
    def compact(self) -> float:
        """How far it lies in one piece: little in hair and at edges."""
        return self.inside / max(self.pixels, 1)

    @cached_property
    def told(self) -> Told:
        """What its folds tell."""
        return together(self.folds)


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
        & (largest_channel(frame) > 0)
        for frame in frames
    ]
    place = Region.around(np.any(there, axis=0))
    if place is None:
        return _palette([], axis)
    back, *lights = (np.ascontiguousarray(x[place.cut]) for x in (back, *lights))
    there = [x[place.cut] for x in there]
    soft = [floats(cv2.GaussianBlur(light, (0, 0), _SOFT)) for light in lights]
    centres = _centres(soft, there)
    if not len(centres):
        return _palette([], axis)

    read_folds = FoldReader(axis, _SOLID, curve, backing.noise)

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

    def told(k: int) -> _Colour:
        colour = _Colour()
        for light, (which, folds) in zip(lights, parts, strict=True):
            colour.add(light, back, which == k)
            colour.folds += [of_one for name, of_one in folds if name == k]
        return colour

    parts = list(in_order(parted, range(len(frames))))
    colours = list(in_order(told, range(len(centres))))
    enough = max(_FEW, _FEW_OF * sum(colour.inside for colour in colours))
    palette = _palette([colour for colour in colours if colour.inside >= enough], axis)
    return _with_glow(palette, find_lamp_glow(lights, back, least, curve))


def _inner(there: Mask) -> Mask:
    """Return it without single pixels, which are noise."""
    return np.asarray(cv2.medianBlur(there.astype(np.uint8), 5) > 0, np.bool_)


def _well_within(there: Mask) -> Frame:
    """Return what lies well within a place, without specks and a pixel of rim; 1 there, 0 elsewhere."""
    return as_bytes(cv2.erode(_inner(there).view(np.uint8), np.ones((3, 3), np.uint8)))


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


def _palette(colours: Sequence[_Colour], axis: HueAxis) -> Palette:
    """Return the hues: of cloth, of veils by their folds, and of hair that nothing else makes."""
    rows: list[tuple[Floats, float, float, float]] = []
    showing = {colour: _showing(colour, axis) for colour in colours}
    cloths = [colour for colour in colours if colour.compact > _WHOLE and showing[colour] <= _SOLID]
    thin: list[_Colour] = []
    for colour in colours:
        told, made = colour.told, _made_of_more(colour, cloths)
        if told.tell_a_veil and not (made and showing[colour] > _SOLID):
            rows.append((colour.without(told.share), colour.inside, colour.brightest, told.share))
        elif colour in cloths and (told.tell_solid or not made):
            rows.append((colour.hue, colour.inside, colour.brightest, 0))
        else:
            thin.append(colour)
    for colour in sorted(thin, key=showing.__getitem__):
        if not any(_makes(row[0], colour) for row in rows):
            hue = colour.without(max(showing[colour], 0))
            if hue.any():
                rows.append((hue, _SELDOM * colour.inside, colour.brightest, 0))
    if not rows:
        rows = [(unit(np.ones(3, np.float32)), 1, 255, 0)]
    found, weight, brightest, through = (floats(np.array(column)) for column in zip(*rows, strict=True))
    return Palette(found, floats(weight / weight.sum()), brightest, through)


def _with_glow(palette: Palette, glow: LampGlow | None) -> Palette:
    """Return a palette with a lamp's glow as one hue more."""
    if glow is None:
        return palette
    rows = [
        np.concatenate([column, [value]])
        for column, value in zip(palette, (glow.hue, glow.share, glow.brightest, 1), strict=True)
    ]
    return Palette(*map(floats, rows))


def _showing(colour: _Colour, axis: HueAxis) -> float:
    """Return the share of the backing's own hue that a colour shows; below 0 for foreign hues."""
    return float(axis.narrow(colour.light) / max(float(axis.narrow(colour.plate)), 1e-3))


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
