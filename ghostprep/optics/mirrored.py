"""What the pane mirrors besides the screen: walls that must be dark, and lamps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.optics.layout import Layout
from ghostprep.optics.panefit import FACE_NAMES, PaneFit, box_faces, face_points, on_face
from ghostprep.optics.sightlines import (
    bounds,
    clipped,
    crossings,
    eye_corners,
    opening_of,
    outline,
    seen_through,
)
from ghostprep.optics.vectors import Vector, meet_plane, reflect_direction, reflect_point, vector
from ghostprep.scene import Scene

_GRID: Final = 13


@dataclass(frozen=True, slots=True)
class Patch:
    """A part of a surface that is seen mirrored in the pane.

    Attributes
    ----------
    surface : str
        As in `panefit.FACE_NAMES`; "opening" means the room before the box.
    low, high : tuple of float
        Its lowest and highest x, y, z, mm.
    """

    surface: str
    low: tuple[float, ...]
    high: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class LampSeen:
    """What the eye sees of a lamp.

    Attributes
    ----------
    number : int
        1 for the first lamp of the scene file.
    mirrored, direct : bool
        Whether it is seen from somewhere in the pane, or past it through the opening.
    in_the_way : bool
        Whether it stands in a ray of the ghost.
    """

    number: int
    mirrored: bool
    direct: bool
    in_the_way: bool


def find_patches(scene: Scene, layout: Layout, pane: PaneFit) -> tuple[Patch, ...]:
    """Return what is seen mirrored in the pane, traced on a grid of rays from every outer eye position."""
    eyes = np.vstack([eye_corners(scene), layout.eye[None, :]])
    p = pane.place
    steps = np.linspace(0, 1, _GRID)
    grid = np.stack(
        np.meshgrid(p.left + steps * (p.right - p.left), p.low + steps * (p.high - p.low)), axis=-1
    ).reshape(-1, 2)
    points = np.tile(face_points(layout, grid), (len(eyes), 1))
    starts = np.repeat(eyes, len(grid), axis=0)
    through = meet_plane(starts, points, vector((0.0, 0.0, 0.0)), vector((0.0, 0.0, -1.0)))
    o = opening_of(scene)
    seen = (through[:, 0] >= o.left) & (through[:, 0] <= o.right)
    seen &= (through[:, 1] >= o.low) & (through[:, 1] <= o.high)
    # only what stands before the front face is mirrored in it
    seen &= (starts - points) @ layout.pane_normal > 0
    points, ways = points[seen], (points - starts)[seen]
    return _landed(scene, points, reflect_direction(ways, layout.pane_normal))


def _landed(scene: Scene, points: Vector, ways: Vector) -> tuple[Patch, ...]:
    if len(points) == 0:
        return ()
    faces = box_faces(scene)
    inside = np.all([points @ n <= limit + 1e-6 for n, limit in faces], axis=0)
    points, ways = points[inside], ways[inside]
    times = np.full((len(faces), len(points)), np.inf)
    for row, (normal, limit) in enumerate(faces):
        speed = ways @ normal
        out = speed > 1e-12
        times[row, out] = (limit - points[out] @ normal) / speed[out]
    first = times.argmin(axis=0)
    patches = []
    for row, name in enumerate(FACE_NAMES):
        if (mine := first == row).any():
            at = points[mine] + times[row, mine, None] * ways[mine]
            low, high = at.min(axis=0), at.max(axis=0)
            patches.append(Patch(name, tuple(map(float, low)), tuple(map(float, high))))
    return tuple(patches)


def find_lamps(scene: Scene, layout: Layout, pane: PaneFit) -> tuple[LampSeen, ...]:
    """Return for each lamp where the eye meets it."""
    found = []
    for number, lamp in enumerate(scene.light.lamps, 1):
        at = vector(lamp.at)
        before = float((at - layout.on_pane) @ layout.pane_normal) > 0
        image = reflect_point(at, layout.on_pane, layout.pane_normal)
        mirrored = before and _seen_in_pane(scene, layout, pane, image)
        direct = len(seen_through(opening_of(scene), eye_corners(scene), at[None, :])) > 0
        blocks = before and (_in_bundle(scene, layout, at) or _in_bundle(scene, layout, image))
        found.append(LampSeen(number, mirrored, direct, blocks))
    return tuple(found)


def _seen_in_pane(scene: Scene, layout: Layout, pane: PaneFit, image: Vector) -> bool:
    seen = seen_through(opening_of(scene), eye_corners(scene), image[None, :])
    if len(seen) == 0:
        return False
    through = np.column_stack([seen, np.zeros(len(seen))])
    on_pane = meet_plane(through, np.broadcast_to(image, through.shape), layout.on_pane, layout.pane_normal)
    return len(clipped(outline(on_face(layout, on_pane)), pane.place)) > 0


def _in_bundle(scene: Scene, layout: Layout, point: Vector) -> bool:
    """Return whether a point lies among the straight lines from all eyes to the ghost."""
    depth = float(point[2])
    if depth >= float(layout.image.corners()[:, 2].max()) or depth <= 0:
        return False
    hull = bounds(crossings(eye_corners(scene), layout.image.corners(), depth))
    return bool(hull.left < point[0] < hull.right and hull.low < point[1] < hull.high)
