"""How tall the figure is, and how its picture must be turned, mirrored and warped to look right."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.arrays import Doubles
from ghostprep.errors import InputError
from ghostprep.optics.layout import Layout
from ghostprep.scene import Scene

_GRID: Final = 9
"""Points along each side of the raster where the exact map is held against flip and turns."""
_SEEN_PX: Final = 0.5
"""Nobody sees half a pixel."""
# one clockwise quarter turn of a picture, as a map of directions in raster axes (x right, y down)
_TURN: Final = np.array([[0.0, -1.0], [1.0, 0.0]])


@dataclass(frozen=True, slots=True, eq=False)
class Mount:
    """The map from the ghost plane to the raster, and what it amounts to."""

    mirrored: bool
    """Whether the upright picture is first mirrored left to right."""
    quarter_turns: int
    """Clockwise turns, 0..3, that the (mirrored) picture then gets to become the raster."""
    keystone_px: float
    """Largest distance between `homography` and that flip with turns, over the raster, px."""
    homography: Doubles
    """(3, 3): ghost plane mm (x right, y up from the floor) to raster px ((0, 0) is the top left corner of
    the top left pixel), from the middle eye position; the last row gives 1 at the ghost's centre."""
    figure_height_px: float
    """Height of the figure on the raster; may exceed it."""
    pitch_mm: tuple[float, float]
    """Millimetres from pixel to pixel along the raster's width and height; not always equal."""

    @property
    def bent(self) -> bool:
        """Whether the exact map is needed: where it is not, flips and turns show every pixel as it is."""
        return self.keystone_px > _SEEN_PX

    def to_raster(self, ghost_mm: Doubles) -> Doubles:
        """Return raster positions (..., 2) of ghost-plane points (..., 2)."""
        return map_points(self.homography, ghost_mm)

    def to_ghost(self, px: Doubles) -> Doubles:
        """Return ghost-plane points (..., 2) of raster positions (..., 2)."""
        return map_points(_inverse(self.homography), px)


def map_points(homography: Doubles, points: Doubles) -> Doubles:
    """Apply a homography (3, 3) to points (..., 2)."""
    p = np.asarray(points, np.float64)
    mapped = p @ homography[:, :2].T + homography[:, 2]
    return mapped[..., :2] / mapped[..., 2:]


def _inverse(homography: Doubles) -> Doubles:
    return np.linalg.inv(homography).astype(np.float64)


def ghost_homography(layout: Layout) -> Doubles:
    """Return the map from ghost-plane mm to raster px for the middle eye.

    The line from the eye E through the ghost-plane point (x, y, z of the ghost) meets the image's
    plane at E + t d. With the image's centre G and normal n, t = (G - E).n / d.n, so raster
    coordinates are linear in (x, y, 1) over d.n: a homography.
    """
    e, image = layout.eye, layout.image
    to_centre = image.centre - e
    direction = np.array([[1.0, 0.0, -e[0]], [0.0, 1.0, -e[1]], [0.0, 0.0, image.centre[2] - e[2]]])
    below = image.normal @ direction
    point = np.outer(-to_centre, below) + float(to_centre @ image.normal) * direction
    (w, h), (px, py) = image.raster, layout.screen.pitch
    matrix = np.vstack(
        [image.right @ point / px + w / 2 * below, -(image.up @ point) / py + h / 2 * below, below]
    )
    middle = below @ np.array([image.centre[0], image.centre[1], 1.0])
    scaled: Doubles = matrix / middle
    return scaled


def find_mount(layout: Layout, figure_mm: float, feet_mm: float) -> Mount:
    """Return the mount for a figure `figure_mm` tall that stands at `feet_mm` above the floor.

    Raises
    ------
    ValueError
        The image stands so steep to the eye that the whole figure has no place in its plane.
    """
    homography = ghost_homography(layout)
    w, h = layout.screen.raster
    grid = np.stack(np.meshgrid(np.linspace(0, w, _GRID), np.linspace(0, h, _GRID)), axis=-1)
    ghost = map_points(_inverse(homography), grid) - layout.ghost[:2]
    keystone, mirrored, turns = min(
        (float(np.linalg.norm(_flat(layout, ghost, mirrored, turns) - grid, axis=-1).max()), mirrored, turns)
        for mirrored in (True, False)
        for turns in range(4)
    )
    x = float(layout.ghost[0])
    feet, head = np.array([x, feet_mm]), np.array([x, feet_mm + figure_mm])
    ends = map_points(homography, np.array([feet, head]))
    seen = homography[2] @ np.array([[x, x], [feet_mm, feet_mm + figure_mm], [1.0, 1.0]])
    if not (seen > 0).all():
        raise ValueError("the ghost stands so steep to the eye that no picture of the figure fits it")
    height = float(np.linalg.norm(ends[1] - ends[0]))
    return Mount(mirrored, turns, keystone, homography, height, layout.screen.pitch)


def _flat(layout: Layout, ghost: Doubles, mirrored: bool, turns: int) -> Doubles:
    """Return where a flip with quarter turns puts ghost-plane places (..., 2) round the ghost's middle."""
    # the ghost plane's axes as picture axes: x right, y down; then the flip, then the turns
    axes = np.diag([-1.0 if mirrored else 1.0, -1.0])
    linear = np.diag(1 / np.asarray(layout.screen.pitch)) @ np.linalg.matrix_power(_TURN, turns) @ axes
    placed: Doubles = ghost @ linear.T + np.asarray(layout.screen.raster) / 2
    return placed


@dataclass(frozen=True, slots=True)
class Figure:
    """The figure on the ghost plane.

    The ghost plane is upright at the ghost's depth, so what stands there on ground `feet_mm` high
    has its feet at exactly that height of the plane, for every eye.
    """

    height_mm: float
    """Full-size height times the scale at the ghost's depth."""
    height_px: float
    """The same on the raster, from the middle eye."""
    feet_mm: float
    """Height of the ground under its feet above the floor."""
    scale: float
    """Full-size millimetres in one millimetre of the scene, at the ghost's depth ("1:scale")."""
    lit_mm: tuple[float, float]
    """Lowest and highest ghost-plane y of the lit area above the ghost's middle."""
    largest_mm: float
    """The tallest figure that the screen can show on this ground; where the ground lies outside the lit area,
    the tallest that it can show at all."""
    fits: bool
    """Whether feet and head both lie on the raster."""


def find_figure(scene: Scene, layout: Layout) -> tuple[Figure, Mount]:
    """Return the figure, and the mount that shows it.

    Raises
    ------
    InputError
        The scale has no value at the ghost's depth, or the image stands too steep.
    """
    feet = scene.ghost.feet
    try:
        factor = scene.scale.at(float(layout.ghost[2]))
        height = scene.ghost.figure * factor
        mount = find_mount(layout, height, feet)
    except ValueError as error:
        raise InputError(str(error), where=scene.where("scale")) from None
    low, high = _lit_heights(layout, mount)
    stands = low - 1e-6 <= feet < high
    largest = high - feet if stands else high - low
    fits = stands and feet + height <= high + 1e-6
    return Figure(height, mount.figure_height_px, feet, 1 / factor, (low, high), largest, fits), mount


def _lit_heights(layout: Layout, mount: Mount) -> tuple[float, float]:
    """Return where the upright line through the ghost's middle enters and leaves the lit area."""
    w, h = layout.screen.raster
    outline = mount.to_ghost(np.array([(0, 0), (w, 0), (w, h), (0, h), (0, 0)], np.float64))
    x, crossings = float(layout.ghost[0]), []
    for (x0, y0), (x1, y1) in itertools.pairwise(outline):
        if (x0 - x) * (x1 - x) <= 0 and x0 != x1:
            crossings.append(float(y0 + (y1 - y0) * (x - x0) / (x1 - x0)))
    return min(crossings), max(crossings)
