"""Boxes that several tests plan."""

from __future__ import annotations

from ghostprep.scene import Scene


def mirror_box(**more) -> Scene:
    """A box whose screen, 40 mm wide, faces across at x = -60, from 80 to 120 mm deep."""
    return Scene.model_validate(
        {
            "box": {"width": 150, "height": 130, "depth": 260},
            "viewer": {"distance": 600, "height": 60, "sway": [80, 0]},
            "screen": {"raster": [320, 240], "active": [40, 30], "top": "up", "centre": [-60, 60, 100]},
            "pane": {"through": [-20, 60, 140], "size": [60, 60]},
            **more,
        }
    )
