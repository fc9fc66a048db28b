"""What the loop is made for: the raster, how it hangs in the scene, the player."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ghostprep.finding import Finding
from ghostprep.picture.place import Matrix, Orientation
from ghostprep.player import DEFAULT_NAME, Profile, load_profile
from ghostprep.prepare.fit import Mount
from ghostprep.prepare.recipe import REFLECTIONS, Recipe
from ghostprep.proof.upright import mount_homography


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
    units : {"mm", "cm", "in"}
        In which the builder reads lengths.
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
    units: str = "mm"
    findings: tuple[Finding, ...] = ()


def set_up(recipe: Recipe) -> Setup:
    """Return what the recipe asks to make the loop for.

    Raises
    ------
    InputError
        The scene file or the profile cannot be used.
    """
    if recipe.scene is not None:
        # the optics take a third of the time that all of us take to load, and only a scene needs them
        from ghostprep.prepare.setup_scene import from_scene

        return from_scene(recipe, recipe.scene)
    profile = load_profile(recipe.player or DEFAULT_NAME)
    raster = recipe.raster or profile.raster.usual
    mirrors = REFLECTIONS if recipe.reflections is None else recipe.reflections
    orientation = Orientation.of(mirrors, recipe.turn or 0)
    seen = mount_homography(raster, mirrored=orientation.mirrored, quarter_turns=orientation.quarter_turns)
    return Setup(profile=profile, raster=raster, orientation=orientation, mount=None, homography=seen)
