"""How tall the figure is in the scene, and whether the screen can show it standing on its ground."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from ghostprep.optics.layout import Layout
from ghostprep.optics.mount import Mount, find_mount
from ghostprep.scene import Scene


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
    ValueError
        The scale has no value at the ghost's depth, or the image stands too steep.
    """
    factor = scene.scale.at(float(layout.ghost[2]))
    height, feet = scene.ghost.figure * factor, scene.ghost.feet
    mount = find_mount(layout, height, feet)
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
