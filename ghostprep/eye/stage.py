"""What is looked at: a plan's world with its paint and light, ready for any eye."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np

from ghostprep.arrays import Light
from ghostprep.eye.faces import Face, faces_of
from ghostprep.eye.light import light_maps, room_share
from ghostprep.eye.paint import (
    GROUND,
    PAPER_FIGURE,
    TILE_MM,
    colour_of,
    missing_pictures,
    on_paper,
    paper_figure,
    read_picture,
    tiles,
)
from ghostprep.eye.pane import PaneLight, pane_light
from ghostprep.finding import Finding
from ghostprep.optics import Plan
from ghostprep.optics.bodies import Body, thing_names
from ghostprep.optics.solids import gap, pane_block, upright_block
from ghostprep.optics.world import World

_ROOM_LUX: Final = 15.0
"""A dim living room in the evening. Common practice, no source."""
ROOM_REFLECTANCE: Final = 0.05
"""Of what stands in the room before and beside the box. Common practice, no source."""
MIRROR_REFLECTANCE: Final = 0.9
"""Of a front-faced mirror. Common practice, no source."""
_CARD_MM: Final = 0.4
_CARD_ASPECT: Final = 0.42
"""Thickness of the paper figure's card, and its width over its height."""
_LOW_GROUND: Final = 0.35
"""Ground up to this share of the box's height is a raised floor, higher ground something that is not told."""


@dataclass(frozen=True, slots=True, eq=False)
class Stage:
    """All that a view needs."""

    plan: Plan
    world: World
    """The plan's, with the raised floor under the figure's feet and the paper figure."""
    faces: tuple[Face, ...]
    maps: tuple[Light, ...]
    """(GRID, GRID): the light on each, 1 where the middle eye sees past the ghost's centre."""
    scenery: float
    """Luminance of the scenery there, cd/m2."""
    room_lux: float
    """Light of the room outside, lux."""
    pane: PaneLight
    room_share: float
    """Share of the room's light that comes into the box."""
    remarks: tuple[Finding, ...]
    """Pictures that cannot be shown."""

    @property
    def full(self) -> float:
        """Luminance of a perfect white where the eye sees past the ghost's centre, cd/m2."""
        return self.scenery / self.plan.scene.light.reflectance

    def from_room(self, face: Face) -> float:
        """Return the share of the room's light that a face gets."""
        outside = self.world.bodies[face.body].role == "front" and face.normal[2] < -0.5
        return 1.0 if outside else self.room_share


def stage_of(plan: Plan, *, card: bool = True, folders: tuple[Path, ...] = ()) -> Stage:
    """Return a plan, painted and lit; the things' pictures lie in `folders`.

    With `card` a paper figure of 1.70 m stands beside the ghost, where it has room.
    """
    world = plan.world.with_bodies(_raised_floor(plan))
    if card:
        world = world.with_bodies(_paper_figure(plan, world))
    names = thing_names(plan.scene)
    pictures = {name: t.picture for name, t in zip(names, plan.scene.thing, strict=True) if t.picture}
    faces, remarks, missing = [], [], []
    for number, body in enumerate(world.bodies):
        paint = colour_of(body.name, body.role, plan.scene.light.reflectance)
        picture = paper_figure() if body.name == PAPER_FIGURE else None
        if body.name in pictures:
            found = read_picture(pictures[body.name], folders)
            if isinstance(found, Finding):
                remarks.append(found)
            elif found is None:
                missing.append(pictures[body.name])
            else:
                picture = found
        for face in faces_of(number, body, paint[None, None, :]):
            if picture is not None and (face.axis, face.far) == (2, False):
                faces.append(replace(face, paint=on_paper(picture)))
            elif body.name in {"floor", GROUND} and face.normal[1] > 0.5:
                tile = TILE_MM / plan.figure.scale
                faces.append(replace(face, paint=tiles(face.size_mm, tile, plan.scene.light.reflectance)))
            else:
                faces.append(face)
    if missing:
        remarks.append(missing_pictures(missing, folders))
    # the paper figure is for the reader: it takes no light away
    lit_by = world.without(PAPER_FIGURE)
    maps, scenery = light_maps(plan, lit_by, faces)
    return Stage(
        plan,
        world,
        tuple(faces),
        tuple(maps),
        scenery,
        _ROOM_LUX,
        pane_light(plan),
        room_share(plan),
        tuple(remarks),
    )


def _raised_floor(plan: Plan) -> list[Body]:
    """Return the ground on which the figure stands, where nothing in the scene says what it is."""
    box, feet, ghost = plan.scene.box, plan.figure.feet_mm, plan.layout.ghost
    if not 0 < feet < _LOW_GROUND * box.height:
        return []
    start = np.array([[ghost[0], feet + 0.1, ghost[2]]])
    _, far = plan.world.first_body(start, np.array([[0.0, -1.0, 0.0]]))
    if far[0] < 1.0:
        return []
    low, high = (-box.width / 2, 0.0, 0.0), (box.width / 2, feet, box.depth)
    return [Body(GROUND, "wall", "", upright_block(low, high))]


def _paper_figure(plan: Plan, world: World) -> list[Body]:
    """Return a card with a passenger beside the ghost, on the side where it has room; none if on neither."""
    tall = 1700.0 / plan.figure.scale
    wide = tall * _CARD_ASPECT
    (x, _, z), feet = plan.layout.ghost, plan.figure.feet_mm
    aside = max(0.3 * plan.scene.box.width, 0.5 * wide)
    sheet = pane_block(plan.scene, plan.layout, plan.pane)
    others = [body.block for body in world.bodies if body.name != GROUND] + [sheet]
    for middle in (x + min(aside, 0.5 * plan.scene.box.width - wide / 2), x - aside):
        low = (middle - wide / 2, feet, z - _CARD_MM / 2)
        block = upright_block(low, (middle + wide / 2, feet + tall, z + _CARD_MM / 2))
        if all(gap(block, other) > -1e-6 for other in others):
            return [Body(PAPER_FIGURE, "thing", "", block)]
    return []
