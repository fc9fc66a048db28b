"""From an upright figure to the raster: the right way round, the right size, in the right place."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from ghostprep.arrays import Codes, Doubles, Frame

_TURNS = (-1, cv2.ROTATE_90_CLOCKWISE, cv2.ROTATE_180, cv2.ROTATE_90_COUNTERCLOCKWISE)


@dataclass(frozen=True, slots=True)
class Orientation:
    """One of the eight ways in which a picture can lie on the raster."""

    mirrored: bool
    """Whether the upright picture is flipped left to right first."""
    quarter_turns: int
    """Clockwise quarter turns, 0..3, that it gets after that."""

    def __post_init__(self) -> None:
        if self.quarter_turns not in range(4):
            raise ValueError(f"quarter_turns is {self.quarter_turns}, it must be 0..3")

    @classmethod
    def of(cls, reflections: int, turn: int) -> Orientation:
        """Return what undoes `reflections` mirrors and a player turned by `turn` degrees.

        Parameters
        ----------
        reflections : int
            Mirrors and panes between screen and eye; an odd number mirrors the picture.
        turn : {0, 90, 180, 270}
            Degrees by which the player is turned clockwise in its holder, seen by
            someone who faces its screen.
        """
        if turn % 90:
            raise ValueError(f"turn is {turn}, it must be 0, 90, 180 or 270")
        return cls(reflections % 2 == 1, -turn // 90 % 4)

    def apply(self, picture: Codes) -> Codes:
        """Return the raster (h, w, ...) that shows an upright picture (h, w, ...); no resampling."""
        flipped = cv2.flip(picture, 1) if self.mirrored else picture
        turned = cv2.rotate(flipped, _TURNS[self.quarter_turns]) if self.quarter_turns else flipped
        return np.asarray(turned, picture.dtype)

    def undo(self, raster: Frame) -> Frame:
        """Return the upright picture that `apply` turned into this raster."""
        turned = np.rot90(raster, self.quarter_turns)
        return np.ascontiguousarray(turned[:, ::-1] if self.mirrored else turned)

    def picture_size(self, raster: tuple[int, int]) -> tuple[int, int]:
        """Return the upright picture's size (width, height) for a raster's size."""
        return (raster[1], raster[0]) if self.quarter_turns % 2 else raster

    def matrix(self, raster: tuple[int, int]) -> Doubles:
        """Return the 3x3 map from upright picture px to raster px; 0, 0 is a corner, not a pixel's centre."""
        width, height = self.picture_size(raster)
        m = np.eye(3)
        if self.mirrored:
            m = np.array([[-1.0, 0, width], [0, 1, 0], [0, 0, 1]])
        for _ in range(self.quarter_turns):
            # one clockwise turn: the top left corner goes to the top right one
            m = np.array([[0.0, -1, height], [1, 0, 0], [0, 0, 1]]) @ m
            width, height = height, width
        return m


@dataclass(frozen=True, slots=True)
class Placement:
    """Where a delivered figure stands on the raster, by flips and turns alone."""

    raster: tuple[int, int]
    """Width and height in pixels."""
    orientation: Orientation
    at: tuple[int, int] = (0, 0)
    """Column and row of the upright picture in which the figure's top left pixel falls; may lie outside, what
    falls out is cut off."""

    def moved(self, by: int) -> Placement:
        """Return the place of a figure whose top left pixel lies `by` px farther right and down."""
        return replace(self, at=(self.at[0] + by, self.at[1] + by))

    def __call__(self, figure: Codes) -> Codes:
        """Return the raster frame (h, w, 3) with the figure (h, w, 3) on black."""
        width, height = self.orientation.picture_size(self.raster)
        picture = np.zeros((height, width, 3), figure.dtype)
        x, y = self.at
        left, top = max(x, 0), max(y, 0)
        right, bottom = min(x + figure.shape[1], width), min(y + figure.shape[0], height)
        if right > left and bottom > top:
            picture[top:bottom, left:right] = figure[top - y : bottom - y, left - x : right - x]
        return self.orientation.apply(picture)


@dataclass(frozen=True, slots=True)
class Drift:
    """Stands a figure now here, now there, by parts of a pixel.

    The figure is delivered finer than the raster, so that each place is its own mean over the raster's
    pixels: moved by interpolation between them, its detail would waver with every step.
    """

    place: Placement | Warp
    """Of the figure at the raster's own pitch."""
    finer: int
    """Delivered pixels a raster pixel, along each side."""

    def __call__(self, figure: Codes, shift: tuple[float, float] = (0.0, 0.0)) -> Codes:
        """Return the raster frame (h, w, 3).

        Parameters
        ----------
        figure : ndarray of uint8 or uint16 (h, w, 3)
            As delivered, `finer` times as large.
        shift : tuple of float
            Right and down in the upright picture, raster pixels.
        """
        k, room = self.finer, int(np.ceil(max(map(abs, shift)))) + 1
        high, wide = -(-figure.shape[0] // k) + 2 * room, -(-figure.shape[1] // k) + 2 * room
        move = np.array([[1, 0, k * (room + shift[0])], [0, 1, k * (room + shift[1])]], np.float64)
        moved = cv2.warpAffine(figure, move, (wide * k, high * k), flags=cv2.INTER_LINEAR)
        at_pitch = np.asarray(cv2.resize(moved, (wide, high), interpolation=cv2.INTER_AREA), figure.dtype)
        return self.place.moved(-room)(at_pitch)


@dataclass(frozen=True, slots=True)
class Warp:
    """Where a delivered figure stands on the raster when the keystone must be undone."""

    raster: tuple[int, int]
    """Width and height in pixels."""
    matrix: Doubles
    """(3, 3): from delivered px to raster px; 0, 0 is the corner of the top left pixel in both."""

    def moved(self, by: int) -> Warp:
        """Return the map of a figure whose top left pixel lies `by` px farther right and down."""
        return replace(self, matrix=self.matrix @ np.array([[1.0, 0, by], [0, 1, by], [0, 0, 1]]))

    def __call__(self, figure: Codes) -> Codes:
        """Return the raster frame (h, w, 3) with the figure (h, w, 3) on black.

        Interpolates in code values: neighbours differ little there, and a figure's rim
        against black stays as soft as it was.
        """
        # OpenCV counts from pixel centres, our matrix from corners
        to_corner = np.array([[1.0, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
        to_centre = np.array([[1.0, 0, -0.5], [0, 1, -0.5], [0, 0, 1]])
        warped = cv2.warpPerspective(
            figure,
            to_centre @ self.matrix @ to_corner,
            self.raster,
            flags=cv2.INTER_CUBIC,
            borderMode=cv2.BORDER_CONSTANT,
            borderValue=(0, 0, 0),
        )
        return np.asarray(warped, figure.dtype)
