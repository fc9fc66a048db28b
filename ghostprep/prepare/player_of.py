"""The player that a scene names, and a plan that also says whether it takes the scene's screen."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from ghostprep.finding import Finding
from ghostprep.optics import Plan, make_plan
from ghostprep.player import Profile, extend_profile, load_profile
from ghostprep.player.profile_files import raster_refused
from ghostprep.scene import Scene


def profile_of(scene: Scene) -> Profile:
    """Return the profile of a scene's player, with the scene's own keys."""
    name, own = scene.player.profile, scene.player.model_extra
    if name.lower().endswith(".toml"):
        name = str(scene.folder / Path(name).expanduser())
    return extend_profile(name, own, where=scene.where("player")) if own else load_profile(name)


def plan_with_player(scene: Scene) -> Plan:
    """Return the plan of a scene, with a finding where its player does not take its raster."""
    fault, plan = raster_fault(scene), make_plan(scene)
    return plan if fault is None else replace(plan, findings=(fault, *plan.findings))


def raster_fault(scene: Scene) -> Finding | None:
    """Return the fault that the player does not take the scene's raster, which no layout mends, if so."""
    profile = profile_of(scene)
    if (refused := raster_refused(profile, scene.screen.raster)) is None:
        return None
    what, remedy = refused
    return Finding("fault", "player", f"{profile.name} (player.profile) {what}", remedy)
