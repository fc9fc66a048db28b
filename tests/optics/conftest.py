"""Scenes to test with, and a tracer of single rays that shares nothing with the code it judges."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

import numpy as np
import pytest

from ghostprep.scene import Scene


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
        self.axes = np.array([right / s.pitch[0], -up / s.pitch[1]])
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
