"""The whole geometry and light of one scene, and its report."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ghostprep.finding import Finding
from ghostprep.optics.bodies import thing_names
from ghostprep.optics.collisions import Collision
from ghostprep.optics.layout import Layout
from ghostprep.optics.light import Doubling, Luminances
from ghostprep.optics.mount import Figure, Mount
from ghostprep.optics.panefit import PaneFit
from ghostprep.optics.room import Room
from ghostprep.optics.sight import Sight
from ghostprep.optics.vectors import Vector
from ghostprep.optics.world import World
from ghostprep.scene import Scene


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """What follows from a scene.

    Attributes
    ----------
    layout : Layout
        Screen, pane and ghost in space.
    mount : Mount
        How a picture becomes the raster.
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
    light: Luminances
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
        layout, mount, figure, pane = self.layout, self.mount, self.figure, self.pane
        return {
            "scene": self.scene_report(),
            "ghost": {
                "centre": _numbers(layout.ghost),
                "corners": _numbers(layout.image.corners()),
                "depth_behind_opening": float(layout.ghost[2]),
            },
            "orientation": {
                "mirrored": mount.mirrored,
                "quarter_turns": mount.quarter_turns,
                "keystone": mount.keystone_px,
                "homography": _numbers(mount.homography),
            },
            "figure": {n: getattr(figure, n) for n in ("height_mm", "height_px", "fits", "largest_mm")},
            "pane": {
                "angle": layout.angle_deg,
                "needed": list(pane.needed),
                "cut": list(pane.cut),
                "corners": _numbers(pane.corners),
                "inside_box": not pane.outside,
            },
            "doubling": self.doubling.as_dict(),
            "light": self.light.as_dict(),
            "sight": self.sight.as_dict(),
            "things": _things_report(self.scene),
            "collisions": [[c.first, c.second, c.overlap_mm] for c in self.collisions],
            "shelf": self.room.shelf.as_dict(),
            "findings": [finding.as_dict() for finding in self.findings],
        }

    def scene_report(self) -> dict[str, Any]:
        """Return the scene in mm with every default and every computed place filled in."""
        scene, layout = self.scene, self.layout
        values: dict[str, Any] = scene.model_dump(mode="python", exclude={"scale"}, by_alias=True)
        values["scale"] = scene.scale.as_written()
        values["units"] = "mm"
        values["viewer"]["height"] = float(layout.eye[1])
        values["screen"]["centre"] = _numbers(layout.screen.centre)
        values["pane"].update(through=_numbers(layout.on_pane), angle=layout.angle_deg)
        values["pane"]["size"] = list(self.pane.cut)
        values["ghost"]["at"] = _numbers(layout.ghost if layout.wanted is None else layout.wanted)
        values["light"]["scene"] = self.light.scenery
        return values


def _things_report(scene: Scene) -> list[dict[str, Any]]:
    """Return each thing's height, its full-size height and the scale that they make."""
    return [
        {
            "name": name,
            "height_mm": thing.size[1],
            "full_size_mm": thing.real,
            "scale": None if thing.real is None else thing.real / thing.size[1],
        }
        for name, thing in zip(thing_names(scene), scene.thing, strict=True)
    ]


def _numbers(values: Vector) -> Any:
    # adding 0 turns -0.0 into 0.0, which reads better
    return (values + 0.0).tolist()
