"""Checks across tables: what lies where it cannot lie."""

from __future__ import annotations

from typing import Final

from ghostprep.errors import InputError
from ghostprep.scene.lengths import format_length
from ghostprep.scene.model import Scene

_SLACK_MM: Final = 1e-6


def check_places(scene: Scene) -> None:
    """Refuse a scene whose parts lie where they cannot lie.

    Raises
    ------
    InputError
        The opening is larger than the front; the screen or the pane lies outside the box; the
        ghost is wanted before the opening.
    """
    box, opening = scene.box, scene.box.opening
    if opening.width > box.width + _SLACK_MM:
        raise InputError(
            "the opening is wider than the box",
            where=scene.where("box", "opening"),
            remedy=f"at most {format_length(box.width, scene.units)}",
        )
    if opening.sill + opening.height > box.height + _SLACK_MM:
        raise InputError(
            "sill and height of the opening reach above the box",
            where=scene.where("box", "opening"),
            remedy=f"together at most {format_length(box.height, scene.units)}",
        )
    _inside(scene, scene.screen.centre, "screen", "centre")
    _inside(scene, scene.pane.through, "pane", "through")
    if scene.ghost.at is not None and scene.ghost.at[2] <= 0:
        raise InputError(
            "the ghost would stand before the opening",
            where=scene.where("ghost", "at"),
            remedy="the third number is the depth into the box and must be above 0",
        )


def _inside(scene: Scene, point: tuple[float, float, float] | None, *path: str) -> None:
    if point is None:
        return
    box = scene.box
    limits = ((-box.width / 2, box.width / 2), (0.0, box.height), (0.0, box.depth))
    for name, value, (low, high) in zip("xyz", point, limits, strict=True):
        if not low - _SLACK_MM <= value <= high + _SLACK_MM:
            unit = scene.units
            raise InputError(
                f"lies outside the box: {name} is {format_length(value, unit)}",
                where=scene.where(*path),
                remedy=f"{name} runs from {format_length(low, unit)} to {format_length(high, unit)}",
            )
