"""The whole geometry and light of one scene, computed."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.optics.advice import collect_findings
from ghostprep.optics.cutting import settle_pane
from ghostprep.optics.figure import Figure, find_figure
from ghostprep.optics.layout import Layout, lay_out
from ghostprep.optics.light import Doubling, Light, find_light
from ghostprep.optics.mount import Mount
from ghostprep.optics.panefit import PaneFit
from ghostprep.optics.report import report
from ghostprep.optics.room import Room, find_room
from ghostprep.optics.sight import Sight, find_sight
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
    light, doubling = find_light(scene, layout, mount)
    pane = settle_pane(scene, layout)
    sight = find_sight(scene, layout, pane)
    room = find_room(scene, layout, pane, baffled=sight.baffle is not None)
    plan = Plan(scene, layout, mount, figure, pane, light, doubling, sight, room)
    return replace(plan, findings=collect_findings(plan))
