"""Lamps and strips: the light they throw past all bodies, and whether the eye meets them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.optics.fresnel import transmittances
from ghostprep.optics.solids import Block, Bundle, gap
from ghostprep.optics.vectors import AXES, Vector, pairs, unit, vector
from ghostprep.optics.visible import clear, net
from ghostprep.optics.world import Sheet, World
from ghostprep.scene import Scene

_ALONG: Final = 9
"""Points that a strip shines from."""
_BULB_MM: Final = 1.0
"""Half the size of what is seen of a point that shines."""


@dataclass(frozen=True, slots=True, eq=False)
class LightSource:
    """A lamp or a strip as points of light."""

    name: str
    """"lamp 1", "strip 1", in the order of the scene file."""
    points: Vector
    """(k, 3), mm; they share its light evenly."""
    lumens: float
    facing: Vector | None
    """The direction into which a strip shines, evenly bright from all sides before it (Lambert); a lamp
    shines alike to all sides."""

    def candela(self, towards: Vector) -> Vector:
        """Return the luminous intensity of one point into unit directions (n, 3), cd."""
        share = self.lumens / len(self.points)
        if self.facing is None:
            return np.full(len(towards), share / (4 * math.pi))
        return share / math.pi * np.maximum(towards @ self.facing, 0.0)


def sources(scene: Scene) -> list[LightSource]:
    """Return all lamps, then all strips of a scene."""
    found = [
        LightSource(f"lamp {n}", vector(lamp.at)[None, :], lamp.lumens, None)
        for n, lamp in enumerate(scene.light.lamps, 1)
    ]
    for n, strip in enumerate(scene.light.strips, 1):
        share = np.linspace(0.5, _ALONG - 0.5, _ALONG)[:, None] / _ALONG
        points = vector(strip.start) + share * (vector(strip.end) - vector(strip.start))
        found.append(LightSource(f"strip {n}", points, strip.lumens, vector(AXES[strip.faces])))
    return found


def illuminance(
    scene: Scene,
    world: World,
    lights: Sequence[LightSource],
    points: Vector,
    normals: Vector,
    *,
    radius_mm: float = 0.0,
) -> Vector:
    """Return what sources throw on surfaces at points of them with unit normals (n, 3): (n,), lux.

    Inverse square and cosine; bodies shade, the pane takes what it reflects, and each mirror and the
    pane send light on once. Light thrown back by walls is left out, so a pale box is brighter than told.
    A lamp is a disc of `radius_mm` instead of a point: what it throws along its axis, I / (d^2 + r^2), stays
    finite however near a surface is.
    """
    total = np.zeros(len(points))
    for source in lights:
        at, lamps = pairs(points, source.points)
        facing, thrown = np.repeat(normals, len(source.points), axis=0), np.zeros(len(at))
        for sheet in (None, world.pane, *world.mirrors):
            ways = (lamps if sheet is None else sheet.image(lamps)) - at
            far = np.linalg.norm(ways, axis=1)
            ways /= np.maximum(far, 1e-6)[:, None]
            cosine = (ways * facing).sum(axis=1)
            some = (cosine > 0) & (far > 1e-6)
            if sheet is not None:
                # a lamp beyond the sheet has its image on this side of it, and is not mirrored
                some &= sheet.meets(at, ways) < far
            leaving, share = _arriving(scene, world, at[some], lamps[some], ways[some], sheet=sheet)
            square = far[some] ** 2 + radius_mm**2
            thrown[some] += source.candela(leaving) * cosine[some] * share / square
        total += thrown.reshape(len(points), len(source.points)).sum(axis=1)
    # lm/mm2 to lux
    return 1e6 * total


def _arriving(
    scene: Scene, world: World, at: Vector, lamps: Vector, ways: Vector, *, sheet: Sheet | None
) -> tuple[Vector, Vector]:
    """Return how light leaves lamps to arrive against unit ways (n, 3), straight or by a sheet; its share."""
    if sheet is None:
        return -ways, _passes(scene, world, at, lamps) * clear(world, at, lamps)
    turn = at + sheet.meets(at, ways)[:, None] * ways
    leaving = unit(turn - lamps)
    # both ways end just before the sheet, or the sheet itself would block them
    near, far = turn - 1e-3 * ways, turn - 1e-3 * leaving
    share = 1.0 * (clear(world, at, near) & clear(world, lamps, far))
    if sheet is world.pane:
        return leaving, share * (1 - transmittances(np.abs(ways @ sheet.normal), scene.pane.index))
    # a mirror's back sends nothing on
    share *= ways @ sheet.normal < 0
    return leaving, share * _passes(scene, world, at, near) * _passes(scene, world, lamps, near)


def _passes(scene: Scene, world: World, starts: Vector, ends: Vector) -> Vector:
    """Return the share of unpolarised light that the pane leaves between points (n, 3)."""
    ways = ends - starts
    far = np.linalg.norm(ways, axis=1)
    ways = ways / np.maximum(far, 1e-9)[:, None]
    met = world.pane.meets(starts, ways) < far - 1e-6
    return np.where(met, transmittances(np.abs(ways @ world.pane.normal), scene.pane.index), 1.0)


@dataclass(frozen=True, slots=True)
class LampSeen:
    """What the eye sees of a lamp or strip."""

    name: str
    direct: bool
    mirrored: bool
    """Whether it is seen from somewhere straight, or in the pane."""
    by_mirror: str
    """The mirror in which it is seen; empty if in none."""
    in_the_way: bool
    """Whether it stands in a ray of the ghost."""


def find_lamps(scene: Scene, world: World, eyes: Sheet, legs: Sequence[Bundle]) -> tuple[LampSeen, ...]:
    """Return for each lamp and strip where the eye meets it."""
    found = []
    for source in sources(scene):
        bulbs = [Block(p, np.eye(3), np.full(3, _BULB_MM)) for p in source.points]
        mirrors = [m.name for m in world.mirrors if _seen(world, eyes, source, m)]
        found.append(
            LampSeen(
                source.name,
                _seen(world, eyes, source, None),
                _seen(world, eyes, source, world.pane),
                mirrors[0] if mirrors else "",
                any(gap(leg, bulb) < 0 for leg in legs for bulb in bulbs),
            )
        )
    return tuple(found)


def _seen(world: World, eyes: Sheet, source: LightSource, sheet: Sheet | None) -> bool:
    """Return whether any eye sees a source, straight or turned by a sheet."""
    starts, points = pairs(net(eyes, 13, 5), source.points)
    if sheet is None:
        seen, towards = clear(world, starts, points), starts - points
    else:
        ways = unit(sheet.image(points) - starts)
        hit = sheet.meets(starts, ways)
        front = np.isfinite(hit) & (ways @ sheet.normal < 0)
        starts, points, ways, hit = starts[front], points[front], ways[front], hit[front]
        turn = starts + (hit - 1e-3)[:, None] * ways
        seen, towards = clear(world, starts, turn) & clear(world, points, turn), turn - points
    if source.facing is not None:
        seen &= towards @ source.facing > 0
    return bool(seen.any())
