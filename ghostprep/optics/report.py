"""A plan as the report of ``plan --json`` gives it: millimetres, degrees, cd/m2."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ghostprep.optics.bodies import thing_names

if TYPE_CHECKING:
    from ghostprep.optics.plan import Plan
    from ghostprep.optics.vectors import Vector
    from ghostprep.scene import Scene


def report(plan: Plan) -> dict[str, object]:
    """Return the whole report of a plan."""
    layout, mount, figure, pane = plan.layout, plan.mount, plan.figure, plan.pane
    return {
        "scene": scene_report(plan),
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
        "figure": {
            "height_mm": figure.height_mm,
            "height_px": figure.height_px,
            "fits": figure.fits,
            "largest_mm": figure.largest_mm,
        },
        "pane": {
            "angle": layout.angle_deg,
            "needed": list(pane.needed),
            "cut": list(pane.cut),
            "corners": _numbers(pane.corners),
            "inside_box": pane.inside_box,
        },
        "doubling": plan.doubling.as_dict(),
        "light": plan.light.as_dict(),
        "sight": plan.sight.as_dict(),
        "things": things_report(plan.scene),
        "collisions": [[c.first, c.second, c.overlap_mm] for c in plan.collisions],
        "shelf": plan.room.shelf.as_dict(),
        "findings": [finding.as_dict() for finding in plan.findings],
    }


def scene_report(plan: Plan) -> dict[str, Any]:
    """Return the scene in mm with every default and every computed place filled in."""
    scene, layout = plan.scene, plan.layout
    values: dict[str, Any] = scene.model_dump(mode="python", exclude={"scale"}, by_alias=True)
    values["scale"] = scene.scale.as_written()
    values["units"] = "mm"
    values["viewer"]["height"] = float(layout.eye[1])
    values["screen"]["centre"] = _numbers(layout.screen.centre)
    values["pane"].update(through=_numbers(layout.on_pane), angle=layout.angle_deg, size=list(plan.pane.cut))
    values["ghost"]["at"] = _numbers(layout.ghost if layout.wanted is None else layout.wanted)
    values["light"]["scene"] = plan.light.scenery
    return values


def things_report(scene: Scene) -> list[dict[str, Any]]:
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
