"""What is decided and told around the figure: too few bits, a matte's levels, the fill, what is shown."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from ghostprep.black import LEAST_NEAR
from ghostprep.box import Box
from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.picture import Backing, Key
from ghostprep.picture.place import Orientation
from ghostprep.player import load_profile
from ghostprep.prepare.encode import Encoded, _too_few_bits
from ghostprep.prepare.figure import FigureExtent
from ghostprep.prepare.fit import GhostPlace
from ghostprep.prepare.ghost import _more_room, _named, filled, fit_clip
from ghostprep.prepare.matte import _levels
from ghostprep.prepare.recipe import Recipe
from ghostprep.prepare.remarks import figure_findings, fit_findings, pictures_findings

PROFILE = load_profile("h264-baseline-qvga")


def told(near: float, needed: float | None, *, rate: int = 30, takes: int | None = 768) -> str:
    """The remedy against too few bits, empty if nothing is told."""
    black: Any = SimpleNamespace(shares=lambda: (near, 1.0))
    bits = PROFILE.bits.model_copy(update={"rate_kbps": takes})
    profile = PROFILE.model_copy(update={"bits": bits})
    kept = Encoded(SimpleNamespace(), black)  # type: ignore[arg-type]
    found = _too_few_bits(kept, needed, profile, Fraction(rate))
    return "; ".join(finding.remedy for finding in found)


def test_too_few_bits_for_black_are_told_with_what_would_suffice() -> None:
    under = LEAST_NEAR - 0.01
    assert told(LEAST_NEAR, 900) == ""
    assert told(under, None) == told(under, 900, takes=None) == ""
    assert _too_few_bits(Encoded(SimpleNamespace()), 900, PROFILE, Fraction(30)) == ()  # type: ignore[arg-type]
    # at half the frame rate it takes about .6 of 1280 kbit/s: just as much as there is
    assert "choose half the frame rate (--fps 15), or a figure 60% as large, or a --player" in told(
        under, 1280
    )
    assert "half the frame rate" not in told(under, 1281)
    # what would suffice already asks for no smaller figure
    assert "as large" not in told(under, 768)
    assert "as large" in told(under, 769)
    # a player takes no 60 frames a second, so it has no half of 120 to offer
    assert "half the frame rate" not in told(under, 900, rate=120)


def test_a_mattes_black_and_white_are_reached_whatever_its_coding_did() -> None:
    """Three codes off at each end are none: 249 codes between them become 255."""
    grey = np.array([[0, 3, 4, 128, 251, 252, 255]], np.uint8)
    matte = _levels(np.repeat(grey[..., None], 3, axis=2))
    assert matte[0].tolist() == [0, 0, 1, 128, 254, 255, 255]


DARK, JOIN = Finding("caution", "brightness", "it is dark"), Finding("note", "join", "x")


def test_a_painted_shape_is_not_too_dark_and_needs_a_backing() -> None:
    key = Key(Backing("green", "#28a046", 1.0, ""), np.zeros((4, 4, 3), np.float32), remarks=(DARK, JOIN))
    painted = filled(key, "#ff8000")
    assert painted.fill == (255, 128, 0)
    assert painted.remarks == (JOIN,)
    with pytest.raises(InputError, match="paints the figure's shape, and nothing was found behind"):
        filled(Key(Backing("none", None, 1.0, ""), None), "#ff8000")


def test_a_backing_is_named_as_the_option_takes_it() -> None:
    assert _named(Backing("colour", "#a02878", 1.0, "")) == "#a02878"
    assert _named(Backing("green", "#28a046", 1.0, "")) == "green"
    assert _named(Backing("plate", None, 1.0, "")) == "plate"


MOUNT = GhostPlace(
    np.array([[8.0, 0, 160], [0, -8, 240], [0, 0, 1]]), Orientation(False, 0), False, 20.0, (0.0, 5.0)
)
BODY = FigureExtent(Box(40, 20, 30, 50), 50.0, (55.0, 70.0))


def setup(mount: GhostPlace | None) -> Any:
    return SimpleNamespace(mount=mount, raster=(320, 240), orientation=Orientation(False, 0))


def test_without_a_backing_all_of_the_clip_is_shown_at_the_scenes_scale() -> None:
    whole, figure = (
        fit_clip((100, 80), BODY, Recipe(), setup(MOUNT), keyed=keyed, grid=2) for keyed in (False, True)
    )
    # 20 mm at 8 px each for 50 rows of the clip, whichever part of it is shown
    assert whole.figure_px == pytest.approx(160, abs=0.5)
    assert figure.figure_px == pytest.approx(160, abs=0.5)
    assert whole.crop.width * whole.crop.height > figure.crop.width * figure.crop.height
    assert figure.crop.y >= 20 - 4
    # without a scene the raster is filled
    assert fit_clip((100, 80), BODY, Recipe(), setup(None), keyed=True, grid=2).figure_px > 200


def test_what_shows_more_of_the_figure_depends_on_what_cut_it() -> None:
    assert _more_room(Recipe(crop=Box(0, 0, 9, 9)), setup(MOUNT)).startswith("make --crop larger")
    assert "scene file" in _more_room(Recipe(), setup(MOUNT))
    assert _more_room(Recipe(), setup(None)) == ""


@pytest.mark.parametrize(
    ("size", "told_before", "says"),
    [
        ((400, 6), True, ["its pictures are 400x6 px, too few to tell a figure"]),
        ((6, 400), False, ["its pictures are 6x400 px, too few to tell a figure"]),
        ((400, 16), True, []),
        ((400, 16), False, ["nothing is left of the clip when the backing is gone"]),
    ],
)
def test_that_nothing_is_left_is_told_once(size: tuple[int, int], told_before: bool, says: list[str]) -> None:
    solid = Finding("fault", "figure", "nothing solid is left")
    backing = Backing("green", "#30a050", 1.0, "an even green")
    key = SimpleNamespace(backing=backing, remarks=(solid,) if told_before else ())
    seen: Any = SimpleNamespace(damage=None, key=key, facts=SimpleNamespace(size=size))
    found = figure_findings(seen, None)
    assert all(one.level == "fault" for one in found)
    assert [one.text[: len(said)] for one, said in zip(found, says, strict=True)] == says


def test_a_figure_of_sixty_pixels_is_not_told_to_be_under_sixty() -> None:
    def findings(pixels: float) -> list[str]:
        fit: Any = SimpleNamespace(figure_px=pixels, scale=1.0)
        return [one.text for one in fit_findings(fit, keyed=True)]

    assert findings(59.6) == []
    assert findings(59.4) == ["it is 59 px tall on the raster; under 60 px no face shows"]


def test_one_of_several_numbered_pictures_is_told_with_all_of_them(tmp_path: Path) -> None:
    one: Any = SimpleNamespace(path=tmp_path / "walk_03.png", still=True, container="png_pipe")
    assert pictures_findings(one, Recipe()) == []
    (tmp_path / "walk_04.png").touch()
    (note,) = pictures_findings(one, Recipe())
    assert (note.level, note.text) == (
        "note",
        "walk_03.png is one of several numbered pictures, and is taken alone",
    )
    assert note.remedy == f"to take all of them, name {tmp_path / 'walk_%02d.png'}"
