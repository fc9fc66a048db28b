"""How bright the ghost is before its scenery, and how far the pane doubles it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.optics.fresnel import (
    PerPolarisation,
    doubling_mm,
    face_reflectance,
    pane_reflectance,
    pane_transmittance,
    transmittances,
)
from ghostprep.optics.lamps import illuminance, sources
from ghostprep.optics.layout import Layout, Panel
from ghostprep.optics.mount import Mount
from ghostprep.optics.panefit import PaneFit, face_points
from ghostprep.optics.vectors import Vector, meet_plane, unit, vector
from ghostprep.optics.world import SCREEN, World
from ghostprep.scene import Scene

ARCMINUTE: Final = math.radians(1 / 60)
"""One arcminute, radians: the gap that an eye of acuity 1.0 still tells apart (ISO 8596)."""
ENOUGH_CONTRAST: Final = 3.0
"""Ghost and scenery together over the scenery: what we ask for, so that a ghost is plain to see.

A choice of ours within the range found usable on see-through displays (Wan and Tsimhoni, J. SID
2021: 1.2 to 8, best near 7)."""
BLACK_PAINT: Final = 0.05
"""Share of light that matt black paint sends back. Common practice, no source."""
_DEFAULT_SCENE: Final = 5.0
"""Dim lamplight, cd/m2, where nothing is said. Common practice, no source."""
DARKEST: Final = 1e-3
"""The least luminance that is counted with, so that ratios stay finite, cd/m2."""
_ROUND_MM: Final = 10.0
"""How far round what shows the ghost the pane is looked at too, mm."""


@dataclass(frozen=True, slots=True)
class Doubling:
    """The second image, from the pane's back face."""

    offset_mm: float
    """Across the line of sight, at the ghost."""
    offset_px: float
    """The same on the raster."""
    arcminutes: float
    """As the middle eye sees it; below 1 it vanishes."""
    ratio: float
    """Second image to first, for the screen's polarisation as mounted."""
    vanishing_mm: float
    """The thickness at which the offset is one arcminute."""

    def as_dict(self) -> dict[str, object]:
        """Return the keys of the report."""
        return {"offset_mm": self.offset_mm, "offset_px": self.offset_px, "ratio": self.ratio}


@dataclass(frozen=True, slots=True)
class Veil:
    """Light of a lamp on the hidden side that the pane sends to the eye round the ghost."""

    source: str
    surface: str
    """Which lamp, and the body that it lights."""
    share: float
    """The veil over the scenery behind the ghost, both as seen, where it is strongest."""


@dataclass(frozen=True, slots=True)
class Luminances:
    """Luminances in cd/m2, at the ghost's centre from the middle eye."""

    incidence_deg: float
    """On the pane."""
    reflectance: float
    reflectance_other_turn: float
    """Of the whole pane for the screen as mounted, and with the player a quarter turn round."""
    polarised: bool
    """Whether the screen's polarisation is known, so that the two differ."""
    transmittance: float
    """Of the pane for unpolarised light."""
    ghost: float
    scene: float
    contrast: float
    """Ghost and scenery as seen; (ghost + scene) / scene."""
    black_glow: float
    """The screen's own black as seen, over the scenery."""
    scenery: float
    """The scenery itself, before the pane."""
    behind: str
    """The body that stands behind the ghost."""
    veils: tuple[Veil, ...]
    """What lamps throw on the hidden side."""

    def as_dict(self) -> dict[str, object]:
        """Return the keys of the report."""
        names = ("reflectance", "reflectance_other_turn", "transmittance", "ghost", "scene", "contrast")
        return {name: getattr(self, name) for name in (*names, "black_glow")}


def find_light(
    scene: Scene, layout: Layout, mount: Mount, pane_fit: PaneFit, world: World
) -> tuple[Luminances, Doubling]:
    """Return luminances and doubling for the ray from the middle eye to the ghost's centre."""
    pane, screen = scene.pane, scene.screen
    sight = unit(layout.ghost - layout.eye)
    hit = meet_plane(layout.eye, layout.ghost, layout.on_pane, layout.pane_normal)
    incidence = math.degrees(math.acos(min(1.0, abs(float(sight @ layout.pane_normal)))))
    whole, face = pane_reflectance(incidence, pane.index), face_reflectance(incidence, pane.index)
    from_screen = unit(hit - layout.screen.centre)
    share, other = (
        _share_s(layout.screen, screen.polarisation, from_screen, layout.pane_normal, turned)
        for turned in (False, True)
    )
    through = pane_transmittance(incidence, pane.index).mixed(0.5)
    behind, scenery = find_behind(scene, layout, world)
    reflectance = whole.mixed(share)
    ghost, seen = screen.luminance * reflectance, scenery * through
    light = Luminances(
        incidence_deg=incidence,
        reflectance=reflectance,
        reflectance_other_turn=whole.mixed(other),
        polarised=screen.polarisation not in {"none", "unknown"},
        transmittance=through,
        ghost=ghost,
        scene=seen,
        contrast=(ghost + seen) / seen,
        black_glow=screen.luminance / screen.contrast * reflectance / seen,
        scenery=scenery,
        behind=behind,
        veils=find_veils(scene, layout, pane_fit, world, seen),
    )
    second = PerPolarisation(face.s * (1 - face.s) ** 2, face.p * (1 - face.p) ** 2)
    # at Brewster's angle a screen polarised in the plane sends neither image; their ratio tends to 1
    ratio = second.mixed(share) / face.mixed(share) if face.mixed(share) > 0 else 1.0
    return light, _doubling(scene, layout, mount, incidence, ratio)


def _doubling(scene: Scene, layout: Layout, mount: Mount, incidence: float, ratio: float) -> Doubling:
    sight = unit(layout.ghost - layout.eye)
    per_mm = doubling_mm(incidence, scene.pane.index, 1.0)
    offset = per_mm * scene.pane.thickness
    distance = float(np.linalg.norm(layout.ghost - layout.eye))
    # across the ray, in the plane of incidence; then on to the ghost plane, along the line of sight
    aside = layout.pane_normal - float(layout.pane_normal @ sight) * sight
    length = float(np.linalg.norm(aside))
    px = 0.0
    if length > 1e-9:
        moved = layout.ghost + offset * aside / length
        on_plane = meet_plane(layout.eye, moved, layout.ghost, vector((0.0, 0.0, 1.0)))
        ends = mount.to_raster(np.array([layout.ghost[:2], on_plane[:2]]))
        px = float(np.linalg.norm(ends[1] - ends[0]))
    vanishing = math.inf if per_mm == 0 else ARCMINUTE * distance / per_mm
    return Doubling(offset, px, offset / distance / ARCMINUTE, ratio, vanishing)


def _share_s(screen: Panel, polarisation: str, ray: Vector, normal: Vector, turned: bool) -> float:
    """Return the share of the screen's light that swings across the plane of incidence.

    A sheet polariser lets through light that swings at right angles to its blocking axis and to
    the ray, so a slanted ray's swing is ray x blocking axis, not the projected pass axis.
    """
    if polarisation in {"none", "unknown"}:
        return 0.5
    passes = {"width": screen.right, "height": screen.up, "diagonal": screen.right + screen.up}[polarisation]
    blocks = np.cross(screen.normal, passes)
    swing = unit(np.cross(ray, passes if turned else blocks))
    across = np.cross(ray, normal)
    size = float(np.linalg.norm(across))
    # at normal incidence there is no plane of incidence and both polarisations reflect alike
    return 0.5 if size < 1e-9 else float(swing @ across / size) ** 2


def find_behind(scene: Scene, layout: Layout, world: World) -> tuple[str, float]:
    """Return what stands behind the ghost's centre, as the middle eye sees it, and its luminance, cd/m2.

    The lamps' light on it, as `lamps.illuminance` counts it, is sent back evenly:
    L = reflectance E / pi. Without lamps and strips 5 cd/m2 is taken, a dimly lit scene; and where a mirror
    shows the room before the box there, which nobody measured.
    """
    traced = world.trace(layout.eye[None, :], (layout.ghost - layout.eye)[None, :])
    end, point = int(traced.end[0]), traced.point
    lights = sources(scene)
    if scene.light.scene is not None or not lights or end < 0:
        return world.name_of(end), scene.light.scene or _DEFAULT_SCENE
    lux = float(illuminance(scene, world, lights, point, world.normals_at(traced.end, point))[0])
    # a lamp flat against the wall throws nothing on it: at least `DARKEST`, so that ratios stay finite
    return world.name_of(end), max(scene.light.reflectance * lux / math.pi, DARKEST)


def find_veils(scene: Scene, layout: Layout, pane: PaneFit, world: World, seen: float) -> tuple[Veil, ...]:
    """Return what each lamp and strip throws on the surfaces that the pane mirrors round the ghost.

    They are taken as painted matt black, and the screen as dark as that. `seen` is the scenery behind
    the ghost as seen, cd/m2.
    """
    lights = sources(scene)
    if not lights:
        return ()
    grown = pane.needed_place.grown(_ROUND_MM)
    x, y = np.meshgrid(np.linspace(grown.left, grown.right, 5), np.linspace(grown.low, grown.high, 5))
    points = face_points(layout, np.stack([x, y], axis=-1).reshape(-1, 2))
    traced = world.trace(np.tile(layout.eye, (len(points), 1)), points - layout.eye, (True,))
    lit = np.flatnonzero(((traced.end >= 0) | (traced.end == SCREEN)) & np.isfinite(traced.turned[:, 0]))
    ends, at = traced.end[lit], traced.point[lit]
    mirrored = 1 - transmittances(traced.turned[lit, 0], scene.pane.index)
    found = []
    for source in lights:
        lux = illuminance(scene, world, [source], at, world.normals_at(ends, at))
        veils = BLACK_PAINT * lux / math.pi * mirrored / seen
        worst = int(veils.argmax()) if veils.any() else None
        surface = "" if worst is None else world.name_of(int(ends[worst]))
        found.append(Veil(source.name, surface, float(veils.max(initial=0.0))))
    return tuple(found)
