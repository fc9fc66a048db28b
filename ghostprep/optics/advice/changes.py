"""A scene with one thing changed: what a remedy would make of it."""

from __future__ import annotations

from typing import Any

from ghostprep.scene import Scene
from ghostprep.scene.furniture import Divider, Doorway, Mirror, Thing


def with_screen(scene: Scene, by: tuple[float, float, float]) -> Scene | None:
    """Return the scene with the screen moved, and with it what follows from it; None if it has no place."""
    centre = scene.screen.centre
    if centre is None:
        return None
    return _with(scene, "screen", centre=_moved(centre, by))


def with_pane(scene: Scene, **keys: Any) -> Scene:
    """Return the scene with other keys of the pane."""
    return _with(scene, "pane", **keys)


def with_opening(scene: Scene, *, wider: float, lower: float, higher: float) -> Scene | None:
    """Return the scene with a larger opening; None if the box has no room for it."""
    box, o = scene.box, scene.box.opening
    width, sill = o.width + wider, o.sill - lower
    height = o.height + lower + higher
    if width > box.width + 1e-6 or sill < -1e-6 or sill + height > box.height + 1e-6:
        return None
    opening = o.model_copy(update={"width": width, "sill": max(sill, 0.0), "height": height})
    return scene.model_copy(update={"box": box.model_copy(update={"opening": opening})})


def with_out(scene: Scene, way: str) -> Scene:
    """Return the scene with another way for the player to slide out."""
    return _with(scene, "holder", out=way)


def with_divider_moved(scene: Scene, number: int, deeper_mm: float) -> Scene:
    """Return the scene with a divider (from 1) moved deeper."""
    old = scene.divider[number - 1]
    ends = {
        name: (point[0], point[1] + deeper_mm) for name, point in (("start", old.start), ("end", old.end))
    }
    return with_divider(scene, number, old.model_copy(update=ends))


def with_doorway(scene: Scene, number: int, place: int | None, door: Doorway) -> Scene:
    """Return the scene with a doorway of a divider changed, or added where `place` is None."""
    old = scene.divider[number - 1]
    doors = list(old.doorways)
    if place is None:
        doors.append(door)
    else:
        doors[place] = door
    return with_divider(scene, number, old.model_copy(update={"doorways": tuple(doors)}))


def with_divider(scene: Scene, number: int, divider: Divider) -> Scene:
    """Return the scene with another divider in the place of one (from 1)."""
    made = list(scene.divider)
    made[number - 1] = divider
    return scene.model_copy(update={"divider": tuple(made)})


def with_mirror(scene: Scene, number: int, mirror: Mirror) -> Scene:
    """Return the scene with another mirror in the place of one (from 1)."""
    made = list(scene.mirror)
    made[number - 1] = mirror
    return scene.model_copy(update={"mirror": tuple(made)})


def with_thing(scene: Scene, place: int, by: tuple[float, float, float]) -> Scene:
    """Return the scene with a thing (from 0) moved."""
    made = list(scene.thing)
    made[place] = made[place].model_copy(update={"at": _moved(made[place].at, by)})
    return scene.model_copy(update={"thing": tuple(made)})


def with_curtain(scene: Scene, side: str, width_mm: float) -> Scene:
    """Return the scene with a curtain right behind one side of the opening."""
    o, box, thin = scene.box.opening, scene.box, 1.0
    half = o.width / 2
    x, wide, y, high = {
        "left": (-half + width_mm / 2, width_mm, 0.0, box.height),
        "right": (half - width_mm / 2, width_mm, 0.0, box.height),
        "bottom": (0.0, box.width, 0.0, o.sill + width_mm),
        "top": (0.0, box.width, o.sill + o.height - width_mm, box.height - o.sill - o.height + width_mm),
    }[side]
    # it hangs before the front's inner edge, where the trim that it stands for would be
    curtain = Thing(name="curtain", at=(x, y, thin / 2), size=(wide, max(high, 0.1), thin))
    return scene.model_copy(update={"thing": (*scene.thing, curtain)})


def _with(scene: Scene, table: str, **keys: Any) -> Scene:
    return scene.model_copy(update={table: getattr(scene, table).model_copy(update=keys)})


def _moved(point: tuple[float, float, float], by: tuple[float, float, float]) -> tuple[float, float, float]:
    return point[0] + by[0], point[1] + by[1], point[2] + by[2]
