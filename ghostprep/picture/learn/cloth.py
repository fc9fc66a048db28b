"""What each colour of the figure is taken for, by its folds or as told: solid cloth, a veil, hair.

What lights a cloth changes along its own hue. Where the cloth is solid, that is the line from black through
its colour. Where it is thin, the line starts at the share of the backing that comes through: the folds of a
veil tell its hue and its share, without any solid part of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from ghostprep.arrays import Floats
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.keyed import floats, to_codes
from ghostprep.picture.key.palette import Palette
from ghostprep.picture.key.swatch import Swatch
from ghostprep.picture.learn.colour import Colour
from ghostprep.picture.learn.detect import as_hex, from_hex
from ghostprep.picture.learn.folds import unit
from ghostprep.picture.learn.lamp import LampGlow
from ghostprep.transfer import rounded

_WHOLE = 0.55
"""Share of a cloth's pixels that lie well within it. Edges and hair have many colours close together."""
SOLID = 0.15
"""Share of the backing's own hue up to which a colour may be a cloth's."""
_FOREIGN, _VARIED = -0.2, 0.14
"""The same up to which, and how far its light varies from which, a colour that others make thinly is cloth of
its own: brown fur beside a red scarf. The scarf's thin end is as brown, but of one light."""
_ALIKE = 0.1
"""Radians between the hues of two colours of one cloth, where it was told or is shown."""
_TOLD = 100
"""How much more a cloth counts that somebody told than what else may explain its colour."""
_THINNEST = 0.95
"""Share of the backing that shows through a veil that was told, at most."""


class Cloth(NamedTuple):
    """A colour of the figure as it is taken."""

    colour: Colour
    hue: Floats
    """(3,): direction of its own light."""
    through: float
    """Share of the backing that shows where it was seen."""
    sure: bool = True
    """Whether its folds, or its hue, leave no doubt of it, or somebody told."""
    told: bool = False
    """Whether somebody told."""

    @property
    def expected(self) -> tuple[float, float]:
        """How much of it is expected to be solid, and thin, in pixels of the glimpses."""
        seen, told = self.colour.inside, self.colour.inside * (_TOLD if self.told else 1)
        return (told, seen) if self.through == 0 else (seen, told)


@dataclass(frozen=True, eq=False)
class ToldCloths:
    """The hues (3,) of cloths that somebody told, by their colours ``#rrggbb``."""

    solid: Mapping[str, Floats] = field(default_factory=dict)
    sheer: Mapping[str, Floats] = field(default_factory=dict)
    """Those that the backing is seen through."""

    @classmethod
    def of(cls, solid: Iterable[str], sheer: Iterable[str], curve: Curve) -> ToldCloths:
        """Return them by the cloths' own colours."""

        def hue(colour: str) -> Floats:
            return unit(curve.amounts(to_codes(from_hex(colour))[None, None])[0, 0])

        return cls({colour: hue(colour) for colour in solid}, {colour: hue(colour) for colour in sheer})

    def cloth(self, colour: Colour) -> Cloth | None:
        """Return the told cloth that a colour is of."""
        if any(_is_of(colour, hue) for hue in self.solid.values()):
            return Cloth(colour, colour.hue, 0, told=True)
        for hue in self.sheer.values():
            if colour.is_made_of(hue):
                return Cloth(colour, hue, min(colour.made_of(hue)[1], _THINNEST), told=True)
        return None

    def missed(self, colours: Sequence[Colour]) -> list[str]:
        """Return those told that no colour of the figure is of."""
        solid = [name for name, hue in self.solid.items() if not any(_is_of(one, hue) for one in colours)]
        sheer = [name for name, hue in self.sheer.items() if not any(one.is_made_of(hue) for one in colours)]
        return solid + sheer


def _is_of(colour: Colour, hue: Floats) -> bool:
    """Return whether a colour is that of a solid cloth."""
    return bool(np.linalg.norm(hue - colour.hue) < _ALIKE)


def cloths_of(colours: Sequence[Colour], axis: HueAxis, told: ToldCloths) -> list[Cloth]:
    """Return the cloths: those told, veils by their folds, solid ones, and what they do not make thinly."""
    found = [cloth for colour in colours if (cloth := told.cloth(colour)) is not None]
    known = {cloth.colour for cloth in found}
    colours = [colour for colour in colours if colour not in known]
    showing = {colour: colour.showing(axis) for colour in colours}
    whole = [colour for colour in colours if colour.compact > _WHOLE and showing[colour] <= SOLID]
    thin: list[Colour] = []
    for colour in colours:
        folds, made = colour.told, colour.is_made_of_more(whole)
        if folds.tell_a_veil and not (made and showing[colour] > SOLID):
            found.append(Cloth(colour, colour.without(folds.share), folds.share, sure=False))
        elif colour in whole and (folds.tell_solid or not made):
            sure = folds.are_surely_solid or showing[colour] <= 0
            found.append(Cloth(colour, colour.hue, 0, sure))
        else:
            thin.append(colour)
    for colour in sorted(thin, key=showing.__getitem__):
        made = any(colour.is_made_of(cloth.hue) for cloth in found)
        hue = colour.without(max(showing[colour], 0))
        if hue.any() and (not made or (showing[colour] < _FOREIGN and colour.varied > _VARIED)):
            found.append(Cloth(colour, hue, 0))
    return found


def palette_of(cloths: Sequence[Cloth], glow: LampGlow | None = None) -> Palette:
    """Return the palette of cloths, grey alone where there are none, with a lamp's glow as one hue more."""
    rows = [(cloth.hue, cloth.colour.brightest, cloth.through, *cloth.expected) for cloth in cloths]
    rows = rows or [(unit(np.ones(3, np.float32)), 255, 0, 1, 1)]
    if glow is not None:
        rows.append((glow.hue, glow.brightest, 1, 0, glow.pixels))
    hues, brightest, through, solid, thin = (floats(np.array(column)) for column in zip(*rows, strict=True))
    whole = sum(cloth.colour.inside for cloth in cloths) or 1
    return Palette(hues, brightest, through, floats(solid / whole), floats(thin / whole))


def swatches_of(cloths: Sequence[Cloth], curve: Curve) -> tuple[Swatch, ...]:
    """Return what the cloths look like in the clip, the largest first; those of nearly one hue are one."""
    total = sum(cloth.colour.inside for cloth in cloths)
    heaps: list[list[Cloth]] = []
    for cloth in sorted(cloths, key=lambda cloth: -cloth.colour.inside):
        first = next((heap for heap in heaps if _are_one(heap[0], cloth)), None)
        if first is None:
            heaps.append([cloth])
        else:
            first.append(cloth)
    return tuple(
        Swatch(
            as_hex(rounded(curve.figure(floats(heap[0].colour.light / heap[0].colour.inside)))),
            sum(cloth.colour.inside for cloth in heap) / total,
            float(np.average([cloth.through for cloth in heap], weights=[c.colour.inside for c in heap])),
            heap[0].sure,
        )
        for heap in heaps
    )


def _are_one(one: Cloth, other: Cloth) -> bool:
    return _is_of(one.colour, other.colour.hue) and (one.through > 0) == (other.through > 0)
