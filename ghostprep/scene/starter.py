"""The starter scene file, and the same file with a builder's own measures."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import resources
from typing import Any

import tomlkit

from ghostprep.scene.lengths import MM_PER
from ghostprep.scene.model import Scene


def starter_text() -> str:
    """Return the commented starter scene, a scene without faults."""
    return (resources.files("ghostprep.scene") / "starter.toml").read_text(encoding="utf-8")


def filled_text(values: Mapping[str, Any], text: str | None = None) -> str:
    """Return a scene file's text with values put in and its comments kept.

    Parameters
    ----------
    values : mapping
        Key path ("screen.centre") to the new value; None takes the key out, so that its default
        or what follows from other keys is used.
    """
    document = tomlkit.parse(starter_text() if text is None else text)
    for path, value in values.items():
        *tables, key = path.split(".")
        place: Any = document
        for table in tables:
            place = place.setdefault(table, tomlkit.table())
        if value is None:
            place.pop(key, None)
            continue
        if isinstance(value, Mapping):
            inline = tomlkit.inline_table()
            inline.update(value)
            value = inline  # noqa: PLW2901 tomlkit would write a new table of its own
        elif isinstance(value, tuple):
            value = list(value)  # noqa: PLW2901
        _replace(place, key, value)
    return tomlkit.dumps(document)


def _replace(table: Any, key: str, value: Any) -> None:
    item = tomlkit.item(value)
    if key in table:
        old = table.item(key) if hasattr(table, "item") else table[key]
        item.trivia.comment_ws, item.trivia.comment = old.trivia.comment_ws, old.trivia.comment
    table[key] = item


def solved_values(scene: Scene) -> dict[str, Any]:
    """Return what a search has settled (screen and pane), for `filled_text`, in the scene's units."""
    per = MM_PER[scene.units]

    def shown(point: tuple[float, ...] | None) -> list[float] | None:
        return None if point is None else [round(v / per, 4) for v in point]

    screen, pane = scene.screen, scene.pane
    return {
        "screen.wall": screen.wall,
        "screen.centre": shown(screen.centre),
        "screen.top": screen.top,
        "screen.swivel": round(screen.swivel, 3),
        "pane.angle": round(pane.angle, 4),
        "pane.through": shown(pane.through),
        "pane.size": shown(pane.size),
    }
