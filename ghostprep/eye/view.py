"""The ghost as the eye will see it: the loop through the scene's optics and light."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Protocol

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.eye.light import light_maps, room_share
from ghostprep.eye.rays import Sight, Surface, Window, trace, window_for
from ghostprep.eye.stage import Reflection, Stage
from ghostprep.eye.tone import exposure, to_display
from ghostprep.eye.walls import paint
from ghostprep.optics.vectors import Vector
from ghostprep.transfer import codes_to_light

Codes = npt.NDArray[np.uint8]
Light = npt.NDArray[np.float32]

ROOM_LUX: Final = 15.0
"""A dim living room in the evening. Common practice, no source."""

FRONT_REFLECTANCE: Final = 0.16
ROOM_REFLECTANCE: Final = 0.05
BAFFLE_REFLECTANCE: Final = 0.02
"""Matt black paint. Common practice, no source."""

LAMP_TINT: Final = np.array([1.29, 0.95, 0.63], np.float32)  # warm white at luminance 1


class Scenery(Protocol):
    """Whatever stands behind the ghost: painted or photographed."""

    def light(self, sight: Sight, lamps: float, room: float) -> Light:
        """Return its luminance (h, w, 3), linear RGB in cd/m2, without the pane.

        Parameters
        ----------
        sight : Sight
        lamps : float
            1 for the scene's lamps as measured.
        room : float
            Light of the room outside, lux.
        """


@dataclass(frozen=True, eq=False)
class DrawnScenery:
    """The painted ticket hall."""

    stage: Stage
    walls: Mapping[str, Light]
    maps: Mapping[str, Light]

    def light(self, sight: Sight, lamps: float, room: float) -> Light:
        """See `Scenery`."""
        stage, out = self.stage, np.zeros((*sight.surface.shape, 3), np.float32)
        out[sight.surface == Surface.FRONT] = room / np.pi * FRONT_REFLECTANCE
        out[sight.surface == Surface.ROOM] = room / np.pi * ROOM_REFLECTANCE
        full = np.float32(lamps * stage.scenery / stage.reflectance)
        from_room = np.float32(room * room_share(stage) / np.pi)
        out[sight.surface == Surface.BAFFLE] = BAFFLE_REFLECTANCE * (full * LAMP_TINT + from_room)
        for surface in Surface:
            name = surface.name.lower()
            here = sight.surface == surface
            if name not in self.walls or not here.any():
                continue
            paint_here = _sample(self.walls[name], sight.u[here], sight.v[here])
            shade = (
                _sample(self.maps[name][..., None], sight.u[here], sight.v[here])
                if name in self.maps
                else np.float32(1.0)
            )
            out[here] = paint_here * (shade * full * LAMP_TINT + from_room)
        return out


def drawn_scenery(stage: Stage) -> DrawnScenery:
    """Return the ticket hall for a stage."""
    return DrawnScenery(stage, paint(stage).reflectance, light_maps(stage))


class View:
    """Shows raster frames as one eye sees them.

    Parameters
    ----------
    stage : Stage
    scenery : Scenery
    height_px : int
        Height of the picture.
    eye : Vector, optional
        Default: the middle eye.
    card : bool
        Whether the scale figure stands beside the ghost.
    lamps : float
        1 for the scene's lamps as measured.
    room : float
        Light of the room outside, lux.
    """

    def __init__(
        self,
        stage: Stage,
        scenery: Scenery,
        *,
        height_px: int = 900,
        eye: Vector | None = None,
        card: bool = True,
        lamps: float = 1.0,
        room: float = ROOM_LUX,
    ) -> None:
        self.stage = stage
        self.eye = stage.eye if eye is None else np.asarray(eye, np.float64)
        self.window: Window = window_for(stage, height_px)
        self.reflection: Reflection = stage.reflection(self.eye)
        self.sight = trace(stage, self.eye, self.window, self.reflection, card=card)
        self._still = self._without_ghost(scenery, lamps, room)
        seen = lamps * stage.scenery * self.reflection.transmittance
        ghost = stage.white * (self.reflection.first + self.reflection.second)
        self.exposure = exposure(ghost, seen, stage.reflectance)

    def _without_ghost(self, scenery: Scenery, lamps: float, room: float) -> Light:
        light = scenery.light(self.sight, lamps, room)
        light[self.sight.through_pane] *= np.float32(self.reflection.transmittance)
        return light

    def luminance(self, frame: Codes) -> Light:
        """Return what the eye gets (h, w, 3), linear RGB in cd/m2.

        Parameters
        ----------
        frame : ndarray of uint8 (h, w, 3)
            What the screen shows; any size with the raster's proportions.
        """
        stage, sight = self.stage, self.sight
        black = np.float32(1 / stage.screen_contrast)
        glow = codes_to_light(frame) * (1 - black) + black
        screen = np.float32(stage.white) * self._prefiltered(glow)
        out = self._still.copy()
        for place, share in ((sight.first, self.reflection.first), (sight.second, self.reflection.second)):
            here = ~np.isnan(place[..., 0])
            out[here] += np.float32(share) * self._on_raster(screen, place[here])
        here = ~np.isnan(sight.bare[..., 0]) & (sight.surface != Surface.FRONT)
        if here.any():
            out[here] = self._on_raster(screen, sight.bare[here])
        return out

    def show(self, frame: Codes) -> Codes:
        """Return the view (h, w, 3) for the reader's display."""
        return to_display(self.luminance(frame), self.exposure)

    def _prefiltered(self, screen: Light) -> Light:
        """Shrink the raster to about the view's own pixels, so that fine detail does not sparkle."""
        pitch = self.stage.image.active[0] / screen.shape[1]
        factor = pitch * self.window.scale
        if factor >= 1:
            return screen
        size = max(round(screen.shape[1] * factor), 2), max(round(screen.shape[0] * factor), 2)
        return np.asarray(cv2.resize(screen, size, interpolation=cv2.INTER_AREA), np.float32)

    def _on_raster(self, screen: Light, place: Light) -> Light:
        wide, high = (np.float32(side) for side in self.stage.image.raster)
        return _sample(screen, place[:, 0] / wide, place[:, 1] / high)


def _sample(picture: Light, u: Light, v: Light) -> Light:
    """Return a picture's values (n, channels) at places 0..1 from its left and top, interpolated."""
    rows, columns = picture.shape[:2]
    x = np.clip(u * columns - 0.5, 0, columns - 1)
    y = np.clip(v * rows - 0.5, 0, rows - 1)
    x0, y0 = np.floor(x).astype(np.int64), np.floor(y).astype(np.int64)
    x1, y1 = np.minimum(x0 + 1, columns - 1), np.minimum(y0 + 1, rows - 1)
    fx, fy = (x - x0)[:, None].astype(np.float32), (y - y0)[:, None].astype(np.float32)
    upper = picture[y0, x0] * (1 - fx) + picture[y0, x1] * fx
    lower = picture[y1, x0] * (1 - fx) + picture[y1, x1] * fx
    mixed: Light = upper * (1 - fy) + lower * fy
    return mixed
