"""Lamps and strips: the light they throw past all bodies, and whether the eye meets them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.optics.fresnel import pane_transmittance
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
        strength: Vector = share / math.pi * np.maximum(towards @ self.facing, 0.0)
        return strength


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


def illuminance(scene: Scene, world: World, source: LightSource, point: Vector, normal: Vector) -> float:
    """Return what a source throws on a surface at a point of it with a unit normal (3,), lux.

    Inverse square and cosine; bodies shade, the pane takes what it reflects, and each mirror and the
    pane send light on once. Light thrown back by walls is left out, so a pale box is brighter than told.
    """
    index, lux = scene.pane.index, 0.0
    at = np.broadcast_to(point, source.points.shape)
    for sheet in (None, world.pane, *world.mirrors):
        images = source.points if sheet is None else sheet.image(source.points)
        ways = images - at
        far = np.linalg.norm(ways, axis=1)
        good = far > 1e-6
        ways = ways / np.maximum(far, 1e-6)[:, None]
        cosine = np.maximum(ways @ normal, 0.0)
        if sheet is None:
            share = np.where(clear(world, at, images), _passes(world, at, images, index), 0.0)
            towards = -ways
        else:
            hit = sheet.meets(at, ways)
            # a mirror's back sends nothing on; the pane's does
            good &= np.isfinite(hit) & ((ways @ sheet.normal < 0) | (sheet is world.pane))
            turn = np.where(np.isfinite(hit), hit, 0.0)[:, None] * ways + at
            # start just before the sheet, or the sheet itself would block the view
            near = turn - 1e-3 * ways
            towards = unit(np.where(good[:, None], turn - source.points, 1.0))
            good &= clear(world, at, near) & clear(world, source.points, turn - 1e-3 * towards)
            if sheet is world.pane:
                share = 1 - _through(ways, world, index)
            else:
                share = _passes(world, at, near, index) * _passes(world, source.points, near, index)
        lux += float((source.candela(towards) * cosine * share * good / np.maximum(far, 1e-6) ** 2).sum())
    return lux * 1e6


def _passes(world: World, starts: Vector, ends: Vector, index: float) -> Vector:
    """Return the share of light that the pane leaves between points (n, 3)."""
    ways = ends - starts
    far = np.linalg.norm(ways, axis=1)
    ways = ways / np.maximum(far, 1e-9)[:, None]
    met = world.pane.meets(starts, ways) < far - 1e-6
    return np.where(met, _through(ways, world, index), 1.0)


def _through(ways: Vector, world: World, index: float) -> Vector:
    """Return the share of unpolarised light that goes through the pane along unit ways (n, 3)."""
    angles = np.degrees(np.arccos(np.minimum(np.abs(ways @ world.pane.normal), 1.0)))
    return np.array([pane_transmittance(float(a), index).mixed(0.5) for a in angles])


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
