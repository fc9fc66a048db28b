"""Paints what stands in the sample scene: two doors and the ticket counter, as their fronts look.

    python sample_media/make_furniture.py

Each is painted in its full-size millimetres; brush and colours are all there is.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt

Colour = tuple[int, int, int]

WOOD: Colour = (132, 96, 64)
DARK: Colour = (84, 58, 38)
BRASS: Colour = (206, 170, 92)
STEEL: Colour = (70, 92, 112)
RIVET: Colour = (122, 140, 152)
GLASS: Colour = (150, 168, 172)
PALE: Colour = (214, 204, 178)

PX_PER_MM = 0.2


class Front:
    """A front of so many full-size millimetres; x from its left, y up from its foot."""

    def __init__(self, wide: float, high: float, colour: Colour) -> None:
        self.high = high
        self.picture: npt.NDArray[np.uint8] = np.full(
            (round(high * PX_PER_MM), round(wide * PX_PER_MM), 3), colour, np.uint8
        )

    def px(self, x: float, y: float) -> tuple[int, int]:
        """Return a point in sixteenths of a pixel."""
        return round(x * PX_PER_MM * 16), round((self.high - y) * PX_PER_MM * 16)

    def box(self, x0: float, y0: float, x1: float, y1: float, colour: Colour) -> None:
        """Fill an upright rectangle."""
        corners = np.array([self.px(x0, y0), self.px(x1, y0), self.px(x1, y1), self.px(x0, y1)], np.int32)
        cv2.fillConvexPoly(self.picture, corners, colour, cv2.LINE_AA, 4)

    def disc(self, x: float, y: float, radius: float, colour: Colour) -> None:
        """Fill a circle."""
        cv2.circle(self.picture, self.px(x, y), round(radius * PX_PER_MM * 16), colour, -1, cv2.LINE_AA, 4)

    def word(self, text: str, x: float, y: float, tall: float, colour: Colour) -> None:
        """Write a word around x, on the line y."""
        face, size = cv2.FONT_HERSHEY_DUPLEX, tall * PX_PER_MM / 21
        (wide, _), _ = cv2.getTextSize(text, face, size, 1)
        at = round(x * PX_PER_MM - wide / 2), round((self.high - y) * PX_PER_MM)
        cv2.putText(self.picture, text, at, face, size, colour, 1, cv2.LINE_AA)


def hall_door() -> Front:
    """Paint two panels below, a window above, a brass handle; 816 mm x 2040 mm."""
    front = Front(816, 2040, DARK)
    front.box(40, 20, 776, 2000, WOOD)
    for x in (110, 430):
        front.box(x, 130, x + 276, 880, DARK)
        front.box(x + 24, 154, x + 252, 856, WOOD)
    front.box(110, 1060, 706, 1860, DARK)
    front.box(136, 1086, 680, 1834, GLASS)
    front.box(400, 1086, 416, 1834, DARK)
    front.box(706, 930, 752, 1050, BRASS)
    front.disc(729, 960, 34, BRASS)
    return front


def gangway_door() -> Front:
    """Paint a ship's steel door with a porthole; 828 mm x 2040 mm."""
    front = Front(828, 2040, RIVET)
    front.box(36, 36, 792, 2004, STEEL)
    for y in np.arange(90, 2000, 200.0):
        front.disc(62, float(y), 12, RIVET)
        front.disc(766, float(y), 12, RIVET)
    front.disc(414, 1480, 210, BRASS)
    front.disc(414, 1480, 160, (30, 40, 52))
    front.box(640, 930, 770, 975, BRASS)
    front.word("GANGWAY", 414, 1780, 110, PALE)
    return front


def ticket_counter() -> Front:
    """Paint a panelled counter with its sign; 960 mm x 1056 mm."""
    front = Front(960, 1056, WOOD)
    front.box(0, 985, 960, 1056, DARK)
    front.box(0, 0, 960, 80, DARK)
    for x in (40, 350, 660):
        front.box(x, 130, x + 260, 640, DARK)
        front.box(x + 22, 152, x + 238, 618, WOOD)
    front.box(110, 700, 850, 930, PALE)
    front.word("TICKETS", 480, 765, 130, DARK)
    return front


def main() -> None:
    """Write all three."""
    parser = argparse.ArgumentParser(description="Paint the sample scene's furniture again.")
    parser.add_argument("--out", type=Path, default=Path(__file__).parent, help="folder for the pictures")
    out = parser.parse_args().out
    for paint in (hall_door, gangway_door, ticket_counter):
        cv2.imwrite(str(out / f"{paint.__name__}.png"), paint().picture[..., ::-1])


if __name__ == "__main__":
    main()
