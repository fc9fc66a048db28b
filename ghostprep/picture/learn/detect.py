"""Which backing a clip has, seen from glimpses over its whole length."""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Floats, Frame, Mask
from ghostprep.channels import channel_spread, largest_channel
from ghostprep.picture.key.backing import Backing, Kind
from ghostprep.picture.key.falloff import outlines
from ghostprep.picture.key.hue import like, luma_chroma
from ghostprep.picture.key.keyed import floats, to_codes
from ghostprep.picture.learn.even import EvenPlate, learn_even_plate
from ghostprep.picture.learn.outside import hull_of
from ghostprep.picture.learn.still import find_still
from ghostprep.transfer import codes_to_light, luminance

_COLOURED = 14
"""Chroma, codes, below which a pixel is grey, and an even colour rather a road or a sky than a backing."""
_DARK, _BRIGHT = 46, 200
"""Luma codes below and above which a grey pixel may be darkness or white paper."""
_FADES = 8.0
"""Ratio of a colour's lights from which it is no unevenly lit cloth, but light that fades out on black."""
_OUTLINE, _OUTLINED = 0.25, 0.03
"""Share of its height that a picture climbs at an outline, which in a room may be soft, and the share of
pixels with outlines from which it is a room. Mist that stays has them in 0.001 of it, rooms in 0.4."""
_ROOM = 0.13
"""Share of what stands still with outlines from which it is a room. On draws, black with a figure or mist has
them in 0.08 of it at most, a room in dim light or between black bars in 0.22 or more: the middle ratio."""
_LEVEL, _PEDESTAL = 3, 18
"""Codes above its darkest within which half of a black lies that is a level of the signal: on draws 1, beside
mist too, and 17 or more in the shadows of rooms. And the highest such black: video's own, 16, and noise."""
_RIM = np.ones((5, 5), np.uint8)
"""What lies this near to a backing's end has the outlines of what stands beside it."""
_ENOUGH = 0.12
"""Share of all pixels that an even backing must have."""


class Candidate(NamedTuple):
    """One backing that the clip may have."""

    kind: Kind
    colour: Floats
    """(3,)."""
    coverage: float
    """Share of all pixels that show it, evenly."""
    before: float
    """Share of what moves in the clip that moves before it."""
    clutter: float
    """Share of the picture within its hull that stands still and is not backing."""
    outlined: float
    """Share of the backing with outlines, where nothing moves."""
    around: float
    """The same of all that stands still in the picture."""
    rise: float
    """Codes of its largest channel from its darkest, but for one in fifty, to its middle."""

    @property
    def is_level(self) -> bool:
        """Whether it is a black of the signal and not a dark place."""
        return self.kind == "black" and self.rise <= _LEVEL and float(self.colour.max()) <= _PEDESTAL


def as_hex(colour: npt.NDArray[np.generic]) -> str:
    """Return R'G'B' codes (3,) as ``#rrggbb``."""
    r, g, b = (int(c) for c in to_codes(colour))
    return f"#{r:02x}{g:02x}{b:02x}"


def from_hex(colour: str) -> Floats:
    """Return the R'G'B' codes (3,) of ``#rrggbb``."""
    return floats([int(colour[i : i + 2], 16) for i in (1, 3, 5)])


def name_of(colour: npt.NDArray[np.generic]) -> Kind:
    """Return the trade name of a backing's colour: green, blue or just a colour."""
    _, cb, cr = luma_chroma(colour)
    angle = float(np.rad2deg(np.arctan2(cr, cb))) % 360
    # BT.709's pure green lies at 230 degrees of the CbCr plane, its pure blue at 355
    if abs(angle - 228) < 22.0:
        return "green"
    return "blue" if angle > 328.0 or angle < 16.0 else "colour"


def commonest_hue(frames: Frame) -> Floats | None:
    """Return the R'G'B' colour (3,) of the largest heap of coloured pixels, None if there is none."""
    ycc = luma_chroma(frames).reshape(-1, 3)
    coloured = np.hypot(ycc[:, 1], ycc[:, 2]) > _COLOURED
    if coloured.mean() < 0.05:
        return None
    bins = ((ycc[coloured, 1:] + 128) / 4).astype(np.int32)  # 0..63, as chroma lies within 127.5 of 0
    heap = np.bincount(bins[:, 0] * 64 + bins[:, 1], minlength=4096).reshape(64, 64).astype(np.float32)
    peak = np.unravel_index(int(np.argmax(cv2.GaussianBlur(heap, (0, 0), 1.2))), heap.shape)
    near = np.hypot(*(bins - np.array(peak)).T) < 4
    return floats(np.median(frames.reshape(-1, 3)[coloured][near], axis=0))


def dark(frames: Frame) -> Mask:
    """Return where there may be darkness behind the figure."""
    return np.asarray((luma_chroma(frames)[..., 0] < _DARK) & (channel_spread(frames) < 30), np.bool_)


def bright(frames: Frame) -> Mask:
    """Return where there may be white paper behind the figure."""
    return np.asarray((luma_chroma(frames)[..., 0] > _BRIGHT) & (channel_spread(frames) < 26), np.bool_)


def candidates(frames: Frame, moves: npt.NDArray[np.bool_]) -> list[Candidate]:
    """Return the even backings that small glimpses (n, h, w, 3) may have, the likeliest first.

    `moves` (h, w) tells where something moves.
    """
    looks: list[tuple[Kind, Mask]] = [("black", dark(frames)), ("white", bright(frames))]
    hue = commonest_hue(frames)
    if hue is not None:
        looks.append((name_of(hue), like(frames, hue)))
    elif looks[1][1].mean() < _ENOUGH:  # no colour and no white: it may be mist in light
        looks.append(("colour", np.ones(frames.shape[:3], np.bool_)))
    found = []
    outline = _outlines(frames)
    for look, mask in looks:
        if mask.mean() < _ENOUGH:
            continue
        even = learn_even_plate(frames, mask, blur=2, rim=3)
        seen = even.empty.any(0)
        hull = hull_of(even.empty) if seen.any() else None
        if hull is None:
            continue
        middle = floats(np.median(frames[even.empty], axis=0))
        grey = look in ("black", "white")
        kind = look if grey else _kind_of_hue(look, middle, even, bool(outline.mean() > _OUTLINED))
        if kind is None:
            continue
        before = float(hull[moves].mean()) if moves.any() else 1.0
        rest = (hull > 0) & ~seen & ~moves
        clutter = float(rest.sum() / max(hull.sum(), 1))
        within = cv2.erode(np.asarray(seen, np.uint8), _RIM) > 0
        outlined, around = (float(outline[m].mean()) if m.any() else 0.0 for m in (within & ~moves, ~moves))
        darkest, half = np.percentile(largest_channel(even.plate)[seen], (2, 50))
        share, rise = float(even.empty.mean()), float(half - darkest)
        found.append(Candidate(kind, middle, share, before, clutter, outlined, around, rise))
    return sorted(found, key=lambda c: -c.coverage)


def _kind_of_hue(look: Kind, middle: Floats, even: EvenPlate, outlined: bool) -> Kind | None:
    """Return what an even hue is: a backing of it, light in the air before black, or (None) no backing."""
    if _fades(even):
        return None if outlined else "black"  # a room in coloured light has outlines
    return look if np.hypot(*luma_chroma(middle)[1:]) >= _COLOURED else None


def _fades(even: EvenPlate) -> bool:
    """Tell whether a colour's light fades out: mist that stays has one hue, too, but not one light."""
    low, high = np.percentile(luminance(codes_to_light(to_codes(even.plate[even.empty.any(0)]))), (2, 98))
    return bool(high > _FADES * low)


def _outlines(frames: Frame) -> Mask:
    """Return where (h, w) what stays in place has outlines, as a room has: light in the air fades softly."""
    return outlines(to_codes(np.median(frames, axis=0)), _OUTLINE)


def _in_a_room(one: Candidate) -> bool:
    """Tell whether a backing is rather a wall, a table or the dark of a room: no figure is before it."""
    if one.kind in ("green", "blue"):
        return one.coverage < 0.55 and one.before < 0.6
    beside = one.coverage < 0.55 and (one.before < 0.6 or one.clutter > 0.1)
    if one.kind != "black":
        return beside
    # the room itself is dim, or it is lit and the black lies beside it
    return one.outlined > _ROOM or (beside and one.around > _ROOM)


def detect(frames: Frame) -> Backing:
    """Tell the backing of a clip.

    Parameters
    ----------
    frames : ndarray of uint8 (n, h, w, 3)
        Small glimpses over the whole clip.
    """
    still = find_still(frames)
    found = candidates(frames, still.seen < 0.8)
    steady = float((still.seen > 0.5).mean())
    moved = float((still.seen < 0.9).mean())
    best = found[0] if found else None
    # any room has shadows and white walls: to be a backing they must fill much of the picture
    grey = best is not None and best.kind in ("black", "white") and not best.is_level
    asked = 0.4 if grey else 0.2
    if best and best.coverage > asked and not (steady > 0.4 and _in_a_room(best)):
        second = found[1].coverage if len(found) > 1 else 0.0
        sure = np.clip((best.coverage - asked) / 0.2, 0, 1) * 0.6 + 0.4
        sure *= np.clip((best.coverage - second) / 0.15, 0.3, 1)
        seen = f"an even {as_hex(best.colour)} fills {best.coverage:.0%} of the picture"
        return Backing(best.kind, as_hex(best.colour), float(sure), seen, best.coverage)
    if steady > 0.4 and 0.01 < moved < 0.85:
        sure = float(np.clip((steady - 0.3) / 0.4, 0, 1) * 0.9)
        seen = f"no even colour, but {steady:.0%} of the picture stands still while the rest moves"
        return Backing("plate", None, sure, seen, float(still.seen.mean()))
    if best and best.coverage > _ENOUGH:
        seen = f"an even {as_hex(best.colour)} fills only {best.coverage:.0%} of the picture"
        if best.kind in ("black", "white"):
            return Backing("none", None, 0.3, seen, 0.0)  # shadows and skies are in every film
        return Backing(best.kind, as_hex(best.colour), 0.3, seen, best.coverage)
    return Backing("none", None, 0.3, "no even colour, and nothing that stands still", 0.0)
