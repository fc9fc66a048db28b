"""The faces of all that stands in the box, as flat pictures in space."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.arrays import Light
from ghostprep.optics.bodies import Body
from ghostprep.optics.solids import Block
from ghostprep.optics.vectors import Vector, vector

GRID: Final = 8
"""Cells along each side of a face's map of light."""
_LEAST_MM: Final = 0.05
"""Thinner faces are not seen."""


@dataclass(frozen=True, slots=True, eq=False)
class Face:
    """One side of a block, seen from outside."""

    body: int
    """Its place in the world's list."""
    axis: int
    far: bool
    """Which of the block's axes it stands across, and whether at that axis' far end."""
    corner: Vector
    right: Vector
    down: Vector
    """Its upper left corner and its two edges from there (3,), mm."""
    normal: Vector
    """Unit, outwards."""
    paint: Light
    """(h, w, 3): what it reflects, linear RGB; one pixel for a plain colour."""

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height."""
        return float(np.linalg.norm(self.right)), float(np.linalg.norm(self.down))

    def cells(self) -> Vector:
        """Return the middles of its map's cells, a hair before it (GRID * GRID, 3), row by row."""
        share = (np.arange(GRID) + 0.5) / GRID
        u, v = np.meshgrid(share, share)
        points: Vector = self.corner + u.reshape(-1, 1) * self.right + v.reshape(-1, 1) * self.down
        return points + 0.05 * self.normal

    def places(self, points: Vector) -> tuple[Vector, Vector]:
        """Return where points of it (n, 3) lie, as shares of its width and height from the upper left."""
        away = points - self.corner
        return away @ self.right / (self.right @ self.right), away @ self.down / (self.down @ self.down)


def faces_of(number: int, body: Body, paint: Light) -> list[Face]:
    """Return the six faces of a body's block, all in one colour; those of a film's thickness are left out."""
    block = body.block
    found = []
    for axis, far in itertools.product(range(3), (False, True)):
        corner, right, down, normal = _edges(block, axis, far=far)
        if min(np.linalg.norm(right), np.linalg.norm(down)) > _LEAST_MM:
            found.append(Face(number, axis, far, corner, right, down, normal, paint))
    return found


def _edges(block: Block, axis: int, *, far: bool) -> tuple[Vector, Vector, Vector, Vector]:
    normal = block.axes[axis] * (1 if far else -1)
    # a picture's top points up; on what lies it points into the box, under a ceiling to the front
    lying = abs(normal[1]) > 0.7
    up = vector((0.0, 0.0, np.sign(normal[1]))) if lying else vector((0.0, 1.0, 0.0))
    others = [k for k in range(3) if k != axis]
    upward = max(others, key=lambda k: abs(float(block.axes[k] @ up)))
    along = block.axes[upward] * np.sign(block.axes[upward] @ up)
    right = np.cross(normal, along)
    half_right = block.half[next(k for k in others if k != upward)]
    middle = block.centre + normal * block.half[axis]
    corner = middle - right * half_right + along * block.half[upward]
    return corner, 2 * half_right * right, -2 * block.half[upward] * along, normal
