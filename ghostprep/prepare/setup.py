"""What the loop is made for: the raster, how it hangs in the scene, the player."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

import numpy as np

from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.optics import make_plan
from ghostprep.picture.place import Matrix, Orientation
from ghostprep.player import DEFAULT_NAME, Profile, extend_profile, load_profile
from ghostprep.prepare.fit import Mount
from ghostprep.prepare.recipe import Recipe, plain
from ghostprep.proof.upright import mount_homography
from ghostprep.scene import Scene, load_scene


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """What the loop is made for.

    Attributes
    ----------
    profile : Profile
    raster : tuple of int
    orientation : Orientation
        The flips and turns that make the picture right once reflected.
    mount : Mount or None
        The scene's exact word on size and place; None without a scene.
    homography : ndarray (3, 3)
        From what is seen (x right, y up) to raster px, for the proofs: ray traced where a
        scene is known, pixels where not.
    screen_mm : tuple of float or None
        Lit area along the raster's width and height.
    distance_mm : float or None
        From the eye to the ghost.
    white_cd_m2 : float or None
        White as the eye sees it in the pane.
    scene : dict or None
        The scene as it stands in the report.
    findings : tuple of Finding
        The faults of the scene itself.
    """

    profile: Profile
    raster: tuple[int, int]
    orientation: Orientation
    mount: Mount | None
    homography: Matrix
    screen_mm: tuple[float, float] | None = None
    distance_mm: float | None = None
    white_cd_m2: float | None = None
    scene: dict[str, Any] | None = None
    findings: tuple[Finding, ...] = ()


def set_up(recipe: Recipe) -> Setup:
    """Return what the recipe asks to make the loop for.

    Raises
    ------
    InputError
        The scene file or the profile cannot be used.
    """
    if recipe.scene is not None:
        return _from_scene(recipe, recipe.scene)
    profile = load_profile(recipe.player or DEFAULT_NAME)
    raster = recipe.raster or profile.raster.usual
    orientation = Orientation.of(recipe.reflections, recipe.turn)
    seen = mount_homography(raster, mirrored=orientation.mirrored, quarter_turns=orientation.quarter_turns)
    return Setup(profile=profile, raster=raster, orientation=orientation, mount=None, homography=seen)


def _from_scene(recipe: Recipe, path: Path) -> Setup:
    """Return the scene's word on raster, mount, size and player."""
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
        findings=tuple(finding for finding in plan.findings if finding.level == "fault"),
    )


def profile_of(scene: Scene) -> Profile:
    """Return the profile of a scene's player, with the scene's own keys."""
    own = scene.player.model_extra
    if own:
        return extend_profile(scene.player.profile, own, where=scene.where("player"))
    return load_profile(scene.player.profile)
