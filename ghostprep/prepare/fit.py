"""Which part of the clip is shown, how large, where it stands on the raster, and how bright."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from ghostprep.arrays import Doubles
from ghostprep.box import Box
from ghostprep.picture.place import Drift, Orientation, Placement, Warp
from ghostprep.picture.tone import Tone, auto_gain
from ghostprep.prepare.figure import FigureExtent

_MARGIN: Final = 0.04
"""Room around the figure, as a share of its height: hair and glow reach past the box."""

FINER: Final = 3
"""Delivered pixels a raster pixel, along each side, for a figure that moves by parts of one."""

EDGE_SHARE: Final = 0.04
"""Softness of a cut edge, as a share of the picture's smaller side."""


@dataclass(frozen=True, slots=True)
class GhostPlace:
    """What the scene says of the ghost's place."""

    to_raster: Doubles
    """(3, 3): ghost plane mm (x right, y up) to raster px."""
    orientation: Orientation
    """The flips and turns nearest to it."""
    bent: bool
    """Whether they are so far off that the exact map is used."""
    height_mm: float
    """The figure's height on the ghost plane."""
    stand_mm: tuple[float, float]
    """Where its feet stand on the ghost plane, x and y."""


@dataclass(frozen=True, slots=True)
class Fit:
    """How the decoder delivers the figure and how it is placed."""

    crop: Box
    """Part of the source that is shown, source pixels."""
    size: tuple[int, int]
    """Width and height to which the decoder scales it."""
    place: Placement | Warp | Drift
    """From a delivered figure to the raster."""
    scale: float
    """Raster pixels a source pixel, vertically."""
    figure_px: float
    """Height of the figure on the raster, pixels."""

    def drifting(self) -> Fit:
        """Return the same fit for a still that drifts: delivered finer, and placed by parts of a pixel."""
        if isinstance(self.place, Drift):
            return self
        size = (self.size[0] * FINER, self.size[1] * FINER)
        return replace(self, size=size, place=Drift(self.place, FINER))


def fit_to_raster(
    source: tuple[int, int],
    body: FigureExtent,
    crop: Literal["auto", "none"] | Box,
    raster: tuple[int, int],
    orientation: Orientation,
    *,
    grid: int = 2,
    room: float = 0.0,
) -> Fit:
    """Fill the raster with the figure, without a scene to say how tall it must be.

    The picked part keeps its proportions. Where the raster is wider or higher than
    the figure's box, more of the source is shown, and black only past its border.
    It begins and ends on multiples of `grid` source pixels, unless it was told. `room`, a share of the
    figure's height, is left free on each side.
    """
    wide, high = orientation.picture_size(raster)
    if crop == "auto":
        box = on_grid(_with_margin(body), source, grid)
    elif crop == "none":
        box = Box(0, 0, *source)
    else:
        box = crop
    free = 2 * room * body.height
    scale = min(wide / (box.width + free), high / (box.height + free))
    if crop == "auto":
        box = _widened(box, int(wide / scale), int(high / scale), source, grid)
    size = (min(max(round(box.width * scale), 1), wide), min(max(round(box.height * scale), 1), high))
    at = ((wide - size[0]) // 2, (high - size[1]) // 2)
    return Fit(box, size, Placement(raster, orientation, at), scale, body.height * scale)


def fit_to_scene(
    source: tuple[int, int],
    body: FigureExtent,
    crop: Literal["auto", "none"] | Box,
    raster: tuple[int, int],
    mount: GhostPlace,
    *,
    grid: int = 2,
) -> Fit:
    """Make the figure exactly as tall as the scene asks, standing where it shall stand.

    Parameters
    ----------
    crop : {"auto", "none"} or Box
        The figure's box, all of the source, or a box in source pixels, as far as the raster reaches. The
        figure's size is that of the whole figure, whatever part of it is shown.
    grid : int
        The part shown begins and ends on multiples of this many source pixels, where the source allows.
    """
    mm = mount.height_mm / body.height  # of the ghost plane, a source pixel
    to_ghost = np.array(
        [
            [mm, 0, mount.stand_mm[0] - body.feet[0] * mm],
            [0, -mm, mount.stand_mm[1] + body.feet[1] * mm],
            [0, 0, 1.0],
        ]
    )
    exact = mount.to_raster @ to_ghost  # source px to raster px
    seen = _shown_part(exact, raster).within(source)
    if crop != "none":
        seen = (crop if isinstance(crop, Box) else _with_margin(body)).common(seen)
        seen = seen._replace(width=max(seen.width, 1), height=max(seen.height, 1))
    told = isinstance(crop, Box)
    if not told:
        seen = on_grid(seen, source, grid)
    if mount.bent:
        return _bent(exact, seen, body, raster)
    upright = np.linalg.inv(mount.orientation.matrix(raster)) @ exact
    upright /= upright[2, 2]
    corners = upright @ np.array([[seen.x, seen.right], [seen.y, seen.bottom], [1.0, 1.0]])
    (left, right_px), (top, bottom_px) = (corners[0] / corners[2]), (corners[1] / corners[2])
    wide, high = (right_px - left) / seen.width, (bottom_px - top) / seen.height
    x, y, width, height = seen.x, seen.y, seen.width, seen.height
    if not told:
        x, width = _evened(seen.x, seen.width, source[0], wide, grid)
        y, height = _evened(seen.y, seen.height, source[1], high, grid)
    left, top = left + (x - seen.x) * wide, top + (y - seen.y) * high
    seen = Box(x, y, width, height)
    size = (max(round(width * wide), 1), max(round(height * high), 1))
    scale = size[1] / height
    # the feet, not the crop's corner, fall on their pixel: rounding must not lift them off the ground
    row = round(top + (body.feet[1] - seen.y) * (high - scale))
    return Fit(
        seen, size, Placement(raster, mount.orientation, (round(left), row)), scale, body.height * scale
    )


def _with_margin(body: FigureExtent) -> Box:
    return body.reach.grown(round(_MARGIN * body.reach.height) + 1)


def _widened(box: Box, wide: int, high: int, source: tuple[int, int], grid: int) -> Box:
    """Return the box grown about its middle to `wide` x `high`, on the grid, shifted into the source."""

    def grow(start: int, length: int, wanted: int, limit: int) -> tuple[int, int]:
        length_now = min(max(wanted // grid * grid, length), limit)
        begin = (start - (length_now - length) // 2) // grid * grid
        return min(max(begin, 0), limit - length_now), length_now

    x, width = grow(box.x, box.width, wide, source[0])
    y, height = grow(box.y, box.height, high, source[1])
    return Box(x, y, width, height)


def on_grid(box: Box, source: tuple[int, int], grid: int) -> Box:
    """Return the part of a box in the source, grown to begin and end on multiples of `grid` pixels.

    Chroma comes in pairs; a cut through them would cost the decoder the conversion of the whole cut
    at the source's size.
    """
    box = box.within(source)
    x, y = box.x // grid * grid, box.y // grid * grid
    return Box(x, y, -(-(box.right - x) // grid) * grid, -(-(box.bottom - y) // grid) * grid).within(source)


def _evened(start: int, length: int, limit: int, scale: float, grid: int) -> tuple[int, int]:
    """Return the stretch, a few pixels longer where possible, so that scaled it is close to whole pixels.

    The decoder delivers whole pixels, and what is rounded away would change the figure's height.
    """

    def rounding(more: int) -> tuple[float, int]:
        scaled = (length + more) * scale
        return round(abs(scaled - round(scaled)) / max(scaled, 1), 6), more

    room = min(limit - length, math.ceil(2 / scale) + 8)
    more = min(range(0, room + 1, grid), key=rounding)
    after = min(more, limit - start - length)
    return start - (more - after), length + more


def _shown_part(exact: Doubles, raster: tuple[int, int]) -> Box:
    """Return the source pixels that the raster reaches."""
    wide, high = raster
    corners = np.linalg.inv(exact) @ np.array([[0, wide, wide, 0], [0, 0, high, high], [1.0, 1, 1, 1]])
    x, y = corners[0] / corners[2], corners[1] / corners[2]
    left, top = math.floor(x.min()), math.floor(y.min())
    return Box(left, top, math.ceil(x.max()) - left, math.ceil(y.max()) - top)


def _bent(exact: Doubles, seen: Box, body: FigureExtent, raster: tuple[int, int]) -> Fit:
    """Return the fit of a part of the source whose map to the raster (3, 3) bends it."""
    scale = _pixels_per_source_px(exact, body.feet, body.height)
    size = (max(math.ceil(seen.width * scale), 1), max(math.ceil(seen.height * scale), 1))
    from_delivered = np.array(
        [[seen.width / size[0], 0, seen.x], [0, seen.height / size[1], seen.y], [0, 0, 1]]
    )
    return Fit(seen, size, Warp(raster, exact @ from_delivered), scale, body.height * scale)


def _pixels_per_source_px(exact: Doubles, feet: tuple[float, float], height: float) -> float:
    """Return how many raster pixels the figure has per source pixel, along its height."""
    ends = exact @ np.array([[feet[0], feet[0]], [feet[1], feet[1] - height], [1.0, 1.0]])
    points = ends[:2] / ends[2]
    return float(np.hypot(*(points[:, 0] - points[:, 1])) / height)


def tone_for(
    fit: Fit,
    body: FigureExtent,
    bright: float,
    *,
    gain: Literal["auto"] | float,
    edge: Literal["auto"] | int,
    tint: tuple[int, int, int] | None,
) -> Tone:
    """Return brightness, colour and edge as asked (see `Tone`), or, where "auto", as the figure needs them.

    `bright` is the light, 0..1, of the figure's bright parts in its brightest moment.
    """
    if gain == "auto":
        gain = auto_gain(bright)
    if edge == "auto":
        crop, reach = fit.crop, body.reach
        inside = (
            reach.x > crop.x and reach.y > crop.y and reach.right < crop.right and reach.bottom < crop.bottom
        )
        edge = 0 if inside else max(round(EDGE_SHARE * min(fit.size)), 1)
    return Tone(gain=gain, tint=tint, edge=int(edge))
