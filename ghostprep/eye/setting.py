"""Which scene a loop is shown in: the one named, the one it was made for, or an assumed box."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pydantic

from ghostprep.errors import GhostprepError, InputError
from ghostprep.eye.stage import Stage, stage_of
from ghostprep.optics import Panel, Plan, make_plan
from ghostprep.picture.place import Orientation
from ghostprep.scene import Scene, load_scene, parse_scene

_PITCH_MM = 0.153
_LONGEST_MM = 154.0


@dataclass(frozen=True, eq=False)
class Setting:
    """Where a loop is shown.

    Attributes
    ----------
    plan : Plan
    stage : Stage
        The plan's, as the view needs it.
    orientation : Orientation
        How the raster was made from the upright picture.
    assumed : str
        What was taken for want of a scene, for the reader; empty if nothing.
    """

    plan: Plan
    stage: Stage
    orientation: Orientation
    assumed: str = ""


def find_setting(raster: tuple[int, int], scene: Path | None, report: Mapping[str, Any]) -> Setting:
    """Return where to show a loop.

    Parameters
    ----------
    raster : tuple of int
        Of the loop.
    scene : Path or None
        The scene file that was named.
    report : mapping
        What `make` wrote beside the loop; empty if there is none.

    Raises
    ------
    InputError
        The scene cannot be used, or its raster is not the loop's.
    """
    if scene is not None:
        plan = make_plan(load_scene(scene))
        if plan.scene.screen.raster != raster:
            wide, high = plan.scene.screen.raster
            raise InputError(
                f"its screen has {wide}x{high} pixels, the loop has {raster[0]}x{raster[1]}",
                where=str(scene),
                remedy="make the loop for this scene, or name the scene it was made for",
            )
        return _from_plan(plan, "")
    told = _scene_of(report)
    if told is not None and told.screen.raster == raster:
        try:
            return _from_plan(make_plan(told), "")
        except GhostprepError:
            pass  # the report was changed by hand; what is left is an assumed box
    return _assumed(raster, report)


def _from_plan(plan: Plan, assumed: str) -> Setting:
    mount = plan.mount
    return Setting(plan, stage_of(plan), Orientation(mount.mirrored, mount.quarter_turns), assumed)


def _scene_of(report: Mapping[str, Any]) -> Scene | None:
    values = report.get("scene")
    if not isinstance(values, dict):
        return None
    values = dict(values)
    scale = values.get("scale")
    if isinstance(scale, dict) and scale.get("far") is None and isinstance(scale.get("near"), dict):
        factor = scale["near"].get("factor")
        if not isinstance(factor, int | float) or not factor > 0:
            return None
        values["scale"] = f"1:{1 / factor:.9f}"
    elif isinstance(scale, dict) and isinstance(scale.get("ratio"), int | float):
        values["scale"] = f"1:{scale['ratio']:.9f}"
    try:
        return Scene.model_validate(values, context={"units": "mm"})
    except pydantic.ValidationError:
        return None


def _assumed(raster: tuple[int, int], report: Mapping[str, Any]) -> Setting:
    """Return a plain box around a screen of an ordinary pitch, for the orientation that the loop has."""
    recipe = report.get("recipe")
    recipe = recipe if isinstance(recipe, dict) else {}
    reflections, turn = recipe.get("reflections", 1), recipe.get("turn", 0)
    if not isinstance(reflections, int) or turn not in {0, 90, 180, 270}:
        reflections, turn = 1, 0
    wanted = Orientation.of(reflections, turn)
    plan = next(
        plan
        for plan in (make_plan(parse_scene(_box(raster, top))) for top in ("up", "front", "back", "down"))
        if plan.mount.quarter_turns == wanted.quarter_turns
    )
    stage = stage_of(plan)
    if not wanted.mirrored:
        # an even number of mirrors: what one pane turns round is turned round once more
        odd = wanted.quarter_turns % 2 == 1
        stage = replace(stage, screen=_flipped(stage.screen, odd), image=_flipped(stage.image, odd))
    active = plan.scene.screen.active
    light, distance = plan.light, plan.scene.viewer.distance
    words = (
        "No scene was named, so an ordinary box is assumed: a screen of "
        f"{active[0]:.0f} x {active[1]:.0f} mm with {plan.scene.screen.luminance:.0f} cd/m², "
        "a pane of 2 mm acrylic at 45 degrees, scenery of "
        f"{light.scenery:.0f} cd/m², the eye {distance:.0f} mm away, scale 1:{plan.figure.scale:.0f}. "
        "Sizes and light are only as right as that; add --scene for your own."
    )
    return Setting(plan, stage, wanted, words)


def _flipped(panel: Panel, upside: bool) -> Panel:
    return replace(panel, up=-panel.up) if upside else replace(panel, right=-panel.right)


def _box(raster: tuple[int, int], top: str) -> str:
    pitch = min(_PITCH_MM, _LONGEST_MM / max(raster))
    active = raster[0] * pitch, raster[1] * pitch
    wide, high = active if top in {"up", "down"} else active[::-1]
    tall = high * 0.94  # of the figure: it fills the screen's height but for a rim
    width, height = max(1.5 * wide, 1.1 * high), 1.7 * high
    screen_x = width / 2 - 3
    screen_z = 0.55 * width
    return f"""
scale = "1:{1700 / tall:.6f}"
[box]
width = {width:.2f}
height = {height:.2f}
depth = {screen_z + screen_x + 0.6 * high:.2f}
opening = {{ width = {0.8 * width:.2f}, height = {0.86 * height:.2f}, sill = {0.03 * height:.2f} }}
[viewer]
distance = 600
height = {0.62 * height:.2f}
[screen]
wall = "left"
centre = [{-screen_x:.2f}, {high / 2:.2f}, {screen_z:.2f}]
top = "{top}"
raster = [{raster[0]}, {raster[1]}]
active = [{active[0]:.3f}, {active[1]:.3f}]
[ghost]
at = [0, {high / 2:.2f}, {screen_z + screen_x:.2f}]
"""
