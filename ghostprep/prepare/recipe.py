"""All that a run of `make` was asked to do, checked, by the options' own names."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from fractions import Fraction
from pathlib import Path
from typing import Annotated, Any, Final, Literal, Self, get_args, get_type_hints

from ghostprep.arguments import check_settings, check_times
from ghostprep.backings import BACKINGS, COLOUR, Mixed
from ghostprep.box import Box
from ghostprep.errors import InputError
from ghostprep.joins import How
from ghostprep.prepare import values
from ghostprep.words import did_you_mean, range_words

SoundKept = Literal["none", "keep"]

REFLECTIONS: Final = 1
"""Mirrors and panes between screen and eye, where nothing is said: the one pane."""


def _flag(name: str) -> str:
    return "--" + name.replace("_", "-")


@dataclass(frozen=True, slots=True)
class Option:
    """What the command line says of one field of `Recipe`."""

    help: str
    # from the option's text to its value; None: what the field's type says
    reads: Callable[[str], object] | None = None
    shown: str | None = None  # what stands for the value in the help


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """The options of `make`, each by its name on the command line; times in seconds.

    This is the one table of them: the command line builds its options from these fields, and what each means
    stands in its `Option`. None leaves it to what the help shows in brackets, or to the scene.

    Raises
    ------
    InputError
        A value is of another type or outside its range, or two options contradict each other.
    """

    scene: Annotated[Path | None, Option("Scene file: raster, mount, size, player.")] = None
    raster: Annotated[
        tuple[int, int] | None,
        Option("Without a scene: the screen's pixels.  [the profile's]", values.size, "WxH"),
    ] = None
    reflections: Annotated[
        int | None, Option("Without a scene: mirrors and panes between screen and eye.  [1]")
    ] = None
    turn: Annotated[
        int | None, Option("Without a scene: how far the player is turned clockwise.  [0]", shown="DEGREES")
    ] = None
    player: Annotated[
        str | None, Option("A player profile's name or file.  [h264-baseline-qvga]", shown="NAME")
    ] = None
    start: Annotated[
        Fraction | None, Option("Use the clip from here, seconds or h:mm:ss.", values.time, "T")
    ] = None
    end: Annotated[Fraction | None, Option("Use the clip up to here.", values.time, "T")] = None
    length: Annotated[
        tuple[float, float] | None,
        Option("Wanted length of the loop.  [chosen by the search]", values.time_range, "T or MIN-MAX"),
    ] = None
    join: Annotated[
        How,
        Option(
            "How the end meets the start: the best place is searched, the clip's end is blended into its "
            "start, it plays there and back, it is dark at both ends, or nothing is done."
        ),
    ] = "search"
    pick: Annotated[
        str | None, Option("With --join search, a loop that inspect lists: A, B ... or FIRST-LAST.  [A]")
    ] = None
    crossfade: Annotated[
        float | None, Option("Length of the blend at the join.  [chosen by the search]", values.seconds, "T")
    ] = None
    backing: Annotated[
        str,
        Option("What is behind the figure: auto, green, blue, black, white, plate, alpha, none, or #rrggbb."),
    ] = "auto"
    plate: Annotated[Path | None, Option("A picture of the backing alone.")] = None
    mix: Annotated[
        Mixed,
        Option(
            "What adds up at the figure's edge: light, as in a lens, or codes, as in most programs; auto "
            "suits both. Try one of them if the edge looks too dark or too light."
        ),
    ] = "auto"
    solid: Annotated[
        tuple[str, ...],
        Option(
            "Before a coloured backing: cloths of the figure that are solid, by their colours in the clip.",
            values.colours,
            "#rrggbb,...",
        ),
    ] = ()
    sheer: Annotated[
        tuple[str, ...],
        Option(
            "Before a coloured backing: cloths that it is seen through (a veil, hair), by their own colours.",
            values.colours,
            "#rrggbb,...",
        ),
    ] = ()
    matte: Annotated[
        Path | None,
        Option("The figure's coverage, frame for frame: a clip or numbered pictures, white is figure."),
    ] = None
    crop: Annotated[
        Literal["auto", "none"] | Box,
        Option(
            "The part of the clip that is shown: the figure with a little room, all, or a box in pixels.",
            values.crop,
            "auto|none|WxH+X+Y",
        ),
    ] = "auto"
    fill: Annotated[
        str | None, Option("Paint the figure's shape in light of this colour.", shown="#rrggbb")
    ] = None
    tint: Annotated[str | None, Option("Colour of the whole figure.", shown="#rrggbb")] = None
    gain: Annotated[
        Literal["auto"] | float,
        Option("Brightness: 2 is twice the light.", values.auto_or(values.number), "G"),
    ] = "auto"
    edge: Annotated[
        Literal["auto"] | int,
        Option("Softness where the figure leaves the picture, pixels.", values.auto_or(values.whole), "PX"),
    ] = "auto"
    fps: Annotated[
        Fraction | None,
        Option(
            "Frames a second of the loop, and of numbered pictures.  [the clip's, if the player takes it]",
            values.rate,
            "RATE",
        ),
    ] = None
    repeat_for: Annotated[
        Fraction | None,
        Option(
            "Fill the file with exact repeats of the loop up to this length.  [the loop once]",
            values.time,
            "T",
        ),
    ] = None
    sound: Annotated[
        SoundKept, Option("Leave the clip's sound out, or keep it, joined where the picture is.")
    ] = "none"
    drift: Annotated[
        float | None,
        Option("How far a still drifts to each side, % of the figure's height.  [2]", values.number, "D"),
    ] = None
    calm: Annotated[bool, Option("Soften flashes until they are within the limits.")] = False
    cache: Annotated[bool, Option("Recall what an earlier run saw in the clip, or look anew.")] = True
    overwrite: Annotated[bool, Option("Replace OUT if ghostprep wrote it.")] = False

    def __post_init__(self) -> None:
        check_settings(self, _flag, remedy="Recipe.read takes what the command line takes")
        for side, pixels in zip(("width", "height"), self.raster or (), strict=False):
            self._hold("raster", 8 <= pixels <= 8192, "in 8..8192 px", f"its {side}")
        self._hold("reflections", self.reflections is None or 0 <= self.reflections <= 9, "in 0..9")
        self._hold("turn", self.turn in {None, 0, 90, 180, 270}, "0, 90, 180 or 270")
        self._hold("start", self.start is None or self.start >= 0, "0 or more")
        self._hold("end", self.end is None or self.end > (self.start or 0), "after --start")
        if self.length is not None:
            check_times(self.length, _flag("length"))
        self._hold("crossfade", self.crossfade is None or 0 <= self.crossfade <= 30, "in 0..30 seconds")
        self._hold(
            "backing",
            self.backing in BACKINGS or bool(COLOUR.fullmatch(self.backing)),
            f"one of {', '.join(BACKINGS)}, or a colour #rrggbb",
        )
        for name in ("solid", "sheer"):
            colours = all(COLOUR.fullmatch(one) for one in getattr(self, name))
            self._hold(name, colours, "colours #rrggbb, with commas between them")
        self._hold("fill", self.fill is None or bool(COLOUR.fullmatch(self.fill)), "a colour #rrggbb")
        self._hold("tint", self.tint is None or bool(COLOUR.fullmatch(self.tint)), "a colour #rrggbb")
        if isinstance(self.crop, Box):
            self._hold("crop", self.crop.width > 0, "1 px or more", "its width")
            self._hold("crop", self.crop.height > 0, "1 px or more", "its height")
            self._hold("crop", min(self.crop[:2]) >= 0, "in the picture", "its corner")
        self._hold("gain", self.gain == "auto" or 0.05 <= self.gain <= 20, "auto, or in 0.05..20")
        self._hold("edge", self.edge == "auto" or 0 <= self.edge <= 200, "auto, or in 0..200 px")
        self._hold("drift", self.drift is None or 0 <= self.drift <= 20, "in 0..20 percent")
        self._hold("fps", self.fps is None or 1 <= self.fps <= 240, "in 1..240")
        self._hold("repeat_for", self.repeat_for is None or 0 < self.repeat_for <= 86400, "up to 24 hours")
        self._hold_together()

    @property
    def mirrors(self) -> int:
        """How many mirrors and panes lie between screen and eye, where no scene tells."""
        return REFLECTIONS if self.reflections is None else self.reflections

    @classmethod
    def read(cls, **texts: str | float | bool) -> Self:
        """Return the recipe of options as they are written on the command line; a number may be one.

        Raises
        ------
        InputError
            There is no such option, or its text is no value of it.

        Examples
        --------
        >>> Recipe.read(length="6-10", fps=29.97, crop="640x480+0+0").fps
        Fraction(30000, 1001)
        """
        hints = get_type_hints(cls, include_extras=True)
        values_of: dict[str, Any] = {}
        for name, given in texts.items():
            number = isinstance(given, int | float) and not isinstance(given, bool)
            text = str(given) if number else given
            if name not in hints:
                remedy = did_you_mean(name, hints, "see ghostprep make --help")
                raise InputError("there is no such option", where=name, remedy=remedy)
            kind, option = get_args(hints[name])[0], hints[name].__metadata__[0]
            kinds: dict[object, Callable[[str], object]] = {Path: Path, int: values.whole}
            reads = option.reads or next((kinds[one] for one in get_args(kind) if one in kinds), None)
            try:
                values_of[name] = reads(text) if reads and isinstance(text, str) else text
            except ValueError as error:
                raise InputError(str(error), where=name) from None
        return cls(**values_of)

    def _hold_together(self) -> None:
        """Refuse an option that another one overrules: what is given is obeyed, or said to be refused."""
        frames = self.pick is not None and "-" in self.pick
        for name, overruled, why in (
            ("reflections", self.scene is not None, "the scene file says how the picture is mirrored"),
            ("turn", self.scene is not None, "the scene file says how the screen is turned (screen.top)"),
            ("pick", self.join != "search", f"--join {self.join} does not choose among the loops found"),
            ("crossfade", self.join == "none", "--join none blends nothing"),
            ("length", frames, f"--pick {self.pick} says which frames are taken"),
            ("plate", self.backing not in {"auto", "plate"}, f"--backing {self.backing} says what is behind"),
        ):
            if overruled and getattr(self, name) is not None:
                raise InputError(f"is overruled: {why}", where=f"--{name}", remedy="leave one of the two out")

        if self.matte is not None and (self.plate is not None or self.backing != "auto"):
            other = "--plate" if self.plate is not None else f"--backing {self.backing}"
            raise InputError(
                f"says where the figure is, and so does {other}",
                where="--matte",
                remedy="leave one of the two out",
            )
        if self.fill is not None and self.tint is not None:
            raise InputError(
                "gives the figure its colour, and so does --tint",
                where="--fill",
                remedy="leave one of the two out",
            )
        if self.fill is not None and self.backing == "none":
            raise InputError(
                "paints the figure's shape, and with --backing none there is none",
                where="--fill",
                remedy="name the backing, or give a --matte",
            )

    def _hold(self, name: str, good: bool, allowed: str, part: str = "it") -> None:
        if not good:
            value = getattr(self, name)
            said = f"{float(value):g}" if isinstance(value, Fraction) else self.told(name)
            raise InputError(f"is {said}, {part} must be {allowed}", where=_flag(name))

    def as_dict(self) -> dict[str, object]:
        """Return the options as they stand in a report."""
        return {field.name: self.told(field.name) for field in fields(self)}

    def told(self, name: str) -> object:
        """Return an option's value as a report shows it."""
        value = getattr(self, name)
        if name == "length" and value is not None:
            return range_words(*value)
        return plain(value)


USUAL: Final = Recipe()
"""No option given."""


def plain(value: object) -> object:
    """Return an option's value as a report shows it: text, number, true, false or null."""
    match value:
        case Box():
            return str(value)
        case (int() as width, int() as height):
            return f"{width}x{height}"
        case tuple():
            return ",".join(map(str, value))
        case Fraction():
            return int(value) if value.denominator == 1 else f"{value.numerator}/{value.denominator}"
        case Path():
            return value.name  # reports travel; folders of a machine have no business in them
        case _:
            return value


def colour_codes(text: str) -> tuple[int, int, int]:
    """Return the codes of ``#rrggbb``.

    >>> colour_codes("#ff8000")
    (255, 128, 0)
    """
    return int(text[1:3], 16), int(text[3:5], 16), int(text[5:7], 16)
