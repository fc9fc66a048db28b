"""How an upright picture must be turned, mirrored and warped to look right in the scene."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from ghostprep.optics.layout import Layout

Matrix = npt.NDArray[np.float64]
_GRID: Final = 9
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
    homography: Matrix
    """(3, 3): ghost plane mm (x right, y up from the floor) to raster px ((0, 0) is the top left corner of
    the top left pixel), from the middle eye position; the last row gives 1 at the ghost's centre."""
    figure_height_px: float
    """Height of the figure on the raster; may exceed it."""
    pitch_mm: tuple[float, float]
    """Millimetres from pixel to pixel along the raster's width and height; not always equal."""

    def to_raster(self, ghost_mm: Matrix) -> Matrix:
        """Return raster positions (..., 2) of ghost-plane points (..., 2)."""
        return map_points(self.homography, ghost_mm)

    def to_ghost(self, px: Matrix) -> Matrix:
        """Return ghost-plane points (..., 2) of raster positions (..., 2)."""
        return map_points(_inverse(self.homography), px)


def map_points(homography: Matrix, points: Matrix) -> Matrix:
    """Apply a homography (3, 3) to points (..., 2)."""
    p = np.asarray(points, np.float64)
    mapped = p @ homography[:, :2].T + homography[:, 2]
    flat: Matrix = mapped[..., :2] / mapped[..., 2:]
    return flat


def _inverse(homography: Matrix) -> Matrix:
    inverse: Matrix = np.linalg.inv(homography).astype(np.float64)
    return inverse


def ghost_homography(layout: Layout) -> Matrix:
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
    (w, h), (px, py) = image.raster, _pitch(layout)
    matrix = np.vstack(
        [image.right @ point / px + w / 2 * below, -(image.up @ point) / py + h / 2 * below, below]
    )
    middle = below @ np.array([image.centre[0], image.centre[1], 1.0])
    scaled: Matrix = matrix / middle
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
    return Mount(mirrored, turns, keystone, homography, height, _pitch(layout))


def _pitch(layout: Layout) -> tuple[float, float]:
    (w, h), (aw, ah) = layout.screen.raster, layout.screen.active
    return aw / w, ah / h


def _flat(layout: Layout, ghost: Matrix, mirrored: bool, turns: int) -> Matrix:
    """Return where a flip with quarter turns puts ghost-plane places (..., 2) round the ghost's middle."""
    # the ghost plane's axes as picture axes: x right, y down; then the flip, then the turns
    axes = np.diag([-1.0 if mirrored else 1.0, -1.0])
    linear = np.diag(1 / np.asarray(_pitch(layout))) @ np.linalg.matrix_power(_TURN, turns) @ axes
    placed: Matrix = ghost @ linear.T + np.asarray(layout.screen.raster) / 2
    return placed
