"""What the pane mirrors besides the screen, which must be dark, and how the screen is seen over mirrors."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.optics.layout import Panel
from ghostprep.optics.vectors import Vector, meet_plane, pairs, unit
from ghostprep.optics.visible import Lines, lines_by, net, ways_round
from ghostprep.optics.world import OUT, Sheet, World

_GRID: Final = 13


@dataclass(frozen=True, slots=True)
class Patch:
    """A part of a surface that is seen mirrored in the pane."""

    surface: str
    """The body's name; "opening" means the room before the box."""
    low: tuple[float, ...]
    high: tuple[float, ...]
    """Its lowest and highest x, y, z, mm."""


def find_patches(world: World, eyes: Sheet) -> tuple[Patch, ...]:
    """Return what is seen mirrored in the pane, traced on a net of rays from the outer eye positions."""
    starts, ends = pairs(net(eyes, 3, 3), net(world.pane, _GRID, _GRID))
    before = (starts - world.pane.centre) @ world.pane.normal > 0
    traced = world.trace(starts[before], (ends - starts)[before], (True,))
    turned = ~np.isnan(traced.turned[:, 0])
    found: dict[str, list[Vector]] = {}
    for end in np.unique(traced.end[turned]):
        if end == OUT or (end >= 0 and world.bodies[end].role not in {"player", "holder", "front"}):
            name = "opening" if end == OUT else world.bodies[end].name
            found.setdefault(name, []).append(traced.point[turned & (traced.end == end)])
    return tuple(
        Patch(name, tuple(np.vstack(at).min(axis=0).tolist()), tuple(np.vstack(at).max(axis=0).tolist()))
        for name, at in found.items()
    )


@dataclass(frozen=True, slots=True, eq=False)
class ScreenInMirror:
    """The lit screen, seen by way of a mirror."""

    via: tuple[str, ...]
    """The sheets that turn the sight, from the eye on: mirrors' names and "pane"."""
    mirror: str
    """The first mirror on the way."""
    through_pane: bool
    """Whether it looks through the pane on its way."""
    lines: Lines
    """Lines of sight, to the screen's unfolded image."""
    places: Vector
    """Where they meet that mirror (n, 3), mm."""


def find_in_mirrors(world: World, eyes: Sheet) -> tuple[ScreenInMirror, ...]:
    """Return each way over mirrors by which the lit screen is seen from somewhere."""
    lit = lit_area(world.screen)
    found = []
    for via in ways_round(world):
        lines = lines_by(world, eyes, lit, via)
        if lines:
            mirror, places = _first_mirror(world, lines, via)
            through = bool((world.pane.meets(lines.eyes, unit(places - lines.eyes)) < np.inf).any())
            names = tuple(sheet.name for sheet in via)
            found.append(ScreenInMirror(names, mirror.name, through, lines, places))
    return tuple(found)


def _first_mirror(world: World, lines: Lines, via: tuple[Sheet, ...]) -> tuple[Sheet, Vector]:
    starts, image = lines.eyes, lines.points
    for sheet in via:
        places = meet_plane(starts, image, sheet.centre, sheet.normal)
        if sheet is not world.pane:
            break
        starts, image = places, sheet.image(image)
    return sheet, places


def lit_area(screen: Panel) -> Sheet:
    """Return the lit area as a rectangle."""
    return Sheet("the lit screen", screen.corners(), screen.normal)
