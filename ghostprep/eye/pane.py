"""What the pane does to light, as tables over the cosine of the incidence, for still and page alike."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.arrays import Floats
from ghostprep.optics import Plan
from ghostprep.optics.fresnel import doubling_mm, face_reflectance, pane_reflectance
from ghostprep.optics.vectors import Vector, unit
from ghostprep.optics.world import Sheet

_STEPS: Final = 256
"""Rows of the tables, less one, even in the cosine."""
_SMALLEST: Final = 1e-6
"""Below this sine light falls straight on, where 0 / 0 has a limit."""


@dataclass(frozen=True, slots=True, eq=False)
class PaneLight:
    """Shares of light, each over the cosines 0..1 of the incidence in even steps."""

    first: Floats
    second: Floats
    """(n,): of the screen's light, in the image from the front face and in all from the back face."""
    through: Floats
    """(n,): of unpolarised light that passes; the rest is mirrored."""
    deeper_mm: Floats
    """(n,): how far behind the first image, along the pane's normal, the second one lies."""

    def cosine(self, plan: Plan, eye: Vector) -> float:
        """Return the cosine of the incidence of the ray from an eye to the ghost's centre."""
        return abs(float(unit(plan.layout.ghost - eye) @ plan.layout.pane_normal))

    def second_face(self, plan: Plan, eye: Vector) -> Sheet:
        """Return the mirror that sends the screen's second image, as an eye sees it."""
        deeper = float(look_up(self.deeper_mm, np.array([self.cosine(plan, eye)]))[0])
        normal = plan.layout.pane_normal
        return Sheet("pane", plan.pane.corners - normal * deeper / 2, normal)


def look_up(table: Floats, cosines: Vector) -> Floats:
    """Return a table's values at cosines 0..1 (n,), interpolated."""
    found = np.interp(cosines, np.linspace(0, 1, len(table)), table)
    return found.astype(np.float32)


def pane_light(plan: Plan) -> PaneLight:
    """Return the tables of a plan's pane, for its screen's polarisation as mounted.

    Both faces reflect, each polarisation by itself: R from the front, and 2R / (1 + R) in all. Where
    the two rays leave the pane they are `doubling_mm` apart across the ray, so the second image lies
    deeper along the normal by that over the sine of the incidence.
    """
    index, thickness, light = plan.scene.pane.index, plan.scene.pane.thickness, plan.light
    whole = pane_reflectance(light.incidence_deg, index)
    spread = whole.s - whole.p
    share = 0.5 if spread < 1e-9 else min(max((light.reflectance - whole.p) / spread, 0.0), 1.0)
    rows = []
    for cosine in np.linspace(0, 1, _STEPS + 1):
        angle = math.degrees(math.acos(cosine))
        first, both = face_reflectance(angle, index).mixed(share), pane_reflectance(angle, index)
        sine = math.sin(math.radians(angle))
        deeper = 2 * thickness / index if sine < _SMALLEST else doubling_mm(angle, index, thickness) / sine
        rows.append((first, both.mixed(share) - first, 1 - both.mixed(0.5), deeper))
    return PaneLight(*np.array(rows, np.float32).T)
