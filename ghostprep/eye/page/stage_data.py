"""A stage as plain numbers and pictures, for the page's script."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from ghostprep.eye.faces import GRID
from ghostprep.eye.page.sheets import data_address, encode
from ghostprep.eye.photo import PhotoScenery
from ghostprep.eye.stage import MIRROR_REFLECTANCE, ROOM_REFLECTANCE, Stage
from ghostprep.eye.view import LAMP_TINT
from ghostprep.optics.sightlines import opening_of
from ghostprep.optics.vectors import Vector
from ghostprep.optics.world import Sheet
from ghostprep.transfer import light_to_codes


def stage_data(stage: Stage) -> dict[str, object]:
    """Return what the script needs to show a stage to any eye: faces, their light, the pane's tables."""
    plan, screen, pane = stage.plan, stage.world.screen, stage.pane
    pictures: list[str] = []
    faces = []
    for face, light in zip(stage.faces, stage.maps, strict=True):
        told = _rectangle(face.corner, face.right, face.down, face.normal)
        told |= {"name": stage.world.bodies[face.body].name, "room": stage.from_room(face)}
        told["map"] = np.round(light.ravel(), 3).tolist()
        if face.paint.shape[:2] == (1, 1):
            told["paint"] = np.round(face.paint[0, 0], 4).tolist()
        else:
            told["picture"] = len(pictures)
            pictures.append(data_address(encode(light_to_codes(face.paint), ".webp", 90), "image/webp"))
        faces.append(told)
    corner = screen.corners()[0]
    o = opening_of(plan.scene)
    return {
        "faces": faces,
        "pictures": pictures,
        "grid": GRID,
        "screen": _rectangle(
            corner, screen.right * screen.active[0], -screen.up * screen.active[1], screen.normal
        ),
        "pane": _sheet(stage.world.pane),
        "mirrors": [_sheet(mirror) for mirror in stage.world.mirrors],
        "light": {
            "first": _numbers(pane.first, 5),
            "second": _numbers(pane.second, 5),
            "through": _numbers(pane.through, 5),
            "deeper": _numbers(pane.deeper_mm, 4),
        },
        "eye": plan.layout.eye.tolist(),
        "ghost": plan.layout.ghost.tolist(),
        "opening": [o.left, o.low, o.right, o.high],
        "active": list(screen.active),
        "white": plan.scene.screen.luminance,
        "screen_contrast": plan.scene.screen.contrast,
        "scenery": stage.scenery,
        "reflectance": plan.scene.light.reflectance,
        "full": stage.full,
        "lamp_tint": _numbers(LAMP_TINT, 4),
        "room_share": stage.room_share,
        "room_reflectance": ROOM_REFLECTANCE,
        "mirror_reflectance": MIRROR_REFLECTANCE,
    }


def photo_data(scenery: PhotoScenery) -> dict[str, object]:
    """Return what the script needs to show a photograph in the place of the faces' paint."""
    return {
        "picture": data_address(encode(scenery.photo, ".webp", 82), "image/webp"),
        "to_photo": scenery.to_photo.tolist(),
        "photo_size": [scenery.photo.shape[1], scenery.photo.shape[0]],
        "gain": scenery.gain,
    }


def _sheet(sheet: Sheet) -> dict[str, object]:
    c = sheet.corners
    return _rectangle(c[0], c[1] - c[0], c[3] - c[0], sheet.normal)


def _rectangle(corner: Vector, right: Vector, down: Vector, normal: Vector) -> dict[str, object]:
    named = zip(("corner", "right", "down", "normal"), (corner, right, down, normal), strict=True)
    return {name: _numbers(vector, 6) for name, vector in named}


def _numbers(values: Iterable[float], places: int) -> list[float]:
    return [round(float(v), places) for v in values]
