"""A scene with one thing changed: what a remedy would make of it."""

from __future__ import annotations

import math
from typing import Any

from pydantic import BaseModel

from ghostprep.scene import Scene, ruler_step
from ghostprep.scene.furniture import Divider, Thing

Offset = tuple[float, float, float]


def with_keys(scene: Scene, table: str, **keys: Any) -> Scene:
    """Return the scene with other values of some keys of a table."""
    return scene.model_copy(update={table: getattr(scene, table).model_copy(update=keys)})


def with_one(scene: Scene, table: str, place: int, **keys: Any) -> Scene:
    """Return the scene with other values of some keys of one of several tables (from 0)."""
    made = list(getattr(scene, table))
    made[place] = made[place].model_copy(update=keys)
    return scene.model_copy(update={table: tuple(made)})


def changed(before: Scene, after: Scene) -> frozenset[str]:
    """Return the keys in which two scenes differ ("box.depth"); of several tables ("divider") their name."""
    found = set[str]()
    for table in type(before).model_fields:
        old, new = getattr(before, table), getattr(after, table)
        if isinstance(old, BaseModel) and isinstance(new, BaseModel):
            keys = (key for key in type(old).model_fields if getattr(old, key) != getattr(new, key))
            found.update(f"{table}.{key}" for key in keys)
        elif old != new:
            found.add(table)
    return frozenset(found)


def with_sway(scene: Scene, share: float) -> Scene:
    """Return the scene with a share of the viewer's sway, down to marks on the ruler."""
    step = ruler_step(scene.units)
    across, up = (math.floor(share * sway / step + 1e-9) * step for sway in scene.viewer.sway)
    return with_keys(scene, "viewer", sway=(across, up))


def with_opening(scene: Scene, width: float, height: float, sill: float) -> Scene | None:
    """Return the scene with another opening, mm; None if the box has no room for it."""
    box = scene.box
    if width > box.width + 1e-6 or sill < -1e-6 or sill + height > box.height + 1e-6:
        return None
    opening = box.opening.model_copy(update={"width": width, "sill": max(sill, 0.0), "height": height})
    return with_keys(scene, "box", opening=opening)


def deeper(divider: Divider, by_mm: float) -> Divider:
    """Return a divider that stands deeper in the box."""
    (x0, z0), (x1, z1) = divider.start, divider.end
    return divider.model_copy(update={"start": (x0, z0 + by_mm), "end": (x1, z1 + by_mm)})


def with_divider_moved(scene: Scene, number: int, by_mm: float) -> Scene:
    """Return the scene with a divider (from 1) moved deeper."""
    dividers = list(scene.divider)
    dividers[number - 1] = deeper(dividers[number - 1], by_mm)
    return scene.model_copy(update={"divider": tuple(dividers)})


def with_mirror_moved(scene: Scene, number: int, by: Offset) -> Scene | None:
    """Return the scene with a mirror (from 1) moved over the floor; None if it would leave the box."""
    old, box = scene.mirror[number - 1], scene.box
    start, end = ((x + by[0], z + by[2]) for x, z in (old.start, old.end))
    if any(abs(x) > box.width / 2 + 1e-6 or not -1e-6 <= z <= box.depth + 1e-6 for x, z in (start, end)):
        return None
    return with_one(scene, "mirror", number - 1, start=start, end=end)


def with_thing(scene: Scene, place: int, by: Offset) -> Scene:
    """Return the scene with a thing (from 0) moved."""
    return with_one(scene, "thing", place, at=_moved(scene.thing[place].at, by))


def with_curtain(scene: Scene, side: str, width_mm: float, off_mm: float = 0.0) -> Scene:
    """Return the scene with a curtain right behind one side of the opening, or a post so far off it."""
    o, box, thin = scene.box.opening, scene.box, 1.0
    half = o.width / 2
    x, wide, y, high = {
        "left": (-half + off_mm + width_mm / 2, width_mm, 0.0, box.height),
        "right": (half - off_mm - width_mm / 2, width_mm, 0.0, box.height),
        "bottom": (0.0, box.width, 0.0, o.sill + width_mm),
        "top": (0.0, box.width, o.sill + o.height - width_mm, box.height - o.sill - o.height + width_mm),
    }[side]
    # it hangs before the front's inner edge, where the trim that it stands for would be
    curtain = Thing(
        name="post" if off_mm else "curtain", at=(x, y, thin / 2), size=(wide, max(high, 0.1), thin)
    )
    return scene.model_copy(update={"thing": (*scene.thing, curtain)})


def _moved(point: Offset, by: Offset) -> Offset:
    return point[0] + by[0], point[1] + by[1], point[2] + by[2]
