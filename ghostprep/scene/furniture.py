"""What stands in the box besides the optics: dividers, mirrors, things, and the player's holder."""

from __future__ import annotations

import itertools
import math
from typing import Annotated, Literal, Self

from pydantic import Field, field_validator, model_validator

from ghostprep.scene.fields import AtLeastZero, Length, Number, OneLine, OnFloor, Point, Size, Table
from ghostprep.scene.lengths import parse_length

Way = Literal["up", "down", "front", "back", "left", "right"]


class Doorway(Table):
    """A hole in a divider, from its sill up."""

    at: Length
    """Its middle, along the line from `from`."""
    width: Size
    """Its width."""
    height: Size
    """From its sill to its top."""
    sill: AtLeastZero = 0.0
    """From the floor to its lower edge."""


class _Line(Table):
    """What stands upright on a straight line of the floor."""

    start: OnFloor = Field(alias="from")
    """One end of its middle line: x, z."""
    end: OnFloor = Field(alias="to")
    """The other end: x, z."""

    @property
    def length(self) -> float:
        """From one end of the line to the other, mm."""
        return math.dist(self.start, self.end)

    @model_validator(mode="after")
    def _has_length(self) -> Self:
        if self.length < 1:
            raise ValueError("to: is the same point as `from`; give the two ends of its line on the floor")
        return self


class Divider(_Line):
    """An inner wall, from the floor up."""

    thickness: Size = 3.0
    """Of its sheet."""
    height: Size | None = None
    """Left out: up to the ceiling."""
    doorways: tuple[Doorway, ...] = ()
    """Holes in it, each with `at`, `width`, `height` and `sill`."""

    @model_validator(mode="after")
    def _doorways_fit(self) -> Self:
        spans = sorted((d.at - d.width / 2, d.at + d.width / 2) for d in self.doorways)
        if spans and (spans[0][0] < -1e-6 or spans[-1][1] > self.length + 1e-6):
            raise ValueError(
                "doorways: one reaches beyond the divider's end; `at` is the doorway's middle, "
                "measured along the divider from `from`"
            )
        if any(b[0] < a[1] - 1e-6 for a, b in itertools.pairwise(spans)):
            raise ValueError("doorways: two of them overlap")
        return self


class Mirror(_Line):
    """A flat front-faced mirror that looks towards the opening."""

    sill: AtLeastZero = 0.0
    """From the floor to its lower edge."""
    height: Size | None = None
    """Left out: up to the ceiling."""


class Thing(Table):
    """Whatever stands, hangs or lies in the box."""

    name: Annotated[OneLine, Field(min_length=1, max_length=60)]
    """What findings and drawings call it."""
    at: Point
    """Middle of its underside: x, y, z."""
    size: tuple[Size, Size, Size]
    """Across, up and deep."""
    turn: Number = 0.0
    """Degrees about the upright, clockwise from above."""
    real: Size | None = None
    """Its full-size height, checked against the scale where it stands."""
    seems: Annotated[float, Field(gt=0)] | None = None
    """How far from the eye it is meant to look, full size."""
    picture: OneLine = ""
    """What its front shows in the preview, a file beside the scene file."""

    @field_validator("seems", mode="before")
    @classmethod
    def _far(cls, value: object) -> object:
        # a full-size distance may be longer than any box
        return value if value is None else parse_length(value)


class Holder(Table):
    """What the player slides into."""

    sheet: Size = 3.0
    """Thickness of the sheet it is made of."""
    slack: AtLeastZero = 0.5
    """Clearance on each side; common practice, no source."""
    out: Way | None = None
    """The way the player is drawn out; left out: chosen."""


class Strip(Table):
    """A row of small lamps on a straight line."""

    start: Point = Field(alias="from")
    """One end: x, y, z."""
    end: Point = Field(alias="to")
    """The other end: x, y, z."""
    lumens: Annotated[Number, Field(gt=0, le=100_000)]
    """Light of all of it."""
    faces: Way = "down"
    """Where it shines to."""
