"""The kinds of value in a scene file: lengths in the file's unit, plain numbers, pixels, points."""

from __future__ import annotations

from typing import Annotated, Final

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationInfo

from ghostprep.scene.lengths import finite, format_length, parse_length

_LONGEST_MM: Final = 20_000.0
"""A longer one is a slip of the unit."""


def units_of(info: ValidationInfo) -> str:
    """Return the unit of the file that is being read."""
    return str((info.context or {}).get("units", "mm"))


def _length(value: object, info: ValidationInfo) -> float:
    length = parse_length(value, units_of(info))
    if abs(length) > _LONGEST_MM:
        raise ValueError(f"is {length / 1000:.3g} m, which no box needs; check the unit")
    return length


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError("must be a number")  # noqa: TRY004 pydantic takes only ValueError
    return finite(value)


def _whole(value: object) -> object:
    if isinstance(value, bool) or not isinstance(value, int):
        raise ValueError("must be a whole number of pixels")  # noqa: TRY004 pydantic takes only ValueError
    return value


def _one_line(text: str) -> str:
    if not text.isprintable():
        raise ValueError("must be one line of printable text")
    return text


def _sheet(value: float, info: ValidationInfo) -> float:
    if value > THICKEST_MM:
        unit = units_of(info)
        most = format_length(THICKEST_MM, unit)
        raise ValueError(f"is {format_length(value, unit)}, but no pane is thicker than {most}")
    return value


THICKEST_MM: Final = 30.0
"""Thicker clear sheet is not sold for this; it is a slip of the unit."""
Length = Annotated[float, BeforeValidator(_length)]
Size = Annotated[Length, Field(gt=0)]
AtLeastZero = Annotated[Length, Field(ge=0)]
PaneThickness = Annotated[Size, AfterValidator(_sheet)]
Number = Annotated[float, BeforeValidator(_number)]
PixelCount = Annotated[int, BeforeValidator(_whole), Field(ge=16, le=8192)]
Point = tuple[Length, Length, Length]
OnFloor = tuple[Length, Length]
OneLine = Annotated[str, AfterValidator(_one_line)]


class Table(BaseModel):
    """A table of the scene file: unknown keys are errors, and nothing in it changes once it is read."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", arbitrary_types_allowed=True, use_attribute_docstrings=True
    )
