"""The whole geometry and light of one scene, computed."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.optics.advice import collect_findings
from ghostprep.optics.collide import Collision, find_collisions, find_reaches
from ghostprep.optics.cutting import settle_pane
from ghostprep.optics.figure import Figure, find_figure
from ghostprep.optics.layout import Layout, lay_out
from ghostprep.optics.light import Doubling, Light, find_light
from ghostprep.optics.mount import Mount
from ghostprep.optics.panefit import PaneFit, fit_pane
from ghostprep.optics.report import report
from ghostprep.optics.room import Room, choose_holder, find_shelf, find_ways_out
from ghostprep.optics.sight import Sight, find_sight
from ghostprep.optics.solids import gap, pane_block, player_block
from ghostprep.optics.world import World, build_world
from ghostprep.scene import Scene


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """What follows from a scene.

    Attributes
    ----------
    scene : Scene
    layout : Layout
        Screen, pane and ghost in space.
    mount : Mount
        How a picture becomes the raster.
    figure : Figure
    pane : PaneFit
    light : Light
    doubling : Doubling
    sight : Sight
    room : Room
    world : World
        What stands in the box; the baffle too where one is needed and clear of the ghost.
    collisions : tuple of Collision
        Pairs that want the same place.
    reaches : tuple of Collision
        What reaches through the box's inner surfaces.
    findings : tuple of Finding
        In the builder's units.
    """

    scene: Scene
    layout: Layout
    mount: Mount
    figure: Figure
    pane: PaneFit
    light: Light
    doubling: Doubling
    sight: Sight
    room: Room
    world: World
    collisions: tuple[Collision, ...]
    reaches: tuple[Collision, ...]
    findings: tuple[Finding, ...] = ()

    @property
    def faults(self) -> int:
        """How many findings are faults."""
        return sum(finding.level == "fault" for finding in self.findings)

    def as_dict(self) -> dict[str, object]:
        """Return the report: lengths in mm, angles in degrees, luminances in cd/m2."""
        return report(self)


def make_plan(scene: Scene) -> Plan:
    """Compute everything that follows from a scene.

    Raises
    ------
    InputError
        Screen, pane and ghost cannot stand like this; the line names the key and where it is.
    """
    layout = lay_out(scene)
    try:
        figure, mount = find_figure(scene, layout)
    except ValueError as error:
        raise InputError(str(error), where=scene.where("scale")) from None
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
    plan = Plan(
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
        find_reaches(scene, world.bodies),
    )
    return replace(plan, findings=collect_findings(plan))
