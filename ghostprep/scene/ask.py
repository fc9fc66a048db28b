"""The measures one by one: what to ask, where to hold the ruler, and the answer that is likely."""

from __future__ import annotations

import contextlib
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from ghostprep.scene.lengths import format_length, parse_length
from ghostprep.scene.likely import LIKELY, Answers
from ghostprep.scene.model import INDEX, TOPS
from ghostprep.scene.scales import parse_scale

DOOR: Final = {"mm": "2030 mm", "cm": "2030 mm", "in": "80 in"}
"""Full-size height of a door: DIN 18101 and the common US leaf, as builders of each unit know it."""


@dataclass(frozen=True, slots=True)
class Question:
    """One measure."""

    key: str
    """The key it fills, with its place in a list: ``"screen.body.2"``; names that start with "lit." are
    turned into ``screen.centre`` by `answers_to_values`."""
    asks: str
    hint: str
    """Where to hold the ruler, or where the value stands."""
    kind: str = "length"
    """length, number, pixels, scale, text, choice."""
    optional: bool = False
    """Whether "-" leaves it out."""

    def usual_text(self, answers: Mapping[str, Any]) -> str:
        """Return the likely answer after those so far, as the builder would type it."""
        known = Answers(answers)
        likely = LIKELY[self.key]
        value = likely(known) if callable(likely) else likely
        if isinstance(value, str):
            return value
        return format_length(known.rounded(value), known.units) if self.kind == "length" else f"{value:g}"

    def choices(self, answers: Mapping[str, Any]) -> tuple[str, ...]:
        """Return what can be chosen, given the answers so far."""
        return {
            "units": ("mm", "cm", "in"),
            "screen.wall": tuple(TOPS),
            "screen.top": TOPS.get(str(answers.get("screen.wall")), ()),
            "screen.polarisation": ("unknown", "width", "height", "diagonal", "none"),
            "pane.material": tuple(INDEX),
        }.get(self.key, ())

    def skipped(self, answers: Mapping[str, Any]) -> bool:
        """Return whether the answers so far leave nothing to ask here."""
        needs = {
            "box.opening.height": "box.opening.width",
            "box.opening.sill": "box.opening.width",
            "shelf.cord": "shelf.depth",
        }.get(self.key)
        return needs is not None and answers.get(needs) is None

    def read(self, text: str, answers: Mapping[str, Any]) -> object:
        """Return the answer as the scene file takes it; ValueError says what one looks like."""
        text, units = text.strip(), str(answers.get("units", "mm"))
        if self.optional and text == "-":
            return None
        if self.kind == "choice":
            text, ways = text.lower(), self.choices(answers)
            if text not in ways:
                raise ValueError(f"choose one of {', '.join(ways)}")
        return _READERS[self.kind](text, units) if self.kind in _READERS else text


def _scale(text: str, units: str) -> object:
    """Return a scale, or the height of a door in the scene as a reference."""
    try:
        parse_scale(text)
    except ValueError:
        with contextlib.suppress(ValueError):
            door = {"reference": _length(text, units), "real": DOOR[units]}
            parse_scale(door, units)
            return door
        raise
    return text


def _length(text: str, units: str) -> float | str:
    with contextlib.suppress(ValueError):
        # "152 mm" in a file of millimetres is 152
        value = float(text.removesuffix(units))
        parse_length(value, units)
        return _plain(value)
    try:
        parse_length(text)
    except ValueError:
        # "3 1/2" alone is in the file's unit
        written = f"{text} {units}"
        with contextlib.suppress(ValueError):
            parse_length(written)
            return written
        raise
    return text


def _number(text: str, _: str) -> float | int:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise ValueError("type a number")
    return _plain(value)


def _plain(value: float) -> float | int:
    """Return a number as it is written by hand: a whole one without a point."""
    return int(value) if value == int(value) else value


def _pixels(text: str, units: str) -> int:
    value = _number(text, units)
    if not isinstance(value, int) or value < 1:
        raise ValueError("type a whole number of pixels")
    return value


_READERS: Final[dict[str, Callable[[str, str], object]]] = {
    "length": _length,
    "number": _number,
    "pixels": _pixels,
    "scale": _scale,
}
QUESTIONS: Final = (
    Question("units", "Which unit does your ruler have?", "Answers without a unit are in it.", "choice"),
    Question("title", "What is in the box?", "One line, for your own eyes.", "text"),
    Question(
        "scale",
        "Which scale is the scene built in, or how high is a door in it?",
        'A scale such as 1:24, or the height of a door; "1:24" means that 1 here is 24 in life.',
        "scale",
    ),
    Question("box.width", "How wide is the box inside?", "Ruler across the floor, from wall to wall."),
    Question("box.height", "How high is it inside?", "Ruler upright on the floor, to the ceiling."),
    Question(
        "box.depth",
        "How deep is it inside?",
        "Ruler on the floor, from the inside of the front to the back wall.",
    ),
    Question("box.wall", "How thick is the sheet it is built of?", "Measure at a cut edge."),
    Question(
        "box.opening.width",
        "How wide is the opening in the front?",
        'Between the edges of the hole. "-" if the whole front is open.',
        optional=True,
    ),
    Question("box.opening.height", "How high is the opening?", "From its lower to its upper edge."),
    Question("box.opening.sill", "How high is its lower edge above the floor?", "Inside, from the floor up."),
    Question(
        "shelf.depth",
        "How deep is the shelf the box will stand on?",
        'From the wall of the room to the shelf\'s front edge. "-" if there is none.',
        optional=True,
    ),
    Question("shelf.cord", "How much room do plug and cord need behind the box?", "Plug it in and measure."),
    Question("viewer.distance", "How far is the eye from the opening?", "Sit or stand as a guest would."),
    Question(
        "viewer.height",
        "How high is the eye above the scene's floor?",
        "Hold the ruler upright at the box: which height is level with your eye?",
    ),
    Question("viewer.sway.0", "How far may the eye move to each side?", "From the middle, one way."),
    Question("viewer.sway.1", "How far may it move up and down?", "From the middle, one way."),
    Question("ghost.figure", "How tall is the ghost in real life?", "A grown-up, a child, a dog?"),
    Question(
        "ghost.feet",
        "How high above the box's floor is the ground that it stands on?",
        "Ruler upright beside the built-in ground.",
    ),
    Question("screen.wall", "On which side is the player hidden?", "As the viewer sees it.", "choice"),
    Question("screen.raster.0", "How many pixels is its screen wide?", "From the data sheet.", "pixels"),
    Question("screen.raster.1", "How many pixels is it high?", "From the data sheet.", "pixels"),
    Question(
        "screen.active.0",
        "How wide is the lit area?",
        "Show something white; measure the light alone, along the raster's width.",
    ),
    Question("screen.active.1", "How high is the lit area?", "The same, along the raster's height."),
    Question("screen.body.0", "How wide is the player outside?", "Along the raster's width, case and all."),
    Question("screen.body.1", "How high is the player outside?", "Along the raster's height."),
    Question("screen.body.2", "How thick is it?", "From the glass to the back."),
    Question(
        "screen.top",
        "Where does the upper edge of its picture point when it is mounted?",
        "A figure stands taller when the long side of the screen is upright.",
        "choice",
    ),
    Question(
        "lit.out",
        "How far does the lit face stand out from its wall?",
        "From the inside of the wall (floor, ceiling) to the glass.",
    ),
    Question(
        "lit.along",
        "Where is the middle of the lit area along that wall?",
        "Height above the floor; for floor and ceiling: off the middle, to the right.",
    ),
    Question("lit.deep", "How far behind the opening is the middle of the lit area?", "Along the floor."),
    Question(
        "screen.polarisation",
        "Which way does its light swing?",
        "Polarising sunglasses, upright, darken it most where it swings along the line between the lenses.",
        "choice",
    ),
    Question("pane.material", "What is the pane made of?", "Ask where you buy it.", "choice"),
    Question("pane.thickness", "How thick is the pane?", "Measure at its edge; thin is good."),
    Question(
        "light.scene",
        "How bright is the scenery behind the ghost, in cd/m2?",
        "5 is dim lamplight, 50 a lit room. A light meter at the white wall: lux x 0.25.",
        "number",
    ),
)
"""In the order in which they are asked; each may build on those before it."""


def answers_to_values(answers: Mapping[str, Any]) -> dict[str, Any]:
    """Turn every question's answer, as `Question.read` gave it, into values for `starter.filled_text`."""
    # the holder's sheet is in the starter's unit; its defaults are in millimetres
    values: dict[str, Any] = {"pane.size": None, "viewer.across": None, "holder": None}
    for key, answer in answers.items():
        parts = key.split(".")
        if parts[0] == "lit" or key.startswith("box.opening") or parts[0] == "shelf":
            continue
        if parts[-1].isdigit():
            values.setdefault(".".join(parts[:-1]), []).append(answer)
        else:
            values[key] = answer
    names = ("width", "height", "sill")
    whole = answers.get("box.opening.width") is None
    values["box.opening"] = None if whole else {n: answers[f"box.opening.{n}"] for n in names}
    if answers.get("shelf.depth") is None:
        values["shelf"] = None
    else:
        values["shelf.depth"], values["shelf.cord"] = answers["shelf.depth"], answers["shelf.cord"]
    values["screen.centre"] = _centre(Answers(answers))
    return values


def _centre(known: Answers) -> list[float]:
    per = parse_length(1, known.units)
    out, along, deep, width, height = (
        known.mm(key) / per for key in ("lit.out", "lit.along", "lit.deep", "box.width", "box.height")
    )
    places = {
        "left": (out - width / 2, along),
        "right": (width / 2 - out, along),
        "floor": (along, out),
        "ceiling": (along, height - out),
    }
    return [_plain(round(v, 4)) for v in (*places[known.text("screen.wall")], deep)]
