"""What runs into what in the box, and what reaches through its walls."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.optics.bodies import Body, named
from ghostprep.optics.panefit import box_faces
from ghostprep.optics.solids import Block, gap
from ghostprep.optics.vectors import Vector
from ghostprep.optics.world import Sheet, World
from ghostprep.scene import Scene

LEAST_MM: Final = 0.05
"""Parts that overlap by less touch each other: less than a saw or a printer keeps to."""
KIT: Final = frozenset({"player", "holder"})
_ENDS_ON: Final = 0.5
"""A divider meets a wall with its end, not with its flank, where it runs at 30 degrees to it or more."""
_MIRROR_MM: Final = 0.02
"""A mirror as a body, so that what runs into it is found."""


@dataclass(frozen=True, slots=True)
class Collision:
    """Two things that want the same place."""

    first: str
    second: str
    """Their names; `second` may be one of the faces of `panefit.box_faces`."""
    overlap_mm: float
    """The shortest way by which one must move so that they only touch."""


def find_collisions(world: World, pane: Block) -> tuple[Collision, ...]:
    """Return the pairs that overlap; the pane first, then in the order of the world's bodies."""
    inside = {
        name: [body.block for body in blocks]
        for name, blocks in named(world.bodies).items()
        if blocks[0].role not in {"wall", "front"}
    }
    groups = {"pane": [pane], **inside, **{m.name: [m.block(_MIRROR_MM)] for m in world.mirrors}}
    found = []
    for (first, ours), (second, theirs) in itertools.combinations(groups.items(), 2):
        if {first, second} == KIT:
            continue
        overlap = -min(gap(a, b) for a in ours for b in theirs)
        if overlap > LEAST_MM:
            found.append(Collision(first, second, overlap))
    return tuple(found)


def find_reaches(
    scene: Scene, bodies: Iterable[Body], mirrors: Iterable[Sheet] = ()
) -> tuple[Collision, ...]:
    """Return what reaches through the box's inner surfaces, by how much."""
    blocks = {
        name: parts for name, parts in named(tuple(bodies)).items() if parts[0].role not in {"wall", "front"}
    }
    flat = {mirror.name: mirror.corners for mirror in mirrors}
    found = []
    for name in (*blocks, *flat):
        for face, normal, limit in box_faces(scene):
            ends = [_farthest(b, normal) for b in blocks.get(name, ())] or (flat[name] @ normal).tolist()
            reach = max(ends) - limit
            if reach > LEAST_MM:
                found.append(Collision(name, face, reach))
    return tuple(found)


def _farthest(body: Body, normal: Vector) -> float:
    """Return how far a body reaches in a direction; a divider's end is sawn flush with what it meets."""
    half = body.block.half
    if body.role == "divider" and abs(float(body.block.axes[0] @ normal)) > _ENDS_ON:
        half = half * (1.0, 1.0, 0.0)
    return float(body.block.centre @ normal + np.abs(body.block.axes @ normal) @ half)
