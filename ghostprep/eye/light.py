"""How the lamps light the box: one small map of light for each face."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from ghostprep.arrays import Light
from ghostprep.eye.faces import GRID, Face
from ghostprep.optics import Plan
from ghostprep.optics.lamps import LightSource, illuminance, sources
from ghostprep.optics.sightlines import opening_of
from ghostprep.optics.vectors import vector
from ghostprep.optics.world import World

_BOUNCED: Final = 0.7
"""Share of the light that comes from the other walls, the same everywhere: pale walls in a small box."""
_LAMP_MM: Final = 15.0
"""A lamp has a size: without it the spot on the wall beside it would be endlessly bright."""


def light_maps(plan: Plan, world: World, faces: Sequence[Face]) -> tuple[list[Light], float]:
    """Return each face's light (GRID, GRID), 1 where the eye sees past the ghost's centre, and that in cd/m2.

    What every lamp and strip throws (`illuminance`), and an even share that the walls throw on each
    other. Without lamps a pendant is taken before the ghost, near the ceiling. The luminance there is the
    scene's own word, or what its lamps throw and the walls throw back.
    """
    told, lights = plan.scene.light.scene, sources(plan.scene)
    given = told is not None or not lights
    lights = lights or [_pendant(plan)]
    cells = np.concatenate([face.cells() for face in faces])
    normals = np.repeat([face.normal for face in faces], GRID * GRID, axis=0)
    direct = illuminance(plan.scene, world, lights, cells, normals, radius_mm=_LAMP_MM)
    areas = np.repeat([math.prod(face.size_mm) for face in faces], GRID * GRID)
    lit = direct > 0
    even = _BOUNCED * float(np.average(direct[lit], weights=areas[lit])) if lit.any() else 1.0
    eye = plan.layout.eye
    behind = world.trace(eye[None, :], (plan.layout.ghost - eye)[None, :])
    here = even
    if behind.end[0] >= 0:
        normal = world.normals_at(behind.end, behind.point)
        at = behind.point + 0.05 * normal
        here += float(illuminance(plan.scene, world, lights, at, normal, radius_mm=_LAMP_MM)[0])
    maps = ((direct + even) / here).astype(np.float32)
    # a matt surface of reflectance r sends back r E / pi
    thrown = here / math.pi * plan.scene.light.reflectance
    return list(maps.reshape(-1, GRID, GRID)), plan.light.scenery if given else thrown


def _pendant(plan: Plan) -> LightSource:
    box, z = plan.scene.box, 0.6 * float(plan.layout.ghost[2])
    return LightSource("pendant", vector((0.0, 0.9 * box.height, z))[None, :], 1.0, None)


def room_share(plan: Plan) -> float:
    """Return the share of the room's light that reaches the back wall through the opening.

    The opening is a small even source seen from the middle of the back wall: its view
    factor is area / (pi distance^2) as long as it is small, and never more than 1.
    """
    o = opening_of(plan.scene)
    area = (o.right - o.left) * (o.high - o.low)
    return area / (math.pi * plan.scene.box.depth**2 + area)
