"""What a scene says of the raster, how it hangs, the figure's size and the player."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import numpy as np

from ghostprep.errors import InputError
from ghostprep.optics import make_plan
from ghostprep.picture.place import Orientation
from ghostprep.player import Profile, extend_profile, load_profile
from ghostprep.prepare.fit import Mount
from ghostprep.prepare.recipe import Recipe, plain
from ghostprep.prepare.setup import Setup
from ghostprep.scene import Scene, load_scene


def from_scene(recipe: Recipe, path: Path) -> Setup:
    """Return the scene's word on raster, mount, size and player.

    Raises
    ------
    InputError
        The scene file cannot be used, or the recipe contradicts it.
    """
    plan = make_plan(load_scene(path))
    scene, mount, figure = plan.scene, plan.mount, plan.figure
    raster = scene.screen.raster
    if recipe.raster not in {None, raster}:
        raise InputError(
            f"is {plain(recipe.raster)}, the scene's screen has {plain(raster)}",
            where="--raster",
            remedy="leave it out, or change raster in the scene file",
        )
    profile = load_profile(recipe.player) if recipe.player else profile_of(scene)
    ghost = plan.layout.ghost
    orientation = Orientation(mount.mirrored, mount.quarter_turns)
    return Setup(
        profile=profile,
        raster=raster,
        orientation=orientation,
        mount=Mount(
            mount.homography,
            orientation,
            mount.keystone_px,
            figure.height_mm,
            (float(ghost[0]), figure.feet_mm),
        ),
        homography=mount.homography,
        screen_mm=scene.screen.active,
        distance_mm=float(np.linalg.norm(plan.layout.eye - ghost)),
        white_cd_m2=plan.light.ghost,
        scene=cast("dict[str, Any]", plan.as_dict()["scene"]),
        units=scene.units,
        findings=tuple(finding for finding in plan.findings if finding.level == "fault"),
    )


def profile_of(scene: Scene) -> Profile:
    """Return the profile of a scene's player, with the scene's own keys."""
    own = scene.player.model_extra
    if own:
        return extend_profile(scene.player.profile, own, where=scene.where("player"))
    return load_profile(scene.player.profile)
