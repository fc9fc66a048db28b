"""The lines along which the eye sees the ghost, for drawing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ghostprep.optics import Plan
from ghostprep.optics.panefit import pane_hits
from ghostprep.optics.vectors import Vector, meet_plane, vector


@dataclass(frozen=True, slots=True, eq=False)
class Ray:
    """One line from an eye to an edge of the ghost.

    Attributes
    ----------
    seen : Vector
        From before the opening to the pane and on to the screen (3, 3), mm.
    apparent : Vector
        From the pane to the ghost, straight on (2, 3), mm.
    middle : bool
        Whether it starts at the middle eye, and not at an end of the eye's range.
    """

    seen: Vector
    apparent: Vector
    middle: bool


def rays_in(plan: Plan, axis: int, before_mm: float) -> list[Ray]:
    """Return the rays to the two outermost edges of the ghost along an axis (0 is x, 1 is y).

    They start `before_mm` before the opening or at the eye, on the way from the middle eye and from
    both ends of the eye's range along that axis.
    """
    layout, scene = plan.layout, plan.scene
    w, h = layout.image.raster
    middles = np.array([(0, h / 2), (w, h / 2), (w / 2, 0), (w / 2, h)], np.float64)
    edges = layout.image.at(middles)
    pair = sorted((int(edges[:, axis].argmin()), int(edges[:, axis].argmax())))
    found: list[Ray] = []
    before = min(before_mm, scene.viewer.distance)
    for shift in (-scene.viewer.sway[axis], scene.viewer.sway[axis], 0.0):
        if shift == 0.0 and any(ray.middle for ray in found):
            continue
        eye = layout.eye.copy()
        eye[axis] += shift
        for index in pair:
            hit = pane_hits(layout, eye[None, :], edges[index][None, :])[0]
            start = meet_plane(eye, hit, vector((0.0, 0.0, -before)), vector((0.0, 0.0, -1.0)))
            source = layout.screen.at(middles[index])
            found.append(Ray(np.array([start, hit, source]), np.array([hit, edges[index]]), shift == 0.0))
    return found
