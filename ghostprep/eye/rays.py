"""Which part of the scene each point of the view shows: straight lines from one eye.

The view is the plane of the opening, at a fixed number of pixels a millimetre, so the box's
front stands still in it while the eye moves and all behind it shifts.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import Final

import numpy as np
import numpy.typing as npt

from ghostprep.eye.stage import Reflection, Stage
from ghostprep.eye.walls import on_card
from ghostprep.optics import Panel
from ghostprep.optics.vectors import Vector

Map = npt.NDArray[np.float32]
Flags = npt.NDArray[np.bool_]

_MARGIN: Final = 0.08
"""Room around the opening, as a share of its height."""

_NEAR_ROOM: Final = 1.25

_CARD_ASPECT: Final = 0.42
"""Width of the scale figure's card over its height."""


class Surface(IntEnum):
    """What a line meets first."""

    ROOM = 0
    FRONT = 1
    BACK = 2
    LEFT = 3
    RIGHT = 4
    FLOOR = 5
    CEILING = 6
    CARD = 7
    BAFFLE = 8


@dataclass(frozen=True, slots=True)
class Window:
    """The rectangle of the opening's plane that is shown, and its pixels.

    Attributes
    ----------
    left, top : float
        mm.
    scale : float
        Pixels a millimetre.
    size : tuple of int
        Width and height, px.
    """

    left: float
    top: float
    scale: float
    size: tuple[int, int]

    def to_px(self, front_mm: Vector) -> Vector:
        """Return where points (..., 2) of the opening's plane are shown, px."""
        flat: Vector = (front_mm - (self.left, self.top)) * (self.scale, -self.scale)
        return flat

    def project(self, eye: Vector, points: Vector) -> Vector:
        """Return where points (..., 3) of the scene are shown (..., 2) for an eye, px."""
        way = points - eye
        front = eye + way * (-eye[2] / way[..., 2:])
        return self.to_px(front[..., :2])


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """What one eye sees at each point of the view (h, w).

    Attributes
    ----------
    eye : Vector
    front : ndarray of float32 (h, w, 2)
        Where the line crosses the opening's plane, mm.
    surface : ndarray of uint8
        `Surface` of the scenery.
    u, v : ndarray of float32
        Place on that surface, 0..1 from its left and top.
    through_pane : ndarray of bool
        The scenery there is seen through the pane.
    first, second : ndarray of float32 (h, w, 2)
        Raster position whose light the front and the back face send here; NaN where none.
    bare : ndarray of float32 (h, w, 2)
        Raster position of the screen itself where it is seen without the pane; NaN where not.
    """

    eye: Vector
    front: Map
    surface: npt.NDArray[np.uint8]
    u: Map
    v: Map
    through_pane: Flags
    first: Map
    second: Map
    bare: Map


def window_for(stage: Stage, height_px: int) -> Window:
    """Return the window that shows the opening with a rim of the box's front, `height_px` high."""
    o = stage.opening
    around = _MARGIN * (o.high - o.low)
    scale = height_px / (o.high - o.low + 2 * around)
    columns = max(round((o.right - o.left + 2 * around) * scale), 1)
    return Window((o.left + o.right - columns / scale) / 2, o.high + around, scale, (columns, height_px))


def near_window(stage: Stage, size: tuple[int, int]) -> Window:
    """Return the window of `size` (width, height) px that shows the lit area's image, and little else."""
    whole = Window(0.0, 0.0, 1.0, size)
    corners = whole.project(stage.eye, stage.image.corners()) * (1, -1)
    low, high = corners.min(axis=0), corners.max(axis=0)
    scale = float(min(np.asarray(size) / (high - low))) / _NEAR_ROOM
    middle = (low + high) / 2
    return Window(float(middle[0]) - size[0] / scale / 2, float(middle[1]) + size[1] / scale / 2, scale, size)


def card_place(stage: Stage) -> tuple[float, float, float, float]:
    """Return the scale figure's card: left, right, low, high (mm) in the ghost plane.

    It is 1.7 m tall at the scene's scale and stands beside the ghost, on its ground.
    """
    tall = 1700.0 * stage.factor
    wide = tall * _CARD_ASPECT
    x = float(stage.image.centre[0]) + min(0.3 * stage.box[0], 0.5 * stage.box[0] - wide / 2)
    return x - wide / 2, x + wide / 2, stage.ground, stage.ground + tall


def trace(stage: Stage, eye: Vector, window: Window, reflection: Reflection, *, card: bool = True) -> Sight:
    """Follow the lines from an eye through every pixel of the view.

    Parameters
    ----------
    stage : Stage
    eye : Vector
        Before the opening (z below 0).
    window : Window
    reflection : Reflection
        For this eye.
    card : bool
        Whether the scale figure stands in the scene.
    """
    columns, rows = window.size
    x = window.left + (np.arange(columns) + 0.5) / window.scale
    y = window.top - (np.arange(rows) + 0.5) / window.scale
    front = np.stack([*np.meshgrid(x, y), np.zeros((rows, columns))], axis=-1)
    way = front - eye
    o = stage.opening
    inside = (front[..., 0] > o.left) & (front[..., 0] < o.right)
    inside &= (front[..., 1] > o.low) & (front[..., 1] < o.high)
    surface, reach = _walls(stage, eye, way)
    under = front[..., 1] < stage.floor  # the front edge of a raised floor
    surface[under], reach[under] = Surface.FLOOR, 1.0
    point = eye + reach[..., None] * way
    u, v = _on_wall(stage, surface, point)
    if card:
        surface, reach, u, v = _card(stage, eye, way, (surface, reach, u, v))
    if stage.baffle is not None:
        x0, y0, x1, y1, depth = stage.baffle
        along = (depth - eye[2]) / way[..., 2]
        met = eye[:2] + along[..., None] * way[..., :2]
        here = (along <= reach) & (met >= (x0, y0)).all(axis=-1) & (met <= (x1, y1)).all(axis=-1)
        surface[here], reach[here] = Surface.BAFFLE, along[here]
    surface[~inside] = Surface.FRONT
    w, h = stage.box[0] / 2 + stage.wall, stage.box[1] + stage.wall
    beside = (np.abs(front[..., 0]) > w) | (front[..., 1] > h) | (front[..., 1] < -stage.wall)
    surface[beside] = Surface.ROOM
    to_pane, on_pane = _pane(stage, eye, way)
    on_pane &= inside
    mirrored = on_pane & (to_pane < reach)
    blank = np.full((rows, columns, 2), np.nan, np.float32)
    first = _on_panel(stage.image, eye, way, mirrored)
    second = _on_panel(stage.second_image(reflection), eye, way, mirrored)
    bare = blank
    if stage.screen_shows:
        bare = _on_panel(stage.screen, eye, way, inside & (surface != Surface.BAFFLE))
    return Sight(
        eye=eye,
        front=front[..., :2].astype(np.float32),
        surface=surface,
        u=u.astype(np.float32),
        v=v.astype(np.float32),
        through_pane=mirrored,
        first=first,
        second=second,
        bare=bare,
    )


def _walls(stage: Stage, eye: Vector, way: Vector) -> tuple[npt.NDArray[np.uint8], Vector]:
    """Return which wall each line leaves the box through, and how far along the line that is."""
    width, height, depth = stage.box
    with np.errstate(divide="ignore", invalid="ignore"):
        side = (np.sign(way[..., 0]) * width / 2 - eye[0]) / way[..., 0]
        level = (np.where(way[..., 1] > 0, height, stage.floor) - eye[1]) / way[..., 1]
    side[way[..., 0] == 0] = np.inf
    level[way[..., 1] == 0] = np.inf
    back = (depth - eye[2]) / way[..., 2]
    reach = np.minimum(np.minimum(side, level), back)
    surface = np.full(reach.shape, Surface.BACK, np.uint8)
    at_side, at_level = (side < back) & (side <= level), (level < back) & (level < side)
    surface[at_side & (way[..., 0] < 0)] = Surface.LEFT
    surface[at_side & (way[..., 0] > 0)] = Surface.RIGHT
    surface[at_level & (way[..., 1] < 0)] = Surface.FLOOR
    surface[at_level & (way[..., 1] > 0)] = Surface.CEILING
    return surface, reach


def _on_wall(stage: Stage, surface: npt.NDArray[np.uint8], point: Vector) -> tuple[Vector, Vector]:
    """Return the place on each wall, 0..1 from its left and top as seen from the box's middle."""
    width, height, depth = stage.box
    across, into = point[..., 0] / width + 0.5, point[..., 2] / depth
    up = 1 - (point[..., 1] - stage.floor) / (height - stage.floor)
    u = np.where(surface == Surface.LEFT, into, np.where(surface == Surface.RIGHT, 1 - into, across))
    v = np.where(surface == Surface.FLOOR, 1 - into, np.where(surface == Surface.CEILING, into, up))
    return np.clip(u, 0, 1), np.clip(v, 0, 1)


def _card(
    stage: Stage,
    eye: Vector,
    way: Vector,
    met: tuple[npt.NDArray[np.uint8], Vector, Vector, Vector],
) -> tuple[npt.NDArray[np.uint8], Vector, Vector, Vector]:
    """Put the scale figure's card before the walls; its outline is left to whoever paints it."""
    surface, reach, u, v = met
    left, right, low, high = card_place(stage)
    along = (stage.image.centre[2] - eye[2]) / way[..., 2]
    x, y = eye[0] + along * way[..., 0], eye[1] + along * way[..., 1]
    here = (along < reach) & (x > left) & (x < right) & (y > low) & (y < high)
    here &= on_card((x - left) / (right - left), (high - y) / (high - low))
    return (
        np.where(here, np.uint8(Surface.CARD), surface).astype(np.uint8),
        np.where(here, along, reach),
        np.where(here, (x - left) / (right - left), u),
        np.where(here, (high - y) / (high - low), v),
    )


def _pane(stage: Stage, eye: Vector, way: Vector) -> tuple[Vector, Flags]:
    """Return how far along each line the pane's front face is, and whether the line meets the sheet."""
    corner, slope, across = stage.pane[0], stage.pane[1] - stage.pane[0], stage.pane[3] - stage.pane[0]
    with np.errstate(divide="ignore", invalid="ignore"):
        along = ((corner - eye) @ stage.pane_normal) / (way @ stage.pane_normal)
    met = eye + along[..., None] * way - corner
    s, a = met @ slope / float(slope @ slope), met @ across / float(across @ across)
    return along, (along > 0) & (s >= 0) & (s <= 1) & (a >= 0) & (a <= 1)


def _on_panel(panel: Panel, eye: Vector, way: Vector, where: Flags) -> Map:
    """Return the raster position that each line meets on a lit panel; NaN where it meets none."""
    facing = way @ panel.normal
    with np.errstate(divide="ignore", invalid="ignore"):
        along = float((panel.centre - eye) @ panel.normal) / facing
        met = eye + along[..., None] * way - panel.centre
        x = (met @ panel.right / panel.active[0] + 0.5) * panel.raster[0]
        y = (0.5 - met @ panel.up / panel.active[1]) * panel.raster[1]
        lit = where & (facing < 0) & (along > 1)
        lit &= (x >= 0) & (x <= panel.raster[0]) & (y >= 0) & (y <= panel.raster[1])
    place: Map = np.where(lit[..., None], np.stack([x, y], axis=-1), np.nan).astype(np.float32)
    return place
