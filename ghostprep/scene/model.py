"""What the builder measured, checked; every length in millimetres, every angle in degrees."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, Final, Literal, Self

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PrivateAttr,
    StrictBool,
    ValidationInfo,
    field_validator,
    model_validator,
)

from ghostprep.scene.fields import (
    AtLeastZero,
    Length,
    Number,
    PaneThickness,
    Part,
    Pixels,
    Point,
    Size,
    units_of,
)
from ghostprep.scene.furniture import Divider, Holder, Mirror, Strip, Thing
from ghostprep.scene.lengths import Units
from ghostprep.scene.lines import KeyLines
from ghostprep.scene.scales import Scale, parse_scale

Wall = Literal["left", "right", "floor", "ceiling"]
Top = Literal["up", "down", "front", "back", "left", "right"]
Polarisation = Literal["width", "height", "diagonal", "none", "unknown"]
Material = Literal["acrylic", "glass", "polycarbonate"]

INDEX: Final[dict[str, float]] = {"acrylic": 1.49, "glass": 1.52, "polycarbonate": 1.586}
"""Refractive index near 588 nm: Sultanova et al., Acta Phys. Pol. A 116 (2009) 585 for the two
plastics; Rubin, Solar Energy Materials 12 (1985) 275 for window glass; both to the nearest trade value."""

TOPS: Final[dict[str, tuple[Top, ...]]] = {
    "left": ("up", "down", "front", "back"),
    "right": ("up", "down", "front", "back"),
    "floor": ("front", "back", "left", "right"),
    "ceiling": ("front", "back", "left", "right"),
}
"""Where the raster's top edge can point, for each wall."""


def _first_top(wall: str) -> Top:
    return TOPS[wall][0]


def _scale(value: object, info: ValidationInfo) -> Scale:
    return parse_scale(value, units_of(info))


class Opening(Part):
    """The hole in the front through which the eye looks; in the middle of the box's width."""

    width: Size
    height: Size
    sill: AtLeastZero = 0.0


class SceneBox(Part):
    """Inside measures of the box."""

    width: Size
    height: Size
    depth: Size
    wall: Size = 6.0
    opening: Opening = Field(
        default_factory=lambda d: Opening(width=d["width"], height=d["height"], sill=0.0)
    )

    @property
    def open_front(self) -> bool:
        """Whether the whole front is open, so that no sheet stands before the inside depth."""
        return self.opening.width >= self.width and self.opening.height >= self.height


class Shelf(Part):
    """Where the box will stand."""

    depth: Size
    width: Size | None = None
    height: Size | None = None
    cord: AtLeastZero = 20.0


class Viewer(Part):
    """Where the eye is and how far it may move."""

    distance: Size = 600.0
    height: Length | None = None
    across: Length = 0.0
    sway: tuple[AtLeastZero, AtLeastZero] = (150.0, 60.0)


class Screen(Part):
    """The lit panel as mounted, and the player's body behind it."""

    wall: Wall = "left"
    centre: Point | None = None
    top: Top = Field(default_factory=lambda d: _first_top(d["wall"]))
    swivel: Annotated[Number, Field(gt=-80, lt=80)] = 0.0
    mirrored: StrictBool = False
    """Whether the player itself shows its picture mirrored left to right, as some do."""
    raster: tuple[Pixels, Pixels]
    active: tuple[Size, Size]
    luminance: Annotated[Number, Field(gt=0, le=100_000)] = 250.0
    contrast: Annotated[Number, Field(gt=1)] = 500.0
    polarisation: Polarisation = "unknown"
    body: tuple[Size, Size, Size] = Field(
        default_factory=lambda d: (d["active"][0] + 12.0, d["active"][1] + 12.0, 9.0)
    )

    @property
    def pitch(self) -> tuple[float, float]:
        """Millimetres from pixel to pixel, along the raster's width and height."""
        return self.active[0] / self.raster[0], self.active[1] / self.raster[1]

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        if self.top not in TOPS[self.wall]:
            ways = ", ".join(TOPS[self.wall])
            raise ValueError(f"top: {self.top!r} cannot be on the wall {self.wall!r}; there it can be {ways}")
        if self.body[0] < self.active[0] or self.body[1] < self.active[1]:
            raise ValueError(
                "body: is smaller than the lit area; give it along the raster's width, then height"
            )
        return self


class Pane(Part):
    """The clear sheet that reflects."""

    material: Material = "acrylic"
    index: Annotated[Number, Field(gt=1, le=3)] = Field(
        default_factory=lambda d: INDEX[d.get("material", "acrylic")]
    )
    thickness: PaneThickness = 2.0
    angle: Annotated[Number, Field(gt=0, lt=90)] = 45.0
    through: Point | None = None
    size: tuple[Size, Size] | None = None


class Ghost(Part):
    """Where the ghost is wanted and how tall its figure is at full size."""

    at: Point | None = None
    figure: Size = 1700.0
    feet: Length = 0.0


class Lamp(Part):
    """A small lamp that shines alike to all sides."""

    at: Point
    lumens: Annotated[Number, Field(gt=0, le=100_000)]


class Light(Part):
    """How bright the scenery behind the ghost is, in cd/m2, or the lamps and strips that light it."""

    scene: Annotated[Number, Field(gt=0, le=100_000)] | None = None
    lamps: tuple[Lamp, ...] = ()
    strips: tuple[Strip, ...] = ()
    reflectance: Annotated[Number, Field(gt=0, le=1)] = 0.3


class PlayerChoice(BaseModel):
    """A profile's name, or its keys; the player room checks the keys."""

    model_config = ConfigDict(frozen=True, extra="allow")

    profile: str = "h264-baseline-qvga"


class Scene(Part):
    """The box with all that the builder measured.

    Attributes
    ----------
    units : {"mm", "cm", "in"}
        What the builder thinks in; only how lengths are shown depends on it.
    """

    title: str = ""
    units: Units = "mm"
    scale: Annotated[Scale, BeforeValidator(_scale)] = Field(default_factory=lambda: parse_scale("1:24"))
    box: SceneBox
    shelf: Shelf | None = None
    viewer: Viewer = Viewer()
    screen: Screen
    pane: Pane = Pane()
    ghost: Ghost = Ghost()
    divider: tuple[Divider, ...] = ()
    mirror: tuple[Mirror, ...] = ()
    thing: tuple[Thing, ...] = ()
    holder: Holder = Holder()
    light: Light = Light()
    player: PlayerChoice = PlayerChoice()

    _lines: KeyLines = PrivateAttr(default_factory=KeyLines)

    @field_validator("title")
    @classmethod
    def _one_line(cls, title: str) -> str:
        if not title.isprintable():
            raise ValueError("must be one line of printable text")
        return title

    @property
    def eye(self) -> tuple[float, float, float]:
        """The middle eye position; at the middle of the opening's height unless measured."""
        opening = self.box.opening
        height = self.viewer.height
        return (
            self.viewer.across,
            opening.sill + opening.height / 2 if height is None else height,
            -self.viewer.distance,
        )

    def where(self, *path: str | int) -> str:
        """Return "FILE, line N, KEY" for an error about a key."""
        return self._lines.where(*path)

    def with_lines(self, lines: KeyLines) -> Self:
        """Return the same scene, knowing where its keys are written."""
        known = self.model_copy()
        known._lines = lines
        return known

    def defaults(self) -> list[tuple[str, Any]]:
        """Return each key that the file leaves out and the value taken for it; None means computed."""
        return list(_defaults(self, ()))


def _defaults(part: BaseModel, path: Sequence[str]) -> list[tuple[str, Any]]:
    found: list[tuple[str, Any]] = []
    for name in type(part).model_fields:
        value = getattr(part, name)
        if isinstance(value, BaseModel) and name in part.model_fields_set:
            found.extend(_defaults(value, (*path, name)))
        elif name not in part.model_fields_set:
            key = ".".join((*path, name))
            if isinstance(value, BaseModel):
                found.extend((f"{key}.{k}", v) for k, v in value.model_dump().items())
            else:
                found.append((key, value))
    return found
