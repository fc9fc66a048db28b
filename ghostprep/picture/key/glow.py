"""A lamp's glow before an even backing: light that the figure adds and that covers next to nothing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

import cv2
import numpy as np

from ghostprep.arrays import Figure, Floats, Frame
from ghostprep.channels import dot, largest_channel
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.keyed import as_bytes, floats
from ghostprep.picture.key.region import Region, shrunk
from ghostprep.transfer import CODE

_SHRINK: Final = 4
"""A glow has no detail, so it is looked for on a picture this much smaller."""

_SMOOTH: Final = 3
"""Small pixels over which it is averaged, for the backing's noise has detail."""

_CARRY: Final = 7
"""Small pixels around, from which it is guessed behind the figure's rim; a rim is a few pixels wide."""

_GUESS: Final = 0.01
"""Weight of that guess beside what is seen."""

_SEEN: Final = 2.0
"""Codes by which the smoothed frame must exceed the plate; codec and noise reach about a quarter of it."""

_WHOLE: Final = 2.0
"""A glow is whole where it exceeds `_SEEN` by this many times `_SEEN`: cut off, it would end in a circle."""

_FAINT: Final = 3.0
"""Codes up to which it is left out, and from four times as many whole: its last traces light no scene, but
cost an encoder as much as a face does."""

_REACH: Final = 0.25
"""How far from the figure a glow may lie, as a share of the height: farther, it is the backing's own."""


_OWN: Final = 0.97
"""Cosine of the angle between two colours of light from which they count as one."""


@dataclass(frozen=True, eq=False)
class GlowPlate:
    """The plate on the small picture."""

    light: Floats
    """(h, w, 3): amounts of the mix, 0..255."""
    code: Floats
    """(h, w, 3): 1 over the amount by which it rises with one code."""
    length: Floats
    """(h, w): length of the light as a vector."""

    @classmethod
    def of(cls, light: Floats, curve: Curve) -> GlowPlate:
        """Shrink a plate of amounts (h, w, 3)."""
        small = shrunk(light, _SHRINK)
        return cls(small, floats(1 / curve.a_code(small)), _length(small))


class Glow(NamedTuple):
    """Light that a figure adds to its bare backing."""

    place: Region
    """Where it lies in the frame."""
    light: Figure
    """(h, w, 3): what it is there, as a figure."""

    def onto(self, figure: Figure) -> None:
        """Light a figure (h, w, 3) up with it, in place: no pixel is darker than the glow before it."""
        there = figure[self.place.cut]
        np.maximum(there, self.light, out=there)


def find_glow(
    light: Floats, plate: GlowPlate, matte: Frame, shown: Floats, curve: Curve, *, within: Frame | None = None
) -> Glow | None:
    """Find the light that a figure adds to its bare backing; None for none.

    It is measured where the backing is bare, and carried on a little behind the figure's rim: what the key
    leaves of a rim is seen through, and a gap between a lamp and its glow would be black.

    Parameters
    ----------
    light : ndarray of float32 (h, w, 3)
        The frame, amounts of the mix, any size.
    plate : GlowPlate
    matte : ndarray of uint8 (h, w)
        The figure's coverage at full size, of sides that 4 divides.
    shown : ndarray of float32 (h, w)
        How much of the plate's light shows, at full size: below this frame's exposure where the glow is of
        mist, and covers a little.
    curve : Curve
    within : ndarray of uint8, optional
        1 where there is backing, at the plate's size here; everywhere if left out.
    """
    size = plate.light.shape[1::-1]
    if light.shape != plate.light.shape:
        light = floats(cv2.resize(light, size, interpolation=cv2.INTER_AREA))
    cover = as_bytes(cv2.resize(matte, size, interpolation=cv2.INTER_AREA))
    bare = ((cover == 0) if within is None else (cover < within)).astype(np.float32)
    behind = cv2.resize(shown, size, interpolation=cv2.INTER_AREA)
    more = cv2.subtract(light, cv2.multiply(plate.light, cv2.merge((behind,) * 3)))
    more = cv2.multiply(more, cv2.merge((bare,) * 3), dst=more)
    smooth = _carried(floats(more), bare)
    strength = largest_channel(floats(cv2.multiply(smooth, plate.code, dst=more)))
    if within is not None:
        np.multiply(strength, within, out=strength)
    spot = Region.around(strength > _SEEN)
    if spot is None or not cover.any():
        return None
    share = _smoothly(floats((strength[spot.cut] / _SEEN - 1) / _WHOLE)) * _near(cover)[spot.cut]
    share *= _foreign(smooth[spot.cut], plate.light[spot.cut], plate.length[spot.cut])
    kept = _kept(smooth[spot.cut], floats(share), curve)
    if not kept.any():
        return None
    place = spot.scaled(_SHRINK)
    whole = cv2.resize(kept, place.size, interpolation=cv2.INTER_LINEAR)
    # OpenCV multiplies numbers of one type in a quarter of the time
    through = cv2.bitwise_not(matte[place.cut]).astype(np.uint16)
    rest = cv2.multiply(whole, cv2.merge((through,) * 3), scale=1 / 255)
    return Glow(place, np.asarray(rest, np.uint16))


def _carried(more: Floats, bare: Floats) -> Floats:
    """Return the mean of light (h, w, 3) over bare pixels only: the figure's own must not leak out."""
    near, far = (_SMOOTH, _SMOOTH), (_CARRY, _CARRY)
    weight = cv2.scaleAdd(cv2.blur(bare, far), _GUESS, cv2.blur(bare, near))
    np.maximum(weight, 1e-4, out=weight)
    mass = cv2.scaleAdd(cv2.blur(more, far), _GUESS, cv2.blur(more, near))
    return floats(cv2.divide(mass, cv2.merge((weight,) * 3)))


def _kept(light: Floats, share: Floats, curve: Curve) -> Figure:
    """Return the figure (h, w, 3) of a share of the light, without its last traces."""
    figure = curve.figure(floats(cv2.multiply(light, cv2.merge((share,) * 3))))
    strong = _smoothly(floats((largest_channel(floats(figure)) / (CODE * _FAINT) - 1) / 3))
    return np.asarray(cv2.multiply(figure, cv2.merge((strong,) * 3), dtype=cv2.CV_16U), np.uint16)


def _smoothly(x: Floats) -> Floats:
    """Return 0 up to 0, 1 from 1 on, and between them a curve without a kink at either end."""
    part = np.clip(x, 0, 1)
    return floats(part * part * (3 - 2 * part))


def _length(light: Floats) -> Floats:
    return floats(np.sqrt(dot(light, light)))


def _foreign(light: Floats, plate: Floats, length: Floats) -> Floats:
    """Return 0 where light (h, w, 3) has the backing's own colour: there it is only lit more."""
    along = dot(light, plate)
    return floats(np.clip((_OWN - along / np.maximum(_length(light) * length, 1e-6)) / 0.05, 0, 1))


def _near(cover: Frame) -> Floats:
    """Return 1 beside the figure, falling softly to 0 at the glow's reach."""
    reach = max(round(_REACH * cover.shape[0]), 1)
    away = cv2.distanceTransform((cover == 0).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_3)
    return floats(np.clip(2 - 2 * away / reach, 0, 1))
