"""What the builder measured: the scene file, lengths and scales, checks, a starter file."""

from ghostprep.scene.lengths import MM_PER, format_length, parse_length, rounded_up, ruler_step
from ghostprep.scene.load import load_scene, parse_scene
from ghostprep.scene.model import Scene
from ghostprep.scene.scales import Scale, parse_scale

__all__ = [
    "MM_PER",
    "Scale",
    "Scene",
    "format_length",
    "load_scene",
    "parse_length",
    "parse_scale",
    "parse_scene",
    "rounded_up",
    "ruler_step",
]
