"""Plans a reflected ghost for a miniature scene and prepares the loop that its hidden screen plays.

A script calls the commands as functions, with the same names, defaults and frames. Names are loaded when they
are used, so that ``import ghostprep`` costs next to nothing.

Examples
--------
>>> import ghostprep
>>> scene = ghostprep.load_scene("sample_media/scene.toml")
>>> round(ghostprep.plan(scene).as_dict()["figure"]["height_mm"], 1)
70.8
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ghostprep.errors import GhostprepError, InputError, JobError
    from ghostprep.eye.preview import Shown
    from ghostprep.finding import Finding
    from ghostprep.library import plan, preview
    from ghostprep.optics import Plan
    from ghostprep.player import Profile
    from ghostprep.player import all_profiles as players
    from ghostprep.prepare.inspect import Inspection, inspect
    from ghostprep.prepare.make import make
    from ghostprep.prepare.recipe import Recipe
    from ghostprep.prepare.report import Result
    from ghostprep.scene import Scene, load_scene
    from ghostprep.verdict import Proof

__version__ = "0.1.0"

__all__ = [
    "Finding",
    "GhostprepError",
    "InputError",
    "Inspection",
    "JobError",
    "Plan",
    "Profile",
    "Proof",
    "Recipe",
    "Result",
    "Scene",
    "Shown",
    "__version__",
    "inspect",
    "load_scene",
    "make",
    "plan",
    "players",
    "preview",
]

_HOMES = {
    "Finding": "finding.Finding",
    "GhostprepError": "errors.GhostprepError",
    "InputError": "errors.InputError",
    "Inspection": "prepare.inspect.Inspection",
    "JobError": "errors.JobError",
    "Plan": "optics.Plan",
    "Profile": "player.Profile",
    "Proof": "verdict.Proof",
    "Recipe": "prepare.recipe.Recipe",
    "Result": "prepare.report.Result",
    "Scene": "scene.Scene",
    "Shown": "eye.preview.Shown",
    "inspect": "prepare.inspect.inspect",
    "load_scene": "scene.load_scene",
    "make": "prepare.make.make",
    "plan": "library.plan",
    "players": "player.all_profiles",
    "preview": "library.preview",
}
"""Where each name lives."""


def __getattr__(name: str) -> Any:
    """Load a public name when it is first used."""
    if name not in _HOMES:
        raise AttributeError(f"module 'ghostprep' has no attribute {name!r}")
    home, _, own_name = _HOMES[name].rpartition(".")
    value = getattr(import_module(f"ghostprep.{home}"), own_name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """List the public names, loaded or not."""
    return sorted({*globals(), *__all__})
