"""What the loop is made for: the raster, how it hangs in the scene, the player."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from ghostprep.arrays import Doubles
from ghostprep.clip import ClipFacts
from ghostprep.clip.source import own_name
from ghostprep.deliver import check_destination
from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.picture.place import Orientation
from ghostprep.player import DEFAULT_NAME, Profile, load_profile
from ghostprep.player.control import check_taken
from ghostprep.player.rate import choose_rate
from ghostprep.prepare.fit import GhostPlace
from ghostprep.prepare.recipe import Recipe, plain
from ghostprep.proof.flash import FlashProof
from ghostprep.proof.flash_area import SeenScreen
from ghostprep.proof.upright import mount_homography

if TYPE_CHECKING:
    from ghostprep.optics import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """What the loop is made for."""

    profile: Profile
    raster: tuple[int, int]
    orientation: Orientation
    """The flips and turns that make the picture right once reflected."""
    mount: GhostPlace | None
    """The scene's exact word on size and place; None without a scene."""
    homography: Doubles
    """(3, 3): from what is seen (x right, y up) to raster px, for the proofs: ray traced where a scene is
    known, pixels where not."""
    screen: SeenScreen | None = None
    """How the eye sees the screen; None without a scene."""
    scene: dict[str, Any] | None = None
    """The scene as it stands in the report."""
    units: str = "mm"
    """In which the builder reads lengths."""
    findings: tuple[Finding, ...] = ()
    """The faults of the scene itself."""

    @property
    def picture(self) -> tuple[int, int]:
        """Width and height of the raster's picture when it is held upright."""
        return self.orientation.picture_size(self.raster)

    def flash_proof(self, rate: Fraction) -> FlashProof:
        """Return a flash proof for this screen and eye, at a frame rate."""
        return FlashProof(self.raster, rate, self.screen)


def set_up(recipe: Recipe) -> Setup:
    """Return what the recipe asks to make the loop for; InputError: scene file or profile cannot be used."""
    if recipe.scene is not None:
        return _from_scene(recipe, recipe.scene)
    profile = load_profile(recipe.player or DEFAULT_NAME)
    raster = recipe.raster or profile.raster.usual
    orientation = Orientation.of(recipe.mirrors, recipe.turn or 0)
    seen = mount_homography(raster, mirrored=orientation.mirrored, quarter_turns=orientation.quarter_turns)
    return Setup(profile=profile, raster=raster, orientation=orientation, mount=None, homography=seen)


def _from_scene(recipe: Recipe, path: Path) -> Setup:
    """Return the scene's word on raster, mount, size and player; InputError: the recipe contradicts it."""
    # the optics take a third of the time that all of us take to load, and only a scene needs them
    from ghostprep.optics import make_plan
    from ghostprep.prepare.player_of import profile_of
    from ghostprep.scene import load_scene

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
        mount=GhostPlace(
            mount.homography, orientation, mount.bent, figure.height_mm, (float(ghost[0]), figure.feet_mm)
        ),
        homography=mount.homography,
        screen=seen_screen(plan),
        scene=plan.scene_report(),
        units=scene.units,
        findings=tuple(finding for finding in plan.findings if finding.level == "fault"),
    )


def seen_screen(plan: Plan) -> SeenScreen:
    """Return how the eye sees a scene's screen."""
    distance = float(np.linalg.norm(plan.layout.eye - plan.layout.ghost))
    return SeenScreen(plan.scene.screen.active, distance, plan.light.ghost)


def choose_output_rate(recipe: Recipe, setup: Setup, facts: ClipFacts) -> Fraction:
    """Return the rate of the file; refuse a rate or raster before the work, not after it."""
    rate = recipe.fps or choose_rate(setup.profile, facts.rate, raster=setup.raster)
    check_taken(setup.profile, setup.raster, rate)
    return rate


def loop_name(clip: Path, profile: Profile) -> str:
    """Return what the loop of a clip is called where nobody says."""
    return f"{own_name(clip).stem}_loop{profile.ending}"


def destination(clips: Sequence[Path], out: Path | None, profile: Profile, *, overwrite: bool) -> Path:
    """Return where the loop goes, and refuse what cannot be before any work is done."""
    path = out or Path(loop_name(clips[0], profile))
    instead = "name another file" + (", or --out-dir FOLDER for a loop of each clip" if out else "")
    both = path, path.parent / f"{path.stem}.json"
    for written in both:
        if any(_same(written, clip) for clip in clips):
            raise InputError("is the clip itself", where=str(written), remedy="name another file")
    check_destination(*both, overwrite=overwrite, instead=instead)
    endings = profile.endings
    if path.suffix.lower() not in endings:
        raise InputError(
            f"the ending is {path.suffix or 'missing'}, the player takes {' or '.join(endings)}",
            where=str(path),
            remedy=f"write {path.with_suffix(profile.ending).name}, or choose another --player",
        )
    return path


def _same(a: Path, b: Path) -> bool:
    with contextlib.suppress(OSError):
        return a.samefile(b)
    return False
