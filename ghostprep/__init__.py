"""Plans a reflected ghost for a miniature scene and prepares the loop that its hidden screen plays.

A script calls the commands as functions; see `ghostprep.library`. Names are loaded when they are used,
so that ``import ghostprep`` costs next to nothing.

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
    from ghostprep.library import inspect, load_scene, make, plan, players, preview
    from ghostprep.optics import Plan
    from ghostprep.player import Profile
    from ghostprep.prepare.inspect import Inspection
    from ghostprep.prepare.recipe import Recipe
    from ghostprep.prepare.report import Result
    from ghostprep.scene import Scene
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
    "Finding": "finding",
    "GhostprepError": "errors",
    "InputError": "errors",
    "Inspection": "prepare.inspect",
    "JobError": "errors",
    "Plan": "optics",
    "Profile": "player",
    "Proof": "verdict",
    "Recipe": "prepare.recipe",
    "Result": "prepare.report",
    "Scene": "scene",
    "Shown": "eye.preview",
}
"""Where each class lives; the functions live in `ghostprep.library`."""


def __getattr__(name: str) -> Any:
    """Load a public name when it is first used."""
    if name not in __all__:
        raise AttributeError(f"module 'ghostprep' has no attribute {name!r}")
    value = getattr(import_module(f"ghostprep.{_HOMES.get(name, 'library')}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """List the public names, loaded or not."""
    return sorted({*globals(), *__all__})
