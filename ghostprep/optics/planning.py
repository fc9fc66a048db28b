"""Plans a scene: what follows from it, and what that means for the builder."""

from __future__ import annotations

from dataclasses import replace

from ghostprep.optics.advice import collect_findings
from ghostprep.optics.collisions import find_collisions, find_reaches
from ghostprep.optics.layout import lay_out
from ghostprep.optics.light import find_light
from ghostprep.optics.mount import Mount, find_figure
from ghostprep.optics.panefit import fit_pane
from ghostprep.optics.panesize import settle_pane
from ghostprep.optics.plan import Plan
from ghostprep.optics.room import Room, choose_holder, find_shelf, find_ways_out
from ghostprep.optics.sight import find_sight
from ghostprep.optics.solids import gap, pane_block, player_block
from ghostprep.optics.world import build_world
from ghostprep.scene import Scene


def make_plan(scene: Scene) -> Plan:
    """Compute everything that follows from a scene, and the findings, each with a remedy that was tried.

    Raises
    ------
    InputError
        Screen, pane and ghost cannot stand like this; the line names the key and where it is.
    """
    plan = measure(scene)
    return replace(plan, findings=collect_findings(plan, measure))


def measure(scene: Scene) -> Plan:
    """Compute everything that follows from a scene, without findings; errors as of `make_plan`."""
    layout = lay_out(scene)
    figure, mount = find_figure(scene, layout)
    first = fit_pane(scene, layout)
    pane = settle_pane(scene, layout, first, build_world(scene, layout, first))
    sheet = pane_block(scene, layout, pane)
    bare = build_world(scene, layout, pane)
    ways = find_ways_out(scene, layout, sheet, bare.bodies)
    holder, out = choose_holder(scene, layout, ways)
    world = build_world(scene, layout, pane, holder)
    sight = find_sight(scene, layout, pane, world)
    if sight.baffle is not None and sight.baffle.clear:
        world = world.with_bodies([sight.baffle.body(scene)])
        ways = find_ways_out(scene, layout, sheet, world.bodies)
    light, doubling = find_light(scene, layout, mount, pane, world)
    body_to_pane = gap(player_block(layout.screen, scene.screen.body), sheet)
    return Plan(
        scene,
        layout,
        mount,
        figure,
        pane,
        light,
        doubling,
        sight,
        Room(find_shelf(scene), holder, out, body_to_pane, ways),
        world,
        find_collisions(world, sheet),
        find_reaches(scene, world.bodies, world.mirrors),
    )


def mount_of(scene: Scene) -> Mount:
    """Return how a scene's picture becomes the raster, without the rest of its plan; errors as there."""
    return find_figure(scene, lay_out(scene))[1]
