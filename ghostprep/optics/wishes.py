"""What has to give where no layout keeps all that a scene wishes for: feet, figure, sway, the box itself."""

from __future__ import annotations

import math
from collections.abc import Iterator
from collections.abc import Set as AbstractSet
from typing import Final

from ghostprep.errors import InputError
from ghostprep.optics.advice.collect import faults_of
from ghostprep.optics.changes import with_keys, with_sway
from ghostprep.optics.layout import lay_out
from ghostprep.optics.mount import Figure, find_figure
from ghostprep.optics.planning import measure
from ghostprep.scene import MM_PER, Scene, rounded_up
from ghostprep.scene.lengths import ruler_step

YIELDING: Final = ("ghost.feet", "ghost.figure", "viewer.sway")
"""Wishes that a layout may be eased by, the least first."""
SIDES: Final = ("box.width", "box.height", "box.depth")
_SHARES: Final = (0.75, 0.5, 0.25)
"""Of the sway; with less, nobody may move."""
_GROWTHS: Final = (1.05, 1.1, 1.2, 1.35, 1.6)
"""How much larger a box is tried, each time as a whole."""


def on_its_ground(scene: Scene, free: AbstractSet[str]) -> Scene:
    """Return the scene with its ground raised into the picture, and its figure made to fit, if these may."""
    for key in YIELDING[:2]:
        if key not in free:
            continue
        scene = _fitting(scene, find_figure(scene, lay_out(scene))[0], key)
    return scene


def _fitting(scene: Scene, figure: Figure, key: str) -> Scene:
    step = MM_PER["in" if scene.units == "in" else "cm"]
    low, high = figure.lit_mm
    if key == "ghost.feet" and not low - 1e-6 <= figure.feet_mm < high:
        return with_keys(scene, "ghost", feet=rounded_up(low, scene.units))
    if key == "ghost.figure" and figure.height_mm > figure.largest_mm + 1e-6:
        tall = math.floor(figure.largest_mm * figure.scale / step + 1e-9) * step
        return with_keys(scene, "ghost", figure=max(tall, step))
    return scene


def with_less_sway(scene: Scene, free: AbstractSet[str]) -> Iterator[Scene]:
    """Yield the scene as it is, and then with ever less of its sway where that may give."""
    yield scene
    if "viewer.sway" in free and max(scene.viewer.sway) > 0:
        yield from (with_sway(scene, share) for share in _SHARES)


def with_most_sway(scene: Scene, wished: Scene) -> Scene:
    """Return a layout without faults with as much of the wished sway as leaves it so: each way by itself."""
    step = ruler_step(scene.units)
    for axis, most in enumerate(wished.viewer.sway):
        low, high, tried = scene.viewer.sway[axis], most, most
        while low < tried:
            sway = [tried if n == axis else old for n, old in enumerate(scene.viewer.sway)]
            more = with_keys(scene, "viewer", sway=(sway[0], sway[1]))
            low, high, scene = (tried, high, more) if _clean(more) else (low, tried, scene)
            tried = math.floor((low + high) / 2 / step + 1e-9) * step
    return scene


def _clean(scene: Scene) -> bool:
    try:
        return not faults_of(measure(scene))
    except InputError:
        return False


def larger(scene: Scene, free: AbstractSet[str]) -> Iterator[Scene]:
    """Yield the scene as it is, and then in boxes ever larger, in those of its sides that `free` names."""
    yield scene
    box = scene.box
    for growth in _GROWTHS:
        sides = {
            name: rounded_up(growth * getattr(box, name), scene.units)
            for name in ("width", "height", "depth")
            if f"box.{name}" in free
        }
        if not sides:
            return
        opening = box.opening
        if box.open_front:
            opening = opening.model_copy(update={k: v for k, v in sides.items() if k != "depth"})
        yield with_keys(scene, "box", **sides, opening=opening)
