"""What colour the bodies in the box have, and the pictures on them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

import cv2
import numpy as np

from ghostprep.arrays import Frame, Light
from ghostprep.box import small_size
from ghostprep.errors import InputError, reason
from ghostprep.finding import Finding
from ghostprep.transfer import LUMA_709, codes_to_light

PAPER_FIGURE: Final = "paper figure"
GROUND: Final = "ground"
TILE_MM: Final = 500.0
"""Full-size side of a floor tile: a measure for the eye."""
_PER_WALL: Final[dict[str, tuple[float, tuple[float, float, float]]]] = {
    # luminance over the scenery's reflectance, and hue
    "left wall": (1.0, (1.06, 1.0, 0.86)),
    "right wall": (1.0, (1.06, 1.0, 0.86)),
    "back wall": (1.0, (1.06, 1.0, 0.86)),
    "ceiling": (1.1, (1.03, 1.0, 0.92)),
}
_PER_ROLE: Final[dict[str, tuple[float, tuple[float, float, float]]]] = {
    "divider": (0.9, (0.92, 1.03, 0.98)),
    "thing": (0.8, (1.3, 0.96, 0.6)),
    "holder": (0.9, (1.06, 1.0, 0.86)),
}
_OWN: Final[dict[str, float]] = {"front": 0.16, "player": 0.035, "baffle": 0.02}
"""Reflectances of stained wood, dark plastic, matt black paint. Common practice, no source."""
_TILES: Final = (0.55, 0.85)
"""Dark and light tiles, as shares of the scenery's reflectance."""
_WHITE: Final = 0.85
"""Reflectance of white paper. Common practice, no source."""
_LARGEST_BYTES: Final = 100_000_000
"""A larger file is no photograph."""
_LONGEST_PX: Final = 512
"""Longer side of a thing's picture as it is used: finer than it is shown."""


def colour_of(name: str, role: str, reflectance: float) -> Light:
    """Return the plain colour of a body: its reflectance in linear RGB (3,)."""
    if role in _OWN:
        return np.full(3, _OWN[role], np.float32)
    times, hue = _PER_WALL.get(name) or _PER_ROLE.get(role, (1.0, (1.0, 1.0, 1.0)))
    tint = np.array(hue) / float(np.dot(hue, LUMA_709))
    return np.minimum(times * reflectance * tint, 0.9).astype(np.float32)


def tiles(size_mm: tuple[float, float], tile_mm: float, reflectance: float) -> Light:
    """Return a floor of tiles, its middle line between two of them; linear RGB (h, w, 3)."""
    scale = _LONGEST_PX / max(size_mm)
    wide, high = (max(round(side * scale), 1) for side in size_mm)
    column = np.floor(((np.arange(wide) + 0.5) / scale - size_mm[0] / 2) / tile_mm).astype(int)
    row = np.floor((np.arange(high) + 0.5) / scale / tile_mm).astype(int)
    light = np.where((column[None, :] + row[:, None]) % 2, *_TILES) * reflectance
    return np.repeat(light[..., None], 3, axis=2).astype(np.float32)


def read_picture(name: str, folders: tuple[Path, ...]) -> Frame | Finding | None:
    """Return the picture of a thing (h, w, 3), named as in the scene file, or a caution that says why not.

    It is looked for in the folders in their order; None: it is in none of them.
    """
    for folder in folders:
        path = folder / name
        if path.is_file():
            try:
                return read_photo(path, _LONGEST_PX)[0]
            except InputError as error:
                return Finding("caution", "picture", str(error), "the thing is shown in a plain colour")
    return None


def missing_pictures(names: Sequence[str], folders: tuple[Path, ...]) -> Finding:
    """Say which pictures are in none of the folders, all at once: most often the folder is another one."""
    where = " or ".join(dict.fromkeys(str(folder.resolve()) for folder in folders))
    text = f"not found in {where}: {', '.join(dict.fromkeys(names))}"
    remedy = "put pictures beside the scene file, or name the scene: --scene FILE"
    return Finding("caution", "picture", text, remedy)


def read_photo(path: Path, longest_px: int) -> tuple[Frame, float]:
    """Read a picture (h, w, 3), turned upright by its own tag; return it and its size over the file's.

    Its longer side is at most `longest_px`.

    Raises
    ------
    InputError
        The file is missing or holds no picture.
    """
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            raise InputError("is larger than 100 MB", where=str(path), remedy="save a smaller copy")
        data = np.frombuffer(path.read_bytes(), np.uint8)
    except OSError as error:
        raise InputError(
            f"cannot be read ({reason(error).lower()})", where=str(path), remedy="check the name"
        ) from None
    try:
        picture = cv2.imdecode(data, cv2.IMREAD_COLOR) if len(data) else None
    except cv2.error:
        picture = None  # more pixels than the decoder takes
    if picture is None:
        raise InputError(
            "is not a picture that can be read", where=str(path), remedy="give a JPEG or PNG file"
        )
    shrink = min(1.0, longest_px / max(picture.shape[:2]))
    if shrink < 1:
        size = small_size((picture.shape[1], picture.shape[0]), longest_px)
        picture = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    return np.ascontiguousarray(picture[..., ::-1], np.uint8), shrink


def on_paper(picture: Frame) -> Light:
    """Return what a picture reflects, printed on white paper: linear RGB."""
    return codes_to_light(picture) * np.float32(_WHITE)


def paper_figure() -> Frame:
    """Return the picture of a standing passenger with hat and case, 1700 mm tall, on a pale card."""
    mask = np.zeros((400, 168), np.uint8)
    k = 400 / 1700

    def blob(*points: tuple[float, float]) -> None:
        cv2.fillPoly(mask, [np.array([(84 + x * k, 400 - y * k) for x, y in points], np.int32)], 1)

    cv2.ellipse(mask, (84, round(400 - 1545 * k)), (round(86 * k), round(120 * k)), 0, 0, 360, 1, -1)
    blob((-150, 1600), (150, 1600), (150, 1622), (-150, 1622))
    blob((-92, 1600), (92, 1600), (80, 1700), (-80, 1700))
    blob((-60, 1400), (60, 1400), (60, 1480), (-60, 1480))
    shoulders = [(-205, 1400), (205, 1400), (225, 1300), (250, 560), (190, 540)]
    blob(*shoulders, (-190, 540), (-250, 560), (-225, 1300))
    blob((-250, 900), (-200, 900), (-205, 700), (-255, 700))
    blob((-150, 560), (-20, 560), (-40, 0), (-170, 0))
    blob((150, 560), (20, 560), (40, 0), (170, 0))
    blob((180, 640), (340, 640), (340, 330), (180, 330))
    picture = np.full((*mask.shape, 3), (150, 144, 132), np.uint8)
    picture[mask > 0] = (70, 66, 62)
    return picture
