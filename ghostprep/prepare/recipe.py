"""All that a run of `make` was asked to do, checked, by the options' own names."""

from __future__ import annotations

import re
from dataclasses import asdict, dataclass
from fractions import Fraction
from pathlib import Path
from typing import Final, Literal, get_args

from ghostprep.box import Box
from ghostprep.errors import InputError

Join = Literal["search", "ends", "there-and-back", "fades", "none"]
Sound = Literal["none", "keep"]

REFLECTIONS: Final = 1
"""Mirrors and panes between screen and eye, where nothing is said: the one pane."""

BACKINGS: Final = ("auto", "green", "blue", "black", "white", "plate", "alpha", "none")
_COLOUR: Final = re.compile(r"#[0-9a-fA-F]{6}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """The options of `make`, each by its name on the command line; times in seconds.

    Attributes
    ----------
    scene : Path or None
        A scene file; it sets raster, mount, size and player.
    raster : tuple of int or None
        Width and height in pixels; None: the scene's, or the profile's.
    reflections : int or None
        Mirrors and panes between screen and eye, 0..9, without a scene; None: the scene's, or 1.
    turn : {0, 90, 180, 270} or None
        How far the player is turned clockwise in its holder, without a scene; None: the scene's, or 0.
    player : str or None
        A profile's name or file; None: the scene's, or the usual one.
    start, end : Fraction or None
        The part of the clip to use.
    length : tuple of float or None
        Shortest and longest loop wanted.
    join : {"search", "ends", "there-and-back", "fades", "none"}
    pick : str or None
        Which of the loops found: None or "best", "A", "B" ... as `inspect` names them, or "FIRST-LAST".
    crossfade : float or None
        Length of the blend; None: chosen by the search.
    backing : str
        One of `BACKINGS` or ``#rrggbb``.
    plate : Path or None
        A picture of the backing alone.
    crop : {"auto", "none"} or Box
        The figure's box, the whole frame, or a box in source pixels.
    tint : str or None
        ``#rrggbb``.
    gain : {"auto"} or float
        Factor on linear light, 0.05..20.
    edge : {"auto"} or int
        Pixels of softness where the figure leaves the picture, 0..200.
    fps : Fraction or None
        Output rate; None: the source's, if the player takes it.
    repeat_for : Fraction or None
        Fill the file with repeats up to this length.
    sound : {"none", "keep"}
    calm : bool
        Limit the change from frame to frame so that the flash proof passes.
    cache : bool
        Recall what an earlier run saw in the clip, and keep what this one sees.
    overwrite : bool

    Raises
    ------
    InputError
        A value is outside its range, or two options contradict each other.
    """

    scene: Path | None = None
    raster: tuple[int, int] | None = None
    reflections: int | None = None
    turn: int | None = None
    player: str | None = None
    start: Fraction | None = None
    end: Fraction | None = None
    length: tuple[float, float] | None = None
    join: Join = "search"
    pick: str | None = None
    crossfade: float | None = None
    backing: str = "auto"
    plate: Path | None = None
    crop: Literal["auto", "none"] | Box = "auto"
    tint: str | None = None
    gain: Literal["auto"] | float = "auto"
    edge: Literal["auto"] | int = "auto"
    fps: Fraction | None = None
    repeat_for: Fraction | None = None
    sound: Sound = "none"
    calm: bool = False
    cache: bool = True
    overwrite: bool = False

    def __post_init__(self) -> None:
        self._hold(
            "raster", self.raster is None or all(8 <= n <= 8192 for n in self.raster), "8x8..8192x8192"
        )
        self._hold("reflections", self.reflections is None or 0 <= self.reflections <= 9, "in 0..9")
        self._hold("turn", self.turn in {None, 0, 90, 180, 270}, "0, 90, 180 or 270")
        self._hold("start", self.start is None or self.start >= 0, "0 or more")
        self._hold("end", self.end is None or self.end > (self.start or 0), "after --start")
        self._hold(
            "length", self.length is None or 0 < self.length[0] <= self.length[1], "T or MIN-MAX, MIN first"
        )
        self._hold("join", self.join in get_args(Join), f"one of {', '.join(get_args(Join))}")
        self._hold("crossfade", self.crossfade is None or 0 <= self.crossfade <= 30, "in 0..30 seconds")
        self._hold(
            "backing",
            self.backing in BACKINGS or bool(_COLOUR.fullmatch(self.backing)),
            f"one of {', '.join(BACKINGS)}, or a colour #rrggbb",
        )
        self._hold("tint", self.tint is None or bool(_COLOUR.fullmatch(self.tint)), "a colour #rrggbb")
        self._hold("gain", self.gain == "auto" or 0.05 <= float(self.gain) <= 20, "auto, or in 0.05..20")
        self._hold("edge", self.edge == "auto" or 0 <= int(self.edge) <= 200, "auto, or in 0..200 px")
        self._hold("fps", self.fps is None or 1 <= self.fps <= 240, "in 1..240")
        self._hold("repeat_for", self.repeat_for is None or 0 < self.repeat_for <= 86400, "up to 24 hours")
        self._hold("sound", self.sound in get_args(Sound), f"one of {', '.join(get_args(Sound))}")
        self._hold_together()

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

    def _hold(self, name: str, good: bool, allowed: str) -> None:
        if not good:
            option = "--" + name.replace("_", "-")
            raise InputError(f"is {plain(getattr(self, name))}, it must be {allowed}", where=option)

    def as_dict(self) -> dict[str, object]:
        """Return the options as they stand in a report."""
        return {name: plain(value) for name, value in asdict(self).items()}


def plain(value: object) -> object:
    """Return an option's value as a report shows it: text, number, true, false or null."""
    match value:
        case Box():
            return f"{value.width}x{value.height}+{value.x}+{value.y}"
        case (int() as width, int() as height):
            return f"{width}x{height}"
        case (float() as least, float() as most):
            return f"{least:g}-{most:g}"
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
