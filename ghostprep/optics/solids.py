"""Flat-sided blocks in space, and whether two convex bodies meet."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.optics.layout import Layout, Panel
from ghostprep.optics.panefit import PaneFit
from ghostprep.optics.vectors import Vector
from ghostprep.scene import Scene

_SIGNS: Final = np.array(list(itertools.product((-1.0, 1.0), repeat=3)))
_EDGES: Final = np.array(
    [(a, b) for a, b in itertools.combinations(range(8), 2) if (_SIGNS[a] != _SIGNS[b]).sum() == 1]
)


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """A right-angled block, turned anyhow."""

    centre: Vector
    """Its middle, mm."""
    axes: Vector
    """Its three unit directions, one a row (3, 3)."""
    half: Vector
    """Half its size along each (3,), mm."""

    @property
    def directions(self) -> tuple[Vector, Vector]:
        """Unit directions of its edges and of its faces."""
        return self.axes, self.axes

    def corners(self) -> Vector:
        """Return the eight corners (8, 3)."""
        return self.centre + (_SIGNS * self.half) @ self.axes

    def edges(self) -> Vector:
        """Return both ends of the twelve edges (12, 2, 3)."""
        found: Vector = self.corners()[_EDGES]
        return found

    def swept(self, axis: int, way_mm: float) -> Block:
        """Return the block that this one fills when it is moved along one of its own axes."""
        half = self.half.copy()
        half[axis] += abs(way_mm) / 2
        return Block(self.centre + self.axes[axis] * way_mm / 2, self.axes, half)

    def mirrored(self, on_plane: Vector, normal: Vector) -> Block:
        """Return this block's image in a plane."""
        flip = np.eye(3) - 2 * np.outer(normal, normal)
        return Block(on_plane + (self.centre - on_plane) @ flip, self.axes @ flip, self.half)


def upright_block(low: Sequence[float], high: Sequence[float]) -> Block:
    """Return the block between two corners, its sides along x, y and z."""
    a, b = np.array(low, np.float64), np.array(high, np.float64)
    return Block((a + b) / 2, np.eye(3), (b - a) / 2)


def around(blocks: Sequence[Block], axes: Vector) -> Block:
    """Return the one block along some axes (3, 3) that just holds all of these."""
    flat = np.vstack([block.corners() for block in blocks]) @ axes.T
    low, high = flat.min(axis=0), flat.max(axis=0)
    return Block((low + high) / 2 @ axes, axes, (high - low) / 2)


@dataclass(frozen=True, slots=True, eq=False)
class Bundle:
    """The straight lines from every point of one flat convex patch to every point of another.

    Together they fill the convex hull of both patches.
    """

    points: Vector
    """Corners of both patches (k, 3), mm."""
    directions: tuple[Vector, Vector]
    """Unit directions of the hull's edges (e, 3) and of its faces (f, 3), and perhaps of more."""

    @classmethod
    def between(cls, first: Vector, second: Vector, ways: Vector) -> Bundle:
        """Return the bundle of two convex outlines (m, 3) and (n, 3), corners in order.

        `ways` are the directions of the lines that can bound it.
        """
        sides = [np.roll(p, -1, axis=0) - p for p in (first, second)]
        edges = _units(np.vstack([ways, *sides]))
        i, j = np.triu_indices(len(edges), 1)
        return cls(np.vstack([first, second]), (edges, _units(np.cross(edges[i], edges[j]))))

    def corners(self) -> Vector:
        """Return the corners of both patches."""
        return self.points

    def cut(self, on_plane: Vector, normal: Vector) -> Vector:
        """Return points (k, 3) whose outline is the bundle's section with a plane; none if it misses it."""
        side = (self.points - on_plane) @ normal
        i, j = np.triu_indices(len(side), 1)
        crossing = side[i] * side[j] < 0
        i, j = i[crossing], j[crossing]
        share = side[i] / (side[i] - side[j])
        return self.points[i] + share[:, None] * (self.points[j] - self.points[i])


def gap(a: Block | Bundle, b: Block | Bundle) -> float:
    """Return a lower bound of two convex bodies' distance, mm; below 0 the way that parts them, negated.

    They are apart if and only if they are apart along the direction of a face or the cross product of two
    edges (the separating axis theorem). Where they meet, the least overlap over these directions is the
    shortest move that parts them.
    """
    return -float(_overlaps(a, b)[1].min())


def way_out(mover: Block | Bundle, other: Block | Bundle, way: Vector) -> float:
    """Return how far a convex body must go along a unit direction until it leaves another; 0 if it is out.

    Whatever moves straight stays apart from the first moment at which one of the separating
    directions parts the two.
    """
    directions, before = _overlaps(mover, other)
    if before.min() <= 0:
        return 0.0
    speed = directions @ way
    return float((before[speed > 1e-9] / speed[speed > 1e-9]).min())


def _overlaps(a: Block | Bundle, b: Block | Bundle) -> tuple[Vector, Vector]:
    """Return all directions (k, 3) that can part two bodies, and how far the first must go along each."""
    (edges, normals), (others, faces) = a.directions, b.directions
    crosses = np.cross(edges[:, None, :], others[None, :, :]).reshape(-1, 3)
    ways = np.vstack([normals, faces, _units(crosses)])
    mine, theirs = a.corners() @ ways.T, b.corners() @ ways.T
    before = np.concatenate([theirs.max(axis=0) - mine.min(axis=0), mine.max(axis=0) - theirs.min(axis=0)])
    return np.vstack([ways, -ways]), before


def _units(ways: Vector) -> Vector:
    lengths = np.linalg.norm(ways, axis=1)
    kept: Vector = ways[lengths > 1e-9] / lengths[lengths > 1e-9, None]
    return kept


def player_block(screen: Panel, body: tuple[float, float, float]) -> Block:
    """Return the player's body: the lit area lies flush in the middle of its front."""
    half = np.array(body) / 2
    return Block(
        screen.centre - screen.normal * half[2], np.array([screen.right, screen.up, screen.normal]), half
    )


def pane_block(scene: Scene, layout: Layout, pane: PaneFit) -> Block:
    """Return the sheet."""
    thick = scene.pane.thickness
    middle = pane.corners.mean(axis=0) - layout.pane_normal * thick / 2
    half = np.array([pane.place.size[0], pane.place.size[1], thick]) / 2
    return Block(middle, np.array([layout.slope, layout.across, layout.pane_normal]), half)
