"""Which scene a loop is shown in: the one named, the one it was made for, or an assumed box."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pydantic

from ghostprep.errors import GhostprepError, InputError
from ghostprep.optics import Plan, make_plan
from ghostprep.optics.mount import Mount
from ghostprep.optics.planning import measure, mount_of
from ghostprep.picture.place import Orientation
from ghostprep.provenance import value_in
from ghostprep.scene import Scene, load_scene, parse_scene

_PITCH_MM = 0.153
_LONGEST_MM = 154.0
"""A small panel's pitch, and the longer side of the largest: 7 inches (common practice, no source)."""
_FULL = 0.94
"""Share of the picture's height that a figure fills of which nothing else is known."""
_WHOLE = (0.0, 0.0, 1.0, 1.0)


@dataclass(frozen=True, slots=True, eq=False)
class Backdrop:
    """Where a loop is shown."""

    plan: Plan
    orientation: Orientation
    """How the raster was made from the upright picture."""
    assumed: str = ""
    """What was taken for want of a scene, for the reader; empty if nothing."""
    scene: Path | None = None
    """The scene file."""
    folders: tuple[Path, ...] = ()
    """Where the things' pictures are looked for."""


def find_backdrop(
    loop: Path,
    raster: tuple[int, int],
    scene: Path | None,
    report: Mapping[str, Any],
    *,
    trouble: str = "",
    lit: tuple[float, float, float, float] = _WHOLE,
) -> Backdrop:
    """Return where to show a loop of a raster: in the scene that was named, or that its report tells of.

    `trouble` says why a report that lies beside the loop is not used; it is empty if none does. `lit` is the
    part of the raster that is ever lit, as shares (left, top, right, bottom): on an assumed box's floor it
    stands.

    Raises
    ------
    InputError
        The scene cannot be used, or its raster is not the loop's.
    """
    named = scene is not None
    scene = scene or _made_for(loop, report)
    if scene is not None:
        plan = make_plan(load_scene(scene))
        if named and plan.scene.screen.raster != raster:
            wide, high = plan.scene.screen.raster
            raise InputError(
                f"its screen has {wide}x{high} pixels, the loop has {raster[0]}x{raster[1]}",
                where=str(scene),
                remedy="make the loop for this scene, or name the scene it was made for",
            )
        return Backdrop(plan, _orientation(plan), scene=scene, folders=(scene.parent,))
    if (in_report := value_in(report, "scene", kind=dict)) is None:
        return _assumed(raster, report, trouble or "No scene was named", lit)
    try:
        plan = make_plan(_told_scene(in_report))
    except (GhostprepError, pydantic.ValidationError):
        return _assumed(raster, report, "The scene in the loop's report cannot be built", lit)
    if plan.scene.screen.raster != raster:
        return _assumed(raster, report, "The scene in the loop's report has another raster", lit)
    return Backdrop(plan, _orientation(plan), folders=(loop.parent, Path()))


def _told_scene(values: Mapping[str, Any]) -> Scene:
    """Return the scene of a report, which is in mm and has the size of pane that was computed filled in.

    A size that was computed belongs to a place of its own, which a given one need not have. So it is left
    open where the plan then comes to the same size, in whole millimetres or in sixteenths of an inch;
    that tells the builder's unit, too.
    """
    size = value_in(values, "pane", "size", kind=list)
    if size is not None and len(size) == 2:
        for units in ("mm", "in"):
            pane = {key: value for key, value in values["pane"].items() if key != "size"}
            scene = Scene.model_validate({**values, "units": units, "pane": pane}, context={"units": "mm"})
            if np.allclose(measure(scene).pane.cut, size, atol=1e-3):
                return scene
    return Scene.model_validate(values, context={"units": "mm"})


def _made_for(loop: Path, report: Mapping[str, Any]) -> Path | None:
    """Return the scene file that a loop was made for, if it lies beside it or here and still says the same.

    The report has the scene in mm with all that follows filled in; the file has the builder's own unit.
    """
    name = value_in(report, "recipe", "scene", kind=str)
    if name is None or Path(name).name != name:
        return None
    for path in (loop.parent / name, Path(name)):
        try:
            if path.is_file() and _as_told(path) == report["scene"]:
                return path
        except (GhostprepError, KeyError):
            continue
    return None


def _as_told(scene: Path) -> object:
    """Return a scene file as a report tells it."""
    return json.loads(json.dumps(measure(load_scene(scene)).as_dict()["scene"]))


def _orientation(plan: Plan) -> Orientation:
    return Orientation(plan.mount.mirrored, plan.mount.quarter_turns)


def _assumed(
    raster: tuple[int, int], report: Mapping[str, Any], why: str, lit: tuple[float, float, float, float]
) -> Backdrop:
    """Return a plain box around a screen of an ordinary pitch, for the orientation that the loop has."""
    recipe = value_in(report, "recipe", kind=dict) or {}
    reflections, turn = recipe.get("reflections", 1), recipe.get("turn", 0)
    if not isinstance(reflections, int) or turn not in (0, 90, 180, 270):
        reflections, turn = 1, 0
    wanted = Orientation.of(reflections, turn)
    # an even number of mirrors: as if the player mirrored its picture before the one pane does
    mounts = {
        top: mount_of(parse_scene(_box(raster, top, mirrored=not wanted.mirrored)))
        for top in ("up", "front", "back", "down")
    }
    top = next(top for top, mount in mounts.items() if mount.quarter_turns == wanted.quarter_turns)
    stands = _stands(mounts[top], raster, lit)
    plan = measure(parse_scene(_box(raster, top, mirrored=not wanted.mirrored, stands=stands)))
    active = plan.scene.screen.active
    light, distance = plan.light, plan.scene.viewer.distance
    words = (
        f"{why}, so an ordinary box is assumed: a screen of "
        f"{active[0]:.0f} x {active[1]:.0f} mm with {plan.scene.screen.luminance:.0f} cd/m², "
        "a pane of 2 mm acrylic at 45 degrees, scenery of "
        f"{light.scenery:.0f} cd/m², the eye {distance:.0f} mm away, scale 1:{plan.figure.scale:.0f}. "
        "Sizes and light are only as right as that; add --scene for your own."
    )
    return Backdrop(plan, wanted, assumed=words)


def _stands(
    mount: Mount, raster: tuple[int, int], lit: tuple[float, float, float, float]
) -> tuple[float, float]:
    """Return where in the upright picture what is lit begins and ends, as shares of its height from below."""
    # the screen stands square to its ghost, so two opposite corners give all heights
    part, whole = (
        np.sort(mount.to_ghost(np.multiply(np.reshape(ends, (2, 2)), raster))[:, 1]) for ends in (lit, _WHOLE)
    )
    begins, ends = (part - whole[0]) / (whole[1] - whole[0])
    return float(begins), float(ends)


def _box(
    raster: tuple[int, int], top: str, *, mirrored: bool, stands: tuple[float, float] = (0.0, 1.0)
) -> str:
    pitch = min(_PITCH_MM, _LONGEST_MM / max(raster))
    active = raster[0] * pitch, raster[1] * pitch
    wide, high = active if top in {"up", "down"} else active[::-1]
    tall = high * max(min(stands[1] - stands[0], _FULL), 0.1)
    middle = high * (0.5 - stands[0])  # so that the figure's feet are on the floor
    width, height = max(1.5 * wide, 1.1 * high), 1.7 * high
    screen_x = width / 2 - 3
    screen_z = 0.55 * width
    return f"""
scale = "1:{1700 / tall:.6f}"
[box]
width = {width:.2f}
height = {height:.2f}
depth = {screen_z + screen_x + 0.6 * high:.2f}
opening = {{ width = {0.65 * width:.2f}, height = {0.86 * height:.2f}, sill = {0.03 * height:.2f} }}
[viewer]
distance = 600
height = {0.62 * height:.2f}
[screen]
wall = "left"
centre = [{-screen_x:.2f}, {middle:.2f}, {screen_z:.2f}]
top = "{top}"
mirrored = {str(mirrored).lower()}
raster = [{raster[0]}, {raster[1]}]
active = [{active[0]:.3f}, {active[1]:.3f}]
[ghost]
at = [0, {middle:.2f}, {screen_z + screen_x:.2f}]
"""
