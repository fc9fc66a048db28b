"""The measures one by one: what to ask, and where to hold the ruler."""

from __future__ import annotations

import contextlib
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from ghostprep.scene.lengths import format_length, parse_length
from ghostprep.scene.model import INDEX, TOPS
from ghostprep.scene.scales import parse_scale


@dataclass(frozen=True, slots=True)
class Question:
    """One measure.

    Attributes
    ----------
    key : str
        The key it fills, with its place in a list: ``"screen.body.2"``; names that start with
        "lit." are turned into ``screen.centre`` by `answers_to_values`.
    asks : str
    hint : str
        Where to hold the ruler, or where the value stands.
    kind : {"length", "number", "pixels", "scale", "text", "choice"}
    usual : str or float
        Taken when nothing is answered; a number is in mm for lengths.
    optional : bool
        Whether "-" leaves it out.
    """

    key: str
    asks: str
    hint: str
    kind: str = "length"
    usual: str | float = ""
    optional: bool = False

    def usual_text(self, units: str) -> str:
        """Return the usual answer as the builder would type it."""
        if isinstance(self.usual, str):
            return self.usual
        return format_length(self.usual, units) if self.kind == "length" else f"{self.usual:g}"

    def choices(self, answers: Mapping[str, Any]) -> tuple[str, ...]:
        """Return what can be chosen, given the answers so far."""
        return {
            "units": ("mm", "cm", "in"),
            "screen.wall": tuple(TOPS),
            "screen.top": TOPS.get(str(answers.get("screen.wall")), ()),
            "screen.polarisation": ("unknown", "width", "height", "diagonal", "none"),
            "pane.material": tuple(INDEX),
        }.get(self.key, ())

    def read(self, text: str, units: str, answers: Mapping[str, Any]) -> object:
        """Return the answer as the scene file takes it.

        Raises
        ------
        ValueError
            The answer is none; says what one looks like.
        """
        text = text.strip()
        if self.optional and text == "-":
            return None
        if self.kind == "length":
            return _length(text, units)
        if self.kind in {"number", "pixels"}:
            return _number(text, whole=self.kind == "pixels")
        if self.kind == "scale":
            parse_scale(text)
        elif self.kind == "choice" and text not in (ways := self.choices(answers)):
            raise ValueError(f"choose one of {', '.join(ways)}")
        return text


def _length(text: str, units: str) -> float | str:
    with contextlib.suppress(ValueError):
        value = float(text)
        parse_length(value, units)
        return value
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


def _number(text: str, *, whole: bool) -> float | int:
    try:
        value = float(text)
    except ValueError:
        raise ValueError("type a number") from None
    if not math.isfinite(value) or (whole and value != int(value)):
        raise ValueError("type a whole number of pixels" if whole else "type a number")
    return int(value) if whole else value


QUESTIONS: Final = (
    Question(
        "units", "Which unit does your ruler have?", "Answers without a unit are in it.", "choice", "mm"
    ),
    Question("title", "What is in the box?", "One line, for your own eyes.", "text", "The ticket hall"),
    Question(
        "scale",
        "Which scale is the scene built in?",
        "1:24 means that 24 mm of the real thing are 1 mm here. A door of 85 mm is about 1:24.",
        "scale",
        "1:24",
    ),
    Question(
        "box.width", "How wide is the box inside?", "Ruler across the floor, from wall to wall.", usual=150.0
    ),
    Question(
        "box.height", "How high is it inside?", "Ruler upright on the floor, to the ceiling.", usual=130.0
    ),
    Question(
        "box.depth",
        "How deep is it inside?",
        "Ruler on the floor, from the inside of the front to the back wall.",
        usual=200.0,
    ),
    Question("box.wall", "How thick is the sheet it is built of?", "Measure at a cut edge.", usual=6.0),
    Question(
        "box.opening.width",
        "How wide is the opening in the front?",
        'Between the edges of the hole. "-" if the whole front is open.',
        usual=138.0,
        optional=True,
    ),
    Question(
        "box.opening.height", "How high is the opening?", "From its lower to its upper edge.", usual=112.0
    ),
    Question(
        "box.opening.sill",
        "How high is its lower edge above the floor?",
        "Inside, from the floor up.",
        usual=8.0,
    ),
    Question(
        "shelf.depth",
        "How deep is the shelf the box will stand on?",
        'From the wall of the room to the shelf\'s front edge. "-" if there is none.',
        usual=260.0,
        optional=True,
    ),
    Question(
        "shelf.cord",
        "How much room do plug and cord need behind the box?",
        "Plug it in and measure.",
        usual=20.0,
    ),
    Question(
        "viewer.distance",
        "How far is the eye from the opening?",
        "Sit or stand as a guest would.",
        usual=600.0,
    ),
    Question(
        "viewer.height",
        "How high is the eye above the scene's floor?",
        "Hold the ruler upright at the box: which height is level with your eye?",
        usual=75.0,
    ),
    Question(
        "viewer.sway.0", "How far may the eye move to each side?", "From the middle, one way.", usual=80.0
    ),
    Question("viewer.sway.1", "How far may it move up and down?", "From the middle, one way.", usual=40.0),
    Question(
        "screen.wall", "On which side is the player hidden?", "As the viewer sees it.", "choice", "left"
    ),
    Question("screen.raster.0", "How many pixels is its screen wide?", "From the data sheet.", "pixels", 320),
    Question("screen.raster.1", "How many pixels is it high?", "From the data sheet.", "pixels", 240),
    Question(
        "screen.active.0",
        "How wide is the lit area?",
        "Show something white; measure the light alone, along the raster's width.",
        usual=81.6,
    ),
    Question(
        "screen.active.1", "How high is the lit area?", "The same, along the raster's height.", usual=61.2
    ),
    Question(
        "screen.body.0",
        "How wide is the player outside?",
        "Along the raster's width, case and all.",
        usual=98.0,
    ),
    Question("screen.body.1", "How high is the player outside?", "Along the raster's height.", usual=76.0),
    Question("screen.body.2", "How thick is it?", "From the glass to the back.", usual=12.0),
    Question(
        "screen.top",
        "Where does the upper edge of its picture point when it is mounted?",
        "A figure stands taller when the long side of the screen is upright.",
        "choice",
        "front",
    ),
    Question(
        "lit.out",
        "How far does the lit face stand out from its wall?",
        "From the inside of the wall (floor, ceiling) to the glass.",
        usual=12.0,
    ),
    Question(
        "lit.along",
        "Where is the middle of the lit area along that wall?",
        "Height above the floor; for floor and ceiling: off the middle, to the right.",
        usual=54.0,
    ),
    Question(
        "lit.deep",
        "How far behind the opening is the middle of the lit area?",
        "Along the floor.",
        usual=90.0,
    ),
    Question(
        "screen.polarisation",
        "Which way does its light swing?",
        "Polarising sunglasses, upright, darken it most where it swings along the line between the lenses.",
        "choice",
        "unknown",
    ),
    Question("pane.material", "What is the pane made of?", "Ask where you buy it.", "choice", "acrylic"),
    Question("pane.thickness", "How thick is the pane?", "Measure at its edge; thin is good.", usual=2.0),
    Question(
        "ghost.figure", "How tall is the ghost in real life?", "1.7 m is a grown-up.", "length", "1.7 m"
    ),
    Question(
        "ghost.feet",
        "How high above the box's floor is the ground that it stands on?",
        "Ruler upright beside the built-in ground.",
        usual=14.0,
    ),
    Question(
        "light.scene",
        "How bright is the scenery behind the ghost, in cd/m2?",
        "5 is dim lamplight, 50 a lit room. A light meter at the white wall: lux x 0.25.",
        "number",
        5,
    ),
)
"""In the order in which they are asked."""


def answers_to_values(answers: Mapping[str, Any]) -> dict[str, Any]:
    """Turn answers into values for `starter.filled_text`.

    Parameters
    ----------
    answers : mapping
        Every question's key to what `Question.read` gave.

    Returns
    -------
    dict
        Key paths of the scene file to values; None where a key is left out.
    """
    units = str(answers["units"])
    values: dict[str, Any] = {"pane.size": None}
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
    values["screen.centre"] = _centre(answers, units)
    return values


def _centre(answers: Mapping[str, Any], units: str) -> list[float]:
    per = parse_length(1, units)
    out, along, deep, width, height = (
        parse_length(answers[key], units) / per
        for key in ("lit.out", "lit.along", "lit.deep", "box.width", "box.height")
    )
    place = {
        "left": (out - width / 2, along),
        "right": (width / 2 - out, along),
        "floor": (along, out),
        "ceiling": (along, height - out),
    }[str(answers["screen.wall"])]
    return [round(v, 4) for v in (*place, deep)]
