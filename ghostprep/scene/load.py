"""Reads a scene file; whatever is wrong becomes one line that names key and line."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any, Final, get_args

from pydantic import ValidationError

from ghostprep.arguments import checked
from ghostprep.errors import InputError, reason
from ghostprep.scene.lengths import Units, format_length
from ghostprep.scene.lines import KeyLines, find_lines
from ghostprep.scene.model import Scene
from ghostprep.tables import keys_at
from ghostprep.words import did_you_mean

_LARGEST_FILE: Final = 1_000_000
"""Bytes; a scene takes some thousand."""
_SLACK_MM: Final = 1e-6
"""What two measures in inches are off by rounding."""
_SAYS: Final = {
    "missing": "is needed but not given",
    "greater_than": "is {input}, but must be above {gt}",
    "greater_than_equal": "is {input}, but must be {ge} or more",
    "less_than": "is {input}, but must be below {lt}",
    "less_than_equal": "is {input}, but must be {le} or less",
    "literal_error": "is {input!r}, but must be one of {expected}",
    "too_short": "has too few values: it needs {min_length}",
    "too_long": "has too many values: it takes {max_length}",
    "too_short, text": "is empty",
    "too_long, text": "is too long: it takes {max_length} letters",
    "tuple_type": "must be a list of values in square brackets",
    "string_type": "must be a text in quotes",
    "model_type": "must be a table of keys",
}


@checked
def load_scene(path: str | Path) -> Scene:
    """Read and check a scene file, a TOML file as ``ghostprep scene`` writes it; all lengths become mm.

    Raises
    ------
    InputError
        The file cannot be read, is no TOML, or a key or value is wrong; the line says which.
    """
    file = Path(path)
    return parse_scene(_read(file), str(file))


def parse_scene(text: str, file: str = "") -> Scene:
    """Check the text of a scene file; `file` is only named in errors."""
    try:
        data = tomllib.loads(text)
    except ValueError as error:
        # also numbers of thousands of digits, which Python refuses to read
        raise _syntax_error(error, file) from None
    except RecursionError:
        raise InputError("is nested too deeply", where=file, remedy="a scene file is flat") from None
    lines = find_lines(text, file)
    units = data.get("units", "mm")
    if units not in get_args(Units):
        raise InputError(f"is {units!r}, but must be one of 'mm', 'cm' or 'in'", where=lines.where("units"))
    try:
        scene = Scene.model_validate(data, context={"units": units}).with_lines(lines)
    except ValidationError as error:
        raise _first_error(error, lines) from None
    _check_places(scene)
    return scene


def _read(file: Path) -> str:
    try:
        with file.open("rb") as stream:
            data = stream.read(_LARGEST_FILE + 1)
        if len(data) > _LARGEST_FILE:
            raise InputError("is too large for a scene file", where=str(file), remedy="name the right file")
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError("is not a UTF-8 text", where=str(file), remedy="save it as UTF-8") from None
    except OSError as error:
        raise InputError(
            f"cannot be read ({reason(error).lower()})",
            where=str(file),
            remedy="name a scene file; ghostprep scene writes a starter",
        ) from None


def _syntax_error(error: ValueError, file: str) -> InputError:
    text = str(error)
    place = re.search(r"\(at line (\d+), column (\d+)\)", text)
    said = re.sub(r"\s*\(at .*\)$", "", text)
    where = ", ".join(part for part in (file, f"line {place[1]}" if place else "last line") if part)
    return InputError(f"is not valid TOML ({said[:1].lower()}{said[1:]})", where=where)


def _first_error(error: ValidationError, lines: KeyLines) -> InputError:
    # an unknown key comes first: it is the likeliest reason why another one is missing
    first = min(error.errors(), key=lambda e: e["type"] != "extra_forbidden")
    path = list(first["loc"])
    context: dict[str, Any] = {**first.get("ctx", {}), "input": first["input"]}
    kind = first["type"]
    if kind == "extra_forbidden":
        known = keys_at(Scene, path[:-1])
        remedy = did_you_mean(str(path[-1]), known, f"the keys here are {', '.join(known)}")
        return InputError("is not a known key", where=lines.where(*path), remedy=remedy)
    if kind == "value_error":
        what = str(context["error"])
        # a check across keys of one table names the key before a colon
        if named := re.match(r"([a-z]+): (.*)", what):
            path, what = [*path, named[1]], named[2]
        what, _, remedy = what.partition("; ")
        return InputError(what, where=lines.where(*path), remedy=remedy)
    if kind == "tuple_type" and isinstance(first["input"], dict):
        remedy = f"write [[{path[-1]}]], in double brackets, for each"
        return InputError("is a list of tables", where=lines.where(*path), remedy=remedy)
    if kind in ("too_short", "too_long") and isinstance(first["input"], str):
        kind += ", text"
    what = _SAYS[kind].format(**context) if kind in _SAYS else first["msg"].lower()
    return InputError(what, where=lines.where(*path))


def _check_places(scene: Scene) -> None:
    """Refuse a scene whose parts lie where they cannot lie."""
    box, opening, units = scene.box, scene.box.opening, scene.units
    if opening.width > box.width + _SLACK_MM:
        raise InputError(
            "the opening is wider than the box",
            where=scene.where("box", "opening"),
            remedy=f"at most {format_length(box.width, units)}",
        )
    if opening.sill + opening.height > box.height + _SLACK_MM:
        raise InputError(
            "sill and height of the opening reach above the box",
            where=scene.where("box", "opening"),
            remedy=f"together at most {format_length(box.height, units)}",
        )
    limits = ((-box.width / 2, box.width / 2), (0.0, box.height), (0.0, box.depth))
    for path, point in (
        (("screen", "centre"), scene.screen.centre),
        (("pane", "through"), scene.pane.through),
    ):
        for name, value, ends in zip("xyz", point or (), limits, strict=False):
            if not ends[0] - _SLACK_MM <= value <= ends[1] + _SLACK_MM:
                low, high = (format_length(end, units) for end in ends)
                raise InputError(
                    f"lies outside the box: {name} is {format_length(value, units)}",
                    where=scene.where(*path),
                    remedy=f"{name} runs from {low} to {high}",
                )
    if scene.ghost.at is not None and scene.ghost.at[2] <= 0:
        raise InputError(
            "the ghost would stand before the opening",
            where=scene.where("ghost", "at"),
            remedy="the third number is the depth into the box and must be above 0",
        )
