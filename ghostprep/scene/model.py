"""What the builder measured, checked; every length in millimetres, every angle in degrees."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, Final, Literal, Self

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PrivateAttr,
    StrictBool,
    ValidationInfo,
    model_validator,
)

from ghostprep.scene.fields import (
    AtLeastZero,
    Length,
    Number,
    OneLine,
    PaneThickness,
    PixelCount,
    Point,
    Size,
    Table,
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
CORD_MM: Final = 20.0
"""Room for plug and cord behind the box where nothing is said of it. Common practice, no source."""
TOPS: Final[dict[str, tuple[Top, ...]]] = {
    "left": ("up", "down", "front", "back"),
    "right": ("up", "down", "front", "back"),
    "floor": ("front", "back", "left", "right"),
    "ceiling": ("front", "back", "left", "right"),
}
"""Where the raster's top edge can point, for each wall; first those at which its height stands upright."""


def standing_side(wall: str, top: str) -> int:
    """Return which side of the raster stands upright in the ghost: 0 its width, 1 its height."""
    return int(top in TOPS[wall][:2])


def _scale(value: object, info: ValidationInfo) -> Scale:
    return parse_scale(value, units_of(info))


class Opening(Table):
    """The hole in the front through which the eye looks; in the middle of the box's width."""

    width: Size
    """Its width."""
    height: Size
    """Its height."""
    sill: AtLeastZero = 0.0
    """From the floor to its lower edge."""


class SceneBox(Table):
    """Inside measures of the box."""

    width: Size
    """Inside, left to right."""
    height: Size
    """Inside, floor to ceiling."""
    depth: Size
    """Inside, from the front opening to the back wall."""
    wall: Size = 6.0
    """Thickness of the sheet that the box is built of."""
    opening: Opening = Field(
        default_factory=lambda d: Opening(width=d["width"], height=d["height"], sill=0.0)
    )
    """The hole in the front; left out: the whole front."""

    @property
    def open_front(self) -> bool:
        """Whether the whole front is open, so that no sheet stands before the inside depth."""
        return self.opening.width >= self.width and self.opening.height >= self.height


class Shelf(Table):
    """Where the box will stand."""

    depth: Size
    """From the shelf's front to the wall behind it."""
    width: Size | None = None
    """What the box must fit into, if given."""
    height: Size | None = None
    """What the box must fit under, if given."""
    cord: AtLeastZero = CORD_MM
    """Room that plug and cord need behind the box."""


class Viewer(Table):
    """Where the eye is and how far it may move."""

    distance: Size = 600.0
    """From the eye to the opening."""
    height: Length | None = None
    """Of the eye above the scene's floor; left out: the middle of the opening."""
    across: Length = 0.0
    """How far the eye stands off the middle, to the right."""
    sway: tuple[AtLeastZero, AtLeastZero] = (150.0, 60.0)
    """How far the eye may move to each side, and up and down."""


class Screen(Table):
    """The lit panel as mounted, and the player's body behind it."""

    wall: Wall = "left"
    """Where it is mounted; it faces across the box."""
    centre: Point | None = None
    """Middle of the lit area: x, y, z; left out: computed."""
    top: Top = Field(default_factory=lambda d: TOPS[d["wall"]][0])
    """Where the raster's top edge points as mounted."""
    swivel: Annotated[Number, Field(gt=-80, lt=80)] = 0.0
    """Degrees swivelled from facing straight across, towards the opening."""
    mirrored: StrictBool = False
    """Whether the player itself shows its picture mirrored left to right, as some do."""
    raster: tuple[PixelCount, PixelCount]
    """Pixels, width and height."""
    active: tuple[Size, Size]
    """The lit area, along the raster's width and height."""
    luminance: Annotated[Number, Field(gt=0, le=100_000)] = 250.0
    """Of its white, cd/m2."""
    contrast: Annotated[Number, Field(gt=1)] = 500.0
    """White to black, measured in the dark."""
    polarisation: Polarisation = "unknown"
    """Of its light, along the raster; seen by turning polarising sunglasses before it."""
    body: tuple[Size, Size, Size] = Field(
        default_factory=lambda d: (d["active"][0] + 12.0, d["active"][1] + 12.0, 9.0)
    )
    """The player's outside along the raster's width and height, and its thickness."""

    @property
    def upright(self) -> bool:
        """Whether it hangs on a side wall, and not on floor or ceiling."""
        return self.wall in {"left", "right"}

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


class Pane(Table):
    """The clear sheet that reflects."""

    material: Material = "acrylic"
    """What the sheet is made of."""
    index: Annotated[Number, Field(gt=1, le=3)] = Field(
        default_factory=lambda d: INDEX[d.get("material", "acrylic")]
    )
    """Refractive index; left out: the material's."""
    thickness: PaneThickness = 2.0
    """Of the sheet."""
    angle: Annotated[Number, Field(gt=0, lt=90)] = 45.0
    """Degrees between the pane and the opening's plane."""
    through: Point | None = None
    """A point of its front face; left out: computed from the ghost's place."""
    size: tuple[Size, Size] | None = None
    """Along the slope, and across it; left out: the size to cut is computed."""


class Ghost(Table):
    """Where the ghost is wanted and how tall its figure is at full size."""

    at: Point | None = None
    """Middle of the picture; left out: computed from the pane."""
    figure: Size = 1700.0
    """Full-size height of the figure."""
    feet: Length = 0.0
    """Height of the ground under its feet, above the floor."""


class Lamp(Table):
    """A small lamp that shines alike to all sides."""

    at: Point
    """Where it hangs."""
    lumens: Annotated[Number, Field(gt=0, le=100_000)]
    """Its light."""


class Light(Table):
    """How bright the scenery behind the ghost is, in cd/m2, or the lamps and strips that light it."""

    scene: Annotated[Number, Field(gt=0, le=100_000)] | None = None
    """Luminance of the scenery behind the ghost, cd/m2; or give lamps and strips."""
    lamps: tuple[Lamp, ...] = ()
    """Small lamps, each with `at` and `lumens`."""
    strips: tuple[Strip, ...] = ()
    """Rows of lamps, each with `from`, `to`, `lumens` and `faces`."""
    reflectance: Annotated[Number, Field(gt=0, le=1)] = 0.3
    """Of the scenery, 0 to 1."""


class PlayerChoice(BaseModel):
    """A profile's name, or its keys; the player room checks the keys."""

    model_config = ConfigDict(frozen=True, extra="allow", use_attribute_docstrings=True)

    profile: str = "h264-baseline-qvga"
    """A profile's name, or your own file's, beside the scene file; other keys of a profile may follow."""


class Scene(Table):
    """The box with all that the builder measured."""

    title: OneLine = ""
    """One line."""
    units: Units = "mm"
    """What lengths without a unit are in."""
    scale: Annotated[Scale, BeforeValidator(_scale)] = Field(default_factory=lambda: parse_scale("1:24"))
    """\"1:24\", or { reference, real }: an object's height in the scene, and its full size."""
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

    @property
    def eye(self) -> tuple[float, float, float]:
        """The middle eye position; at the middle of the opening's height unless measured."""
        opening, height = self.box.opening, self.viewer.height
        height = opening.sill + opening.height / 2 if height is None else height
        return self.viewer.across, height, -self.viewer.distance

    def where(self, *path: str | int) -> str:
        """Return "FILE, line N, KEY" for an error about a key."""
        return self._lines.where(*path)

    @property
    def folder(self) -> Path:
        """Where its file lies; the working folder of a scene without one."""
        return Path(self._lines.file).parent

    def with_lines(self, lines: KeyLines) -> Self:
        """Return the same scene, knowing where its keys are written."""
        known = self.model_copy()
        known._lines = lines
        return known

    def defaults(self) -> list[tuple[str, Any]]:
        """Return each key that the file leaves out and the value taken for it; None means computed."""
        return list(_defaults(self, ""))


def _defaults(part: BaseModel, before: str) -> Iterator[tuple[str, Any]]:
    for name in type(part).model_fields:
        value, given = getattr(part, name), name in part.model_fields_set
        if isinstance(value, BaseModel) and given:
            yield from _defaults(value, f"{before}{name}.")
        elif isinstance(value, BaseModel):
            yield from ((f"{before}{name}.{k}", v) for k, v in value.model_dump().items())
        elif not given:
            yield f"{before}{name}", value
