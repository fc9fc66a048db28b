"""Flat-sided blocks in the box, and whether two of them meet."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from ghostprep.optics.layout import Layout, Panel
from ghostprep.optics.panefit import PaneFit
from ghostprep.optics.vectors import Vector
from ghostprep.scene import Scene


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """A right-angled block, turned anyhow.

    Attributes
    ----------
    centre : Vector
        Its middle, mm.
    axes : Vector
        Its three unit directions, one a row (3, 3).
    half : Vector
        Half its size along each (3,), mm.
    """

    centre: Vector
    axes: Vector
    half: Vector

    def corners(self) -> Vector:
        """Return the eight corners (8, 3)."""
        signs = np.array(list(itertools.product((-1.0, 1.0), repeat=3)))
        points: Vector = self.centre + (signs * self.half) @ self.axes
        return points

    def swept(self, axis: int, way_mm: float) -> Block:
        """Return the block that this one fills when it is moved along one of its own axes."""
        half = self.half.copy()
        half[axis] += abs(way_mm) / 2
        return Block(self.centre + self.axes[axis] * way_mm / 2, self.axes, half)


def gap(a: Block, b: Block) -> float:
    """Return a lower bound of the distance of two blocks, mm; 0 or less if they meet.

    Two convex bodies are apart if and only if they are apart along one of the 15 directions: the
    face directions of both and the cross products of their edges.
    """
    crosses = np.cross(a.axes[:, None, :], b.axes[None, :, :]).reshape(-1, 3)
    lengths = np.linalg.norm(crosses, axis=1)
    directions = np.vstack([a.axes, b.axes, crosses[lengths > 1e-9] / lengths[lengths > 1e-9, None]])
    apart = np.abs(directions @ (b.centre - a.centre))
    reach = np.abs(directions @ a.axes.T) @ a.half + np.abs(directions @ b.axes.T) @ b.half
    return float((apart - reach).max())


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
