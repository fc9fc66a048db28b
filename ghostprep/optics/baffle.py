"""Whether the screen is seen directly, and the board that hides it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.optics.layout import Layout
from ghostprep.optics.panefit import pane_hits
from ghostprep.optics.sightlines import Rectangle, eye_corners, keep_above, opening_of, seen_through
from ghostprep.optics.solids import player_block
from ghostprep.optics.vectors import Vector, meet_plane, vector
from ghostprep.scene import Scene

BEFORE_MM: Final = 2.0
"""How far before the player's body the baffle stands. Common practice, no source."""
SPARE_MM: Final = 1.0
"""What the baffle reaches beyond the outermost sightline on each side."""

_GRID: Final = 5
_FRONT: Final = vector((0.0, 0.0, -1.0))


@dataclass(frozen=True, slots=True)
class Baffle:
    """A board parallel to the opening that stands out from the screen's wall before the screen.

    Attributes
    ----------
    wall : str
        The wall that it stands on.
    depth_mm : float
        How far behind the opening its face is; 0 puts it in the opening itself.
    reach_mm : float
        How far it stands out from the inside of the wall (in plan; for a screen on floor or
        ceiling, in elevation).
    low_mm, high_mm : float
        From where to where it runs along the wall: heights above the floor for a screen on the
        left or right; x from the middle for floor and ceiling.
    clearance_mm : float
        Room between its free edge and the nearest ray of the ghost; below 0 it would cut the ghost.
    """

    wall: str
    depth_mm: float
    reach_mm: float
    low_mm: float
    high_mm: float
    clearance_mm: float

    @property
    def clear(self) -> bool:
        """Whether the whole ghost is still seen from everywhere."""
        return self.clearance_mm >= 0

    def as_dict(self) -> dict[str, object]:
        """Return the baffle as it stands in a report."""
        return {
            "wall": self.wall,
            "depth": self.depth_mm,
            "reach": self.reach_mm,
            "from": self.low_mm,
            "to": self.high_mm,
            "clearance": self.clearance_mm,
        }


def find_baffle(scene: Scene, layout: Layout) -> Baffle | None:
    """Return the board that hides the screen from every eye position; None if nothing shows it."""
    body = player_block(layout.screen, scene.screen.body).corners()
    depth = max(float(body[:, 2].min()) - BEFORE_MM, 0.0)
    hit = _direct_lines(scene, layout, depth)
    if hit is None:
        return None
    reach = float(lateral(scene, hit).max()) + SPARE_MM
    along = hit[:, 1] if scene.screen.wall in {"left", "right"} else hit[:, 0]
    low, high = float(along.min()) - SPARE_MM, float(along.max()) + SPARE_MM
    box = scene.box
    least, most = (
        (0.0, box.height) if scene.screen.wall in {"left", "right"} else (-box.width / 2, box.width / 2)
    )
    free = _nearest_ghost_ray(scene, layout, depth)
    return Baffle(scene.screen.wall, depth, reach, max(low, least), min(high, most), free - reach)


def lateral(scene: Scene, points: Vector) -> Vector:
    """Return how far points (..., 3) stand out from the inside of the screen's wall, mm."""
    wall, box = scene.screen.wall, scene.box
    distance: Vector = {
        "left": points[..., 0] + box.width / 2,
        "right": box.width / 2 - points[..., 0],
        "floor": points[..., 1],
        "ceiling": box.height - points[..., 1],
    }[wall]
    return distance


def _direct_lines(scene: Scene, layout: Layout, depth: float) -> Vector | None:
    """Return where lines from eyes through the opening to the lit area cross a depth, or None.

    Both ways of looking at it are taken: all eyes for some lit points, and all lit points for some
    eyes; where the opening cuts neither off, their corners alone are exact.
    """
    screen, opening = layout.screen, opening_of(scene)
    # only eyes before the screen's face see it
    limit = float(screen.centre @ screen.normal) + 1e-9
    eyes = keep_above(eye_corners(scene), screen.normal, limit)
    if len(eyes) == 0:
        return None
    w, h = screen.raster
    grid = np.stack(np.meshgrid(np.linspace(0, w, _GRID), np.linspace(0, h, _GRID)), axis=-1).reshape(-1, 2)
    found = []
    for point in screen.at(grid):
        seen = seen_through(opening, eyes, point[None, :])
        if len(seen) and point[2] > depth:
            through = np.column_stack([seen, np.zeros(len(seen))])
            found.append(_crossed(through, np.broadcast_to(point, through.shape), depth))
    for eye in np.vstack([eyes, (eyes + np.roll(eyes, 1, axis=0)) / 2, eyes.mean(axis=0)]):
        lit = keep_above(_seen_by(opening, eye, screen.corners()), -_FRONT, depth + 1e-6)
        if len(lit):
            found.append(_crossed(np.broadcast_to(eye, lit.shape), lit, depth))
    return np.vstack(found) if found else None


def _crossed(starts: Vector, ends: Vector, depth: float) -> Vector:
    return meet_plane(starts, ends, vector((0.0, 0.0, depth)), _FRONT)


def _seen_by(opening: Rectangle, eye: Vector, polygon: Vector) -> Vector:
    """Return the part (k, 3) of a flat polygon (m, 3) in the box that one eye sees through the opening.

    A point p is seen past the side x = s if e_x + (p_x - e_x) d / (p_z - e_z) is s or more, with the
    distance d = -e_z; multiplied by p_z - e_z that is linear in p.
    """
    distance = -float(eye[2])
    for axis, sign, side in (
        (0, 1.0, opening.left),
        (0, -1.0, opening.right),
        (1, 1.0, opening.low),
        (1, -1.0, opening.high),
    ):
        direction = np.zeros(3)
        direction[axis], direction[2] = sign * distance, sign * (float(eye[axis]) - side)
        polygon = keep_above(polygon, direction, float(direction @ eye) + 1e-6)
        if len(polygon) == 0:
            break
    return polygon


def _nearest_ghost_ray(scene: Scene, layout: Layout, depth: float) -> float:
    """Return how near to the screen's wall a ray of the ghost comes at a depth, mm.

    A ray runs from the eye to the pane and on to the screen; it can cross the depth on both ways.
    """
    corners = eye_corners(scene)
    eyes = np.vstack([corners, (corners + np.roll(corners, 1, axis=0)) / 2, layout.eye[None, :]])
    w, h = layout.image.raster
    grid = np.stack(np.meshgrid(np.linspace(0, w, _GRID), np.linspace(0, h, _GRID)), axis=-1).reshape(-1, 2)
    hits = pane_hits(layout, eyes, layout.image.at(grid))
    sources = np.tile(layout.screen.at(grid), (len(eyes), 1))
    starts = np.repeat(eyes, len(grid), axis=0)
    nearest = [np.inf]
    for a, b in ((starts, hits), (hits, sources)):
        passes = (a[:, 2] - depth) * (b[:, 2] - depth) < 0
        if passes.any():
            at = meet_plane(a[passes], b[passes], vector((0.0, 0.0, depth)), _FRONT)
            nearest.append(float(lateral(scene, at).min()))
    return float(min(nearest))
