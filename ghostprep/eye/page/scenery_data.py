"""The scenery of the view as plain data for the page's script."""

from __future__ import annotations

import numpy as np

from ghostprep.eye.light import GRID, room_share
from ghostprep.eye.page.sheets import data_address, encode
from ghostprep.eye.photo import PhotoScenery
from ghostprep.eye.rays import card_place
from ghostprep.eye.stage import Stage
from ghostprep.eye.view import (
    BAFFLE_REFLECTANCE,
    FRONT_REFLECTANCE,
    LAMP_TINT,
    ROOM_REFLECTANCE,
    DrawnScenery,
)
from ghostprep.eye.walls import card_picture
from ghostprep.transfer import light_to_codes

_WALLS = ("back", "left", "right", "floor", "ceiling")


def scenery_data(scenery: DrawnScenery | PhotoScenery) -> dict[str, object]:
    """Return what the script needs to show a scenery."""
    if isinstance(scenery, PhotoScenery):
        return {
            "pictures": [data_address(encode(scenery.photo, ".webp", 82), "image/webp")],
            "to_photo": scenery.to_photo.tolist(),
            "photo_size": [scenery.photo.shape[1], scenery.photo.shape[0]],
            "gain": scenery.gain,
        }
    pictures = [encode(light_to_codes(scenery.walls[name]), ".webp", 88) for name in _WALLS]
    return {
        "pictures": [data_address(picture, "image/webp") for picture in pictures],
        "maps": [np.round(scenery.maps[name].ravel(), 4).tolist() for name in _WALLS],
        "grid": GRID,
        "peak": 1.0,
        "lamp_tint": LAMP_TINT.tolist(),
        "room_share": room_share(scenery.stage),
        "baffle_reflectance": BAFFLE_REFLECTANCE,
        "front_reflectance": FRONT_REFLECTANCE,
        "room_reflectance": ROOM_REFLECTANCE,
    }


def card_data(stage: Stage, scenery: DrawnScenery | PhotoScenery) -> dict[str, object]:
    """Return the scale figure: its place in the ghost plane (mm) and its picture; black is not part of it."""
    left, right, low, high = card_place(stage)
    light = scenery.walls["card"] if isinstance(scenery, DrawnScenery) else None
    picture = card_picture() if light is None else light_to_codes(light)
    return {
        "left": left,
        "right": right,
        "low": low,
        "high": high,
        "picture": data_address(encode(picture, ".png"), "image/png"),
    }
