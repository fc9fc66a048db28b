"""Painting in units of one's own: shapes and words."""

from __future__ import annotations

import cv2
import numpy as np

from ghostprep.arrays import Frame

Colour = tuple[int, int, int]
Point = tuple[float, float]


class Brush:
    """A picture in units of one's own, `scale` pixels each: x from its left, y up from its bottom."""

    def __init__(self, size: tuple[float, float], scale: float) -> None:
        self.wide, self.high = size
        self.scale = scale
        rows, columns = max(round(self.high * scale), 2), max(round(self.wide * scale), 2)
        self.picture: Frame = np.zeros((rows, columns, 3), np.uint8)

    def _px(self, x: float, y: float) -> tuple[int, int]:
        # in sixteenths of a pixel; drawing counts from a pixel's middle
        return round(x * self.scale * 16 - 8), round((self.high - y) * self.scale * 16 - 8)

    def fill(self, points: list[Point], colour: Colour) -> None:
        """Fill a convex outline; edges fall between pixels without steps."""
        corners = np.array([self._px(x, y) for x, y in points], np.int32)
        cv2.fillConvexPoly(self.picture, corners, colour, cv2.LINE_AA, 4)

    def box(self, x0: float, y0: float, x1: float, y1: float, colour: Colour) -> None:
        """Fill an upright rectangle: whole pixels where its edges fall between pixels."""
        a, d = x0 * self.scale, (self.high - y0) * self.scale
        b, c = x1 * self.scale, (self.high - y1) * self.scale
        edges = [round(v) for v in (a, b, c, d)]
        if max(abs(v - e) for v, e in zip((a, b, c, d), edges, strict=True)) < 0.02:
            left, right, top, bottom = (max(e, 0) for e in edges)
            self.picture[top:bottom, left:right] = colour
        else:
            self.fill([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], colour)

    def ring(self, x: float, y: float, radius: float, wide: float, colour: Colour) -> None:
        """Draw a circle's line."""
        thick = max(round(wide * self.scale), 1)
        cv2.circle(
            self.picture, self._px(x, y), round(radius * self.scale * 16), colour, thick, cv2.LINE_AA, 4
        )

    def word(self, text: str, x: float, y: float, tall: float, colour: Colour) -> None:
        """Write a word around x, on the line y, or as near as the picture has room for it.

        Nothing is written if it would be too small to be a word.
        """
        face, px = cv2.FONT_HERSHEY_SIMPLEX, tall * self.scale
        if px < 5:
            return
        thick = max(round(px / 9), 1)
        (wide, _), _ = cv2.getTextSize(text, face, px / 22, thick)
        spare = self.picture.shape[1] - wide - thick
        at = max(min(round(x * self.scale - wide / 2), spare), thick), round((self.high - y) * self.scale)
        cv2.putText(self.picture, text, at, face, px / 22, colour, thick, cv2.LINE_AA)
