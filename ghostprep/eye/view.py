"""The ghost as the eye will see it: the loop through the scene's optics and light, on a display."""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Frame, Light, Mask
from ghostprep.eye.display import exposure, to_display
from ghostprep.eye.pane import look_up
from ghostprep.eye.photo import PhotoScenery
from ghostprep.eye.stage import MIRROR_REFLECTANCE, ROOM_REFLECTANCE, Stage
from ghostprep.eye.window import Window
from ghostprep.optics.vectors import Vector
from ghostprep.optics.world import SCREEN, Trace, World
from ghostprep.transfer import codes_to_light

LAMP_TINT: Final = np.array([1.29, 0.95, 0.63], np.float32)  # warm white at luminance 1
_AT_ONCE: Final = 2_000
"""Rays that are followed together: what they need fits the processor's cache."""


class EyeView:
    """Shows raster frames as one eye sees them; a photograph, if given, in the place of what is painted."""

    def __init__(self, stage: Stage, window: Window, eye: Vector, photo: PhotoScenery | None = None) -> None:
        self.stage, self.window, self.eye = stage, window, eye
        world, plan = stage.world, stage.plan
        second = World(world.bodies, stage.pane.second_face(plan, self.eye), world.mirrors, world.screen)
        ways = window.ways(self.eye)
        self._still: Light = np.zeros((len(ways), 3), np.float32)
        through = np.zeros(len(ways), np.bool_)
        # what the screen sends where: pixel, place on the raster (shares), share of its light
        self._lit: list[tuple[npt.NDArray[np.int64], Vector, Light]] = []
        for first in range(0, len(ways), _AT_ONCE):
            some = np.arange(first, min(first + _AT_ONCE, len(ways)))
            passed = self._add(world, ways, some, ())
            turned = some[passed]
            self._add(world, ways, turned, (True,))
            self._add(second, ways, turned, (True,), only_screen=True)
            through[some] = passed
        if photo is not None:
            self._still = photo.light(self.eye, ways)
            cosine = np.array([stage.pane.cosine(plan, self.eye)])
            self._still[through] *= look_up(stage.pane.through, cosine)
        columns, rows = window.size
        self._still = self._still.reshape(rows, columns, 3)
        self.exposure = self._exposure()

    def luminance(self, frame: Frame) -> Light:
        """Return what the eye gets (h, w, 3), linear RGB in cd/m2, of a frame of the raster's proportions."""
        screen = self.stage.plan.scene.screen
        black = np.float32(1 / screen.contrast)
        glow = codes_to_light(frame) * (1 - black) + black
        light = np.float32(screen.luminance) * self._prefiltered(glow)
        out = self._still.copy().reshape(-1, 3)
        for at, place, share in self._lit:
            out[at] += share[:, None] * _sample(light, place[:, 0], place[:, 1])
        return out.reshape(self._still.shape)

    def show(self, frame: Frame) -> Frame:
        """Return the view (h, w, 3) for the reader's display."""
        return to_display(self.luminance(frame), self.exposure)

    def _exposure(self) -> float:
        plan, pane = self.stage.plan, self.stage.pane
        cosine = np.array([pane.cosine(plan, self.eye)])
        ghost = plan.scene.screen.luminance * (look_up(pane.first, cosine) + look_up(pane.second, cosine))
        reflectance = plan.scene.light.reflectance
        from_room = self.stage.room_lux * self.stage.room_share / np.pi * reflectance
        seen = (self.stage.scenery + from_room) * look_up(pane.through, cosine)
        return exposure(float(ghost[0]), float(seen[0]), reflectance)

    def _add(
        self,
        world: World,
        ways: Vector,
        some: npt.NDArray[np.int64],
        turns: tuple[bool, ...],
        *,
        only_screen: bool = False,
    ) -> Mask:
        """Add what rays meet; return which of them passed the pane."""
        if not len(some):
            return np.zeros(0, np.bool_)
        trace = world.trace(np.broadcast_to(self.eye, (len(some), 3)), ways[some], turns)
        pane = self.stage.pane
        share = np.float32(MIRROR_REFLECTANCE) ** trace.mirrors.astype(np.float32)
        passed = ~np.isnan(trace.passed)
        share *= np.where(passed, look_up(pane.through, np.nan_to_num(trace.passed)), 1).prod(axis=1)
        at_screen = trace.end == SCREEN
        cosine = np.nan_to_num(trace.turned).max(axis=1)
        if turns:
            screen_share = share * look_up(pane.second if only_screen else pane.first, cosine)
            share = share * (1 - look_up(pane.through, cosine))
        else:
            screen_share = share
        self._lit.append((some[at_screen], self._on_raster(trace.point[at_screen]), screen_share[at_screen]))
        if not only_screen:
            bodies = ~at_screen
            self._still[some[bodies]] += (share[:, None] * self._surfaces(trace))[bodies]
        return np.asarray(passed.any(axis=1))

    def _surfaces(self, trace: Trace) -> Light:
        """Return the luminance of what rays end on (n, 3), linear RGB in cd/m2."""
        stage = self.stage
        room = np.float32(stage.room_lux / np.pi)
        out = np.full((len(trace.end), 3), ROOM_REFLECTANCE * room, np.float32)
        out[trace.end < SCREEN] = 0.0
        for number in np.unique(trace.end[trace.end >= 0]):
            here = np.flatnonzero(trace.end == number)
            block = stage.world.bodies[number].block
            local = (trace.point[here] - block.centre) @ block.axes.T
            # a thin body's narrow sides are no faces: they get its colour, in the room's light alone
            film = next(face.paint.mean(axis=(0, 1)) for face in stage.faces if face.body == number)
            out[here] = film * room * np.float32(stage.room_share)
            axis = (np.abs(local) - block.half).argmax(axis=1)
            far = local[np.arange(len(here)), axis] > 0
            for place, face in enumerate(stage.faces):
                if face.body != number:
                    continue
                on = here[(axis == face.axis) & (far == face.far)]
                u, v = face.places(trace.point[on])
                lamp = stage.full * _sample(stage.maps[place][..., None], u, v) * LAMP_TINT
                out[on] = _sample(face.paint, u, v) * (lamp + room * np.float32(stage.from_room(face)))
        return out

    def _on_raster(self, points: Vector) -> Vector:
        s = self.stage.world.screen
        away = points - s.centre
        x, y = away @ s.right / s.active[0] + 0.5, 0.5 - away @ s.up / s.active[1]
        return np.stack([x, y], axis=-1)

    def _prefiltered(self, screen: Light) -> Light:
        """Shrink the raster to about the view's own pixels, so that fine detail does not sparkle."""
        factor = self.stage.world.screen.active[0] / screen.shape[1] * self.window.scale
        if factor >= 1:
            return screen
        size = max(round(screen.shape[1] * factor), 2), max(round(screen.shape[0] * factor), 2)
        return np.asarray(cv2.resize(screen, size, interpolation=cv2.INTER_AREA), np.float32)


def _sample(picture: Light, u: Vector, v: Vector) -> Light:
    """Return a picture's values (n, channels) at places 0..1 from its left and top, interpolated."""
    rows, columns = picture.shape[:2]
    if rows == columns == 1:
        return np.broadcast_to(picture[0, 0], (len(u), picture.shape[2]))
    x = np.clip(u * columns - 0.5, 0, columns - 1)
    y = np.clip(v * rows - 0.5, 0, rows - 1)
    x0, y0 = np.floor(x).astype(np.int64), np.floor(y).astype(np.int64)
    x1, y1 = np.minimum(x0 + 1, columns - 1), np.minimum(y0 + 1, rows - 1)
    fx, fy = (x - x0)[:, None].astype(np.float32), (y - y0)[:, None].astype(np.float32)
    upper = picture[y0, x0] * (1 - fx) + picture[y0, x1] * fx
    lower = picture[y1, x0] * (1 - fx) + picture[y1, x1] * fx
    mixed: Light = upper * (1 - fy) + lower * fy
    return mixed
