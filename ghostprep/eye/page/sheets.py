"""A loop's frames as a few large pictures, small enough to travel inside a page."""

from __future__ import annotations

import base64
import math
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np

from ghostprep.arrays import Frame
from ghostprep.box import small_size

LONGEST_PX: Final = 400
"""Longer side of a frame in the page: as much as the simulated view resolves."""
BYTES_PER_FRAME: Final = 8_600
"""A loop of 300 frames then stays under 2.6 MB, of which base64 makes 3.5 MB."""
_SHEET_PX: Final = 1_600
"""Sides of a sheet of frames at most."""
_QUALITIES: Final = (86, 74, 60, 45, 30)
"""Of WebP; the next lower one is taken where the sheets would grow too large."""


@dataclass(frozen=True, slots=True)
class Sheets:
    """Frames tiled row by row."""

    addresses: tuple[str, ...]
    """One ``data:`` address a sheet."""
    size: tuple[int, int]
    """Width and height of one frame, px."""
    columns: int
    per: int
    """Frames in a row, and in a sheet."""
    frames: int


class SheetWriter:
    """Takes frames of a raster (width, height) one by one and keeps only finished sheets."""

    def __init__(self, raster: tuple[int, int]) -> None:
        self.size = small_size(raster, LONGEST_PX)
        self._columns = max(_SHEET_PX // self.size[0], 1)
        self._per = self._columns * max(_SHEET_PX // self.size[1], 1)
        self._pending: list[Frame] = []
        self._addresses: list[str] = []
        self._quality = 0
        self._frames = 0

    def add(self, frame: Frame) -> None:
        """Take the next frame, uint8 RGB (h, w, 3)."""
        if frame.shape[1::-1] != self.size:
            frame = np.asarray(cv2.resize(frame, self.size, interpolation=cv2.INTER_AREA), np.uint8)
        self._pending.append(frame)
        self._frames += 1
        if len(self._pending) == self._per:
            self._close()

    def finish(self) -> Sheets:
        """Return all sheets; ValueError: no frame was added."""
        if self._pending:
            self._close()
        if not self._addresses:
            raise ValueError("no frame to show")
        return Sheets(tuple(self._addresses), self.size, self._columns, self._per, self._frames)

    def _close(self) -> None:
        width, height = self.size
        columns = min(self._columns, len(self._pending))
        rows = math.ceil(len(self._pending) / self._columns)
        sheet = np.zeros((rows * height, columns * width, 3), np.uint8)
        for place, frame in enumerate(self._pending):
            y, x = place // self._columns * height, place % self._columns * width
            sheet[y : y + height, x : x + width] = frame
        data = self._encoded(sheet, len(self._pending) * BYTES_PER_FRAME)
        self._addresses.append(data_address(data, "image/webp"))
        self._pending = []

    def _encoded(self, sheet: Frame, most: int) -> bytes:
        """Encode at the best quality that fits; the first sheet's choice is where the next ones begin."""
        data = b""
        for step in range(self._quality, len(_QUALITIES)):
            data = encode(sheet, ".webp", _QUALITIES[step])
            if len(data) <= most:
                self._quality = step
                break
        return data


def encode(picture: Frame, ending: str, quality: int = 90) -> bytes:
    """Encode an RGB picture (h, w, 3) as ``.webp`` or ``.png``."""
    settings = [cv2.IMWRITE_WEBP_QUALITY, quality] if ending == ".webp" else [cv2.IMWRITE_PNG_COMPRESSION, 9]
    done, data = cv2.imencode(ending, np.ascontiguousarray(picture[..., ::-1]), settings)
    if not done:
        raise ValueError(f"a picture of {picture.shape} could not be encoded as {ending}")
    return data.tobytes()


def data_address(data: bytes, kind: str) -> str:
    """Return the ``data:`` address that holds a file's bytes."""
    return f"data:{kind};base64,{base64.b64encode(data).decode('ascii')}"
