"""How large to cut a pane whose size the scene leaves open: as small as shows no edge."""

from __future__ import annotations

from dataclasses import astuple
from typing import Final

import numpy as np

from ghostprep.optics.edges import Edge, find_edges, is_wide
from ghostprep.optics.layout import Layout
from ghostprep.optics.panefit import PaneFit, free_run, placed_pane
from ghostprep.optics.sightlines import Rectangle
from ghostprep.optics.solids import Block, gap, pane_block, player_block
from ghostprep.optics.world import World
from ghostprep.scene import Scene, rounded_up, ruler_step

_HALVINGS: Final = 14
"""Halvings of the room that a pane may grow by."""


def settle_pane(scene: Scene, layout: Layout, pane: PaneFit, world: World) -> PaneFit:
    """Return the pane; its own size, or the smallest one that neither cuts the ghost nor shows an edge.

    Left open, the size is what the ghost needs, with a margin. Each edge that would then be seen,
    and that no narrow trim hides, is moved out until it stands against the box, unless something
    in the box is in its way.

    The pane comes as `panefit.fit_pane` gives it, the world without holder and baffle.
    """
    if pane.given:
        return pane
    player = player_block(layout.screen, scene.screen.body)
    room = scene.holder.slack + scene.holder.sheet
    # the holder's strips stand beside the player
    kit = Block(player.centre, player.axes, player.half + np.array([room, room, 0.0]))
    blocks = [kit, *(b.block for b in world.bodies if b.role in {"divider", "thing"})]
    for index, edge in enumerate(find_edges(scene, layout, pane, world)):
        if _must_go(scene, edge):
            place = _lengthened(scene, layout, pane.place, index)
            longer = _as_far_as(scene, layout, pane, place, blocks)
            # up to a body that hides the edge, or to the box; else the pane stays as small as it can be
            edges = find_edges(scene, layout, longer, world)
            if not _must_go(scene, edges[index]):
                pane = longer
    return pane


def _as_far_as(scene: Scene, layout: Layout, pane: PaneFit, place: Rectangle, blocks: list[Block]) -> PaneFit:
    """Return the pane grown towards a place, as far as nothing is in its way."""

    def grown(share: float) -> PaneFit:
        ends = (a + share * (b - a) for a, b in zip(astuple(pane.place), astuple(place), strict=True))
        return placed_pane(scene, layout, pane.needed_place, Rectangle(*ends), given=False)

    def free(sheet: PaneFit) -> bool:
        block = pane_block(scene, layout, sheet)
        return all(gap(block, other) > 0 for other in blocks)

    if free(whole := grown(1.0)):
        return whole
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if free(grown(middle)) else (low, middle)
    # rounded down to a mark on the builder's ruler
    fits = grown(low).place
    step = ruler_step(scene.units)
    over = [size % step for size in fits.size]
    ends, old = [fits.left, fits.low, fits.right, fits.high], astuple(pane.place)
    for axis in (0, 1):
        if fits.size[axis] - over[axis] < pane.cut[axis] - 1e-6:
            continue
        if ends[axis] < old[axis] - 1e-9:
            ends[axis] += over[axis]
        else:
            ends[axis + 2] -= over[axis]
    return placed_pane(scene, layout, pane.needed_place, Rectangle(*ends), given=False)


def _must_go(scene: Scene, edge: Edge) -> bool:
    return edge.seen and edge.trim is not None and (not edge.trim.clear or is_wide(scene, edge.trim))


def _lengthened(scene: Scene, layout: Layout, place: Rectangle, index: int) -> Rectangle:
    """Return the rectangle with one edge (front, back, low, high) moved out to the box's surface.

    The opposite edge gives way so that the size stays a whole measure: outwards if it is free, and
    inwards, by less than one step, if it stands against the box already.
    """
    axis, far = divmod(index, 2)
    low, high = free_run(scene, layout, place, axis)
    start, end = ((place.left, place.right), (place.low, place.high))[axis]
    if high - low <= end - start:
        return place  # the box has no room for more
    start, end = (start, high) if far else (low, end)
    step = ruler_step(scene.units)
    size = rounded_up(end - start, scene.units)
    if size > high - low:
        size -= step
        middle = (start + end) / 2
        start, end = middle - size / 2, middle + size / 2
    elif far:
        start = max(end - size, low)
    else:
        end = min(start + size, high)
    if axis == 0:
        return Rectangle(start, place.low, end, place.high)
    return Rectangle(place.left, start, place.right, end)
