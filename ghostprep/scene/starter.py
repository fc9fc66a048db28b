"""The starter scene file, and the same file with a builder's own measures."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from importlib import resources
from typing import Any, Final

import tomlkit

from ghostprep.scene.furniture import Divider
from ghostprep.scene.lengths import MM_PER
from ghostprep.scene.model import Scene

_EXAMPLE: Final = re.compile(r"#(?: +[a-z]+ = |  +\{| \]$| \[\[| Examples?\b| Forced perspective)")
"""Lines of the starter that show a key by an example."""
_SOLVED: Final = {
    "screen": ("wall", "centre", "top", "swivel"),
    "pane": ("angle", "through", "size"),
    "ghost": ("at", "feet", "figure"),
    "viewer": ("sway",),
    "box": ("width", "height", "depth"),
}
"""What a search settles, by table."""
_PLACED: Final = frozenset({"screen", "pane"})
"""Tables of which all that is settled is written, though it is as it was taken."""


def starter_text() -> str:
    """Return the commented starter scene, a scene without faults."""
    return (resources.files("ghostprep.scene") / "starter.toml").read_text(encoding="utf-8")


def filled_text(values: Mapping[str, Any], text: str | None = None) -> str:
    """Return a scene file's text with values put in, by key path ("screen.centre"), and its comments kept.

    None takes a key out, so that its default or what follows from other keys is used.
    """
    document = tomlkit.parse(starter_text() if text is None else text)
    for path, value in values.items():
        *tables, key = path.split(".")
        place: Any = document
        for table in tables:
            new = tomlkit.table() if place is document else tomlkit.inline_table()
            place = place.setdefault(table, new)
        if value is None:
            place.pop(key, None)
            continue
        if isinstance(value, list) and value and isinstance(value[0], Mapping):
            place[key] = tomlkit.aot()
            for entry in value:
                place[key].append(_table(entry))
            continue
        item = _inline(value) if isinstance(value, Mapping) else tomlkit.item(value)
        if key in place:
            old = place.item(key) if hasattr(place, "item") else place[key]
            # comments that stand below each other stay so
            longer = len(item.as_string()) - len(old.as_string().rpartition("\n")[2])
            if old.trivia.comment:
                item.trivia.comment_ws = " " * max(len(old.trivia.comment_ws) - longer, 2)
            item.trivia.comment = old.trivia.comment
        place[key] = item
    return tomlkit.dumps(document)


def asked_text(values: Mapping[str, Any]) -> str:
    """Return a scene file of a builder's own answers, without the starter's examples in other measures."""
    lines = [line for line in filled_text(values).splitlines() if not _EXAMPLE.match(line)]
    return re.sub(r"\n{3,}", "\n\n", "\n".join(lines)) + "\n"


def _table(entry: Mapping[str, Any]) -> Any:
    """Return one table of a list; lists of tables inside it are written in one line each."""
    table = tomlkit.table()
    for key, value in entry.items():
        if isinstance(value, list) and value and isinstance(value[0], Mapping):
            table[key] = tomlkit.array()
            for part in value:
                table[key].append(_inline(part))
        else:
            table[key] = value
    return table


def _inline(values: Mapping[str, Any]) -> Any:
    """Return a table in one line; tomlkit would write one of its own."""
    inline = tomlkit.inline_table()
    inline.update(values)
    return inline


def solved_values(before: Scene, scene: Scene) -> dict[str, Any]:
    """Return what a search has settled, for `filled_text`, in the scene's units.

    What the file gave and the search kept is left out, so that it stays as the builder wrote it.
    """
    per = MM_PER[scene.units]

    def shown(value: Any) -> Any:
        if isinstance(value, tuple):
            return [shown(v) for v in value]
        return round(value / per, 4) if isinstance(value, float) else value

    found: dict[str, Any] = {}
    for table, names in _SOLVED.items():
        old, new = getattr(before, table), getattr(scene, table)
        for name in names:
            value = getattr(new, name)
            written = name in old.model_fields_set
            if value == getattr(old, name) and (written or value is None or table not in _PLACED):
                continue
            in_degrees = name in {"angle", "swivel"}
            found[f"{table}.{name}"] = round(value, 4) if in_degrees else shown(value)
    if scene.divider != before.divider:
        found["divider"] = [_divider_values(d, shown) for d in scene.divider]
    return found


def _divider_values(divider: Divider, shown: Callable[[Any], Any]) -> dict[str, Any]:
    values: dict[str, Any] = {"from": divider.start, "to": divider.end, "thickness": divider.thickness}
    if divider.height is not None:
        values["height"] = divider.height
    found = {key: shown(value) for key, value in values.items()}
    if divider.doorways:
        names = ("at", "width", "height", "sill")
        found["doorways"] = [{n: shown(getattr(d, n)) for n in names} for d in divider.doorways]
    return found
