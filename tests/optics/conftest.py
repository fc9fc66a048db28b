"""Scenes to test with, and a tracer of single rays that shares nothing with the code it judges."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

import numpy as np
import pytest

from ghostprep.scene import Scene, parse_scene

FURNISHED = """
title = "A hall with all that a box can hold"
units = "mm"
scale = [
  { reference = 85, real = "2040 mm", depth = 60 },
  { reference = 68, real = "2040 mm", depth = 240 },
]
[box]
width = 150
height = 130
depth = 240
wall = 6
opening = { width = 138, height = 112, sill = 8 }
[shelf]
depth = 300
width = 170
height = 150
cord = 20
[viewer]
distance = 600
height = 75
sway = [80, 40]
[screen]
wall = "left"
centre = [-63, 54, 90]
top = "front"
raster = [320, 240]
active = [81.6, 61.2]
body = [98, 76, 12]
[ghost]
figure = "1.7 m"
feet = 14
[[divider]]
from = [-75, 43]
to = [75, 43]
doorways = [ { at = 76, width = 84, height = 90, sill = 8 } ]
[[divider]]
from = [30, 200]
to = [72, 214]
thickness = 2
height = 100
[[mirror]]
from = [34, 239]
to = [74, 239]
sill = 14
height = 90
[[thing]]
name = "door"
at = [-10, 14, 232]
size = [30, 68, 4]
turn = 8
real = "2040 mm"
[[thing]]
name = "curtain"
at = [-68, 0, 20]
size = [12, 130, 2]
[holder]
sheet = 3
slack = 0.5
out = "up"
[light]
lamps = [ { at = [60, 120, 180], lumens = 2 } ]
strips = [ { from = [-30, 128, 190], to = [30, 128, 190], lumens = 20, faces = "down" } ]
"""
"""A scene file with every kind of table."""


@pytest.fixture(scope="session")
def furnished() -> Scene:
    """Return the box with a divider, a wing, a mirror, things, a holder, a lamp and a strip."""
    return parse_scene(FURNISHED)


@pytest.fixture(scope="session")
def make_scene() -> Callable[..., Scene]:
    """Return a builder: tables as keywords, merged over a roomy box without faults of its own."""

    def build(**tables: object) -> Scene:
        base: dict[str, object] = {
            "box": {"width": 300, "height": 300, "depth": 400, "wall": 6},
            "viewer": {"distance": 600, "height": 150, "sway": [60, 30]},
            "screen": {"wall": "left", "raster": [320, 240], "active": [40.8, 30.6]},
            "light": {"scene": 5},
        }
        for name, table in tables.items():
            old = base.get(name)
            base[name] = {**old, **table} if isinstance(old, dict) and isinstance(table, dict) else table
        return Scene.model_validate(base)

    return build


class RayTracer:
    """Follows a line of sight from the eye over the pane to the screen, by the law of reflection alone.

    Works in a right-handed frame (x right, y up, z towards the viewer), where "right" of a picture is
    up x normal; the code under test works in the scene's left-handed frame.
    """

    WAYS: ClassVar = {
        "left": (-1, 0, 0),
        "right": (1, 0, 0),
        "up": (0, 1, 0),
        "down": (0, -1, 0),
        "front": (0, 0, 1),
        "back": (0, 0, -1),
    }
    FACES: ClassVar = {"left": "right", "right": "left", "floor": "up", "ceiling": "down"}
    TOWARDS: ClassVar = {"left": "left", "right": "right", "floor": "down", "ceiling": "up"}

    def __init__(self, scene: Scene) -> None:
        s, pane = scene.screen, scene.pane
        assert s.centre is not None
        assert pane.through is not None
        front = np.array(self.WAYS["front"], float)
        face = np.array(self.WAYS[self.FACES[s.wall]], float)
        axis = np.cross(face, front)
        turn = np.radians(s.swivel)
        self.normal = self._rotated(face, axis, turn)
        up = self._rotated(np.array(self.WAYS[s.top], float), axis, turn)
        right = np.cross(up, self.normal)
        self.axes = np.array([right * s.raster[0] / s.active[0], -up * s.raster[1] / s.active[1]])
        self.centre = self._flip(s.centre)
        self.raster = np.array(s.raster, float)
        lean = np.radians(pane.angle)
        beside = np.array(self.WAYS[self.TOWARDS[s.wall]], float)
        self.pane_normal = np.sin(lean) * beside + np.cos(lean) * front
        self.on_pane = self._flip(pane.through)
        self.eye = self._flip(scene.eye)

    @staticmethod
    def _flip(p: object) -> np.ndarray:
        return np.asarray(p, float) * (1, 1, -1)

    @staticmethod
    def _rotated(v: np.ndarray, axis: np.ndarray, angle: float) -> np.ndarray:
        # Rodrigues' formula
        return v * np.cos(angle) + np.cross(axis, v) * np.sin(angle) + axis * (axis @ v) * (1 - np.cos(angle))

    def sight_to_raster(self, point: object) -> np.ndarray:
        """Return the raster positions (..., 2) that the eye sees in the directions of points (..., 3)."""
        way = self._flip(point) - self.eye
        towards = (way @ self.pane_normal)[..., None]
        hit = self.eye + way * ((self.on_pane - self.eye) @ self.pane_normal) / towards
        back = way - 2 * towards * self.pane_normal
        lit = hit + back * (((self.centre - hit) @ self.normal) / (back @ self.normal))[..., None]
        return (lit - self.centre) @ self.axes.T + self.raster / 2

    def pixel(self, px: object) -> np.ndarray:
        """Return where a raster position lies, right-handed."""
        x, y = np.asarray(px, float) - self.raster / 2
        right, down = self.axes / np.linalg.norm(self.axes, axis=1, keepdims=True) ** 2
        return self.centre + x * right + y * down


@pytest.fixture(scope="session")
def ray_tracer() -> type[RayTracer]:
    return RayTracer
