"""The key before a colour, step by step: known shares of known colours, each limit from both sides."""

from __future__ import annotations

import numpy as np
import pytest

from ghostprep.picture.key.chroma import ChromaKeyer, _have_hue
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.keyed import Keyed
from ghostprep.picture.key.palette import Palette
from ghostprep.transfer import from_linear, to_linear

GREEN = np.array([40, 150, 70.0])
LUMA = float(GREEN @ (0.2126, 0.7152, 0.0722))
"""ITU-R BT.709-6, item 3.2."""
SIZE = (240, 180)


def keyer(*, wanders: bool = False, size: tuple[int, int] = SIZE, glare: float = 0.0) -> ChromaKeyer:
    """A key of grey figures before flat green, mixed in codes."""
    one = np.ones(1, np.float32)
    grey = Palette(np.full((1, 3), 3**-0.5, np.float32), 440 * one, 0 * one, one, one)
    plate = np.broadcast_to(np.rint(GREEN), (size[1], size[0], 3)).astype(np.uint8)
    axis = HueAxis.of(GREEN)
    return ChromaKeyer.of(plate, axis, Curve("codes"), grey, wanders=wanders, beside=None, glare=glare)


def before(colour: np.ndarray | float, share: float = 0.0, side: int = 24) -> Keyed:
    """Key a square of a colour, through which some green is seen; solid things lie in two corners."""
    frame = np.broadcast_to(GREEN, (SIZE[1], SIZE[0], 3)).copy()
    frame[10:18, 10:18] = frame[-18:-10, -18:-10] = 150
    frame[60 : 60 + side, 80 : 80 + side] = (1 - share) * np.asarray(colour) + share * GREEN
    return keyer()(np.rint(frame).astype(np.uint8))


@pytest.mark.parametrize("share", [0.2, 0.3, 0.6, 0.8])
def test_what_is_seen_through_grey_is_not_covered(share: float) -> None:
    """Between two hundredths and 94 of them the share of the backing counts evenly."""
    keyed = before(150, share)
    inner = np.s_[70:74, 90:94]
    assert keyed.matte[inner] == pytest.approx(255 * (1 - (share - 0.02) / 0.92), abs=5)
    assert keyed.codes[inner] == pytest.approx(150 * (1 - share), abs=6)


@pytest.mark.parametrize(("share", "there"), [(0.885, True), (0.93, False)])
def test_the_thinnest_that_is_kept_has_a_fortieth_of_coverage(share: float, there: bool) -> None:
    assert bool(before(150, share).matte[66:78, 86:98].all()) is there


def test_an_edge_that_luma_does_not_show_stays_as_sharp_as_chroma_shows_it() -> None:
    """Grey of the backing's own luma."""
    keyed = before(LUMA, side=40)
    assert keyed.matte[70:90, 84:88].min() > 242
    assert keyed.matte[70:90, 72:76].max() == 0


@pytest.mark.parametrize("matte", [0, 1, 60, 200, 255])
def test_thin_light_has_the_hue_that_was_found(matte: int) -> None:
    rng = np.random.default_rng(1)
    light = rng.uniform(0, 90, (8, 12, 3)).astype(np.float32)
    hue = rng.uniform(0, 1, (8, 12, 3)).astype(np.float32)
    hue /= np.linalg.norm(hue, axis=-1, keepdims=True)
    hue[0, 0] = (-1, 0, 0)  # a hue that light runs against has none of it
    wanted = light.astype(float)
    if 0 < matte < 255:
        along = np.maximum((light * hue).sum(-1, keepdims=True), 0) * hue
        wanted = along + matte / 255 * (light - along)
    _have_hue(light, np.full((8, 12), matte, np.uint8), hue)
    assert light == pytest.approx(wanted, abs=1e-3)


def followed(frame: np.ndarray) -> np.ndarray | None:
    """The plate that is made of a frame's own backing; None if the clip's is kept."""
    one = keyer(wanders=True)
    look = one._look(np.clip(np.rint(frame), 0, 255).astype(np.uint8), 2)
    return None if look.plate is one.plate else look.plate.light


def cloth(times: float = 1.0, more: float = 0.0) -> np.ndarray:
    return np.broadcast_to(times * GREEN + more, (SIZE[1], SIZE[0], 3)).copy()


@pytest.mark.parametrize(
    ("times", "more", "follows"),
    [(0.5, 0, False), (0.7, 0, True), (1.4, 0, True), (1.7, 0, False), (1, 20, True), (1, 45, False)],
)
def test_a_wandering_backing_is_followed_while_it_looks_like_itself(
    times: float, more: float, follows: bool
) -> None:
    """Six tenths to sixteen of its chroma, and about its luma for that."""
    frame = cloth(times, more)
    own = followed(frame)
    assert (own is not None) is follows
    if own is not None:
        assert np.abs(own - frame).max() < 1


@pytest.mark.parametrize(("side", "follows"), [(20, False), (44, True)])
def test_a_fiftieth_of_the_picture_must_show_it(side: int, follows: bool) -> None:
    """Less a rim of two small pixels: squares of 20 and 44 pixels, eroded, are .6 % and 3 % of it."""
    frame = np.full((SIZE[1], SIZE[0], 3), 110.0)
    frame[60 : 60 + side, 80 : 80 + side] = 1.2 * GREEN
    own = followed(frame)
    assert (own is not None) is follows
    if own is not None:
        assert np.abs(own - 1.2 * GREEN).max() < 1


def test_behind_the_figure_the_backing_is_as_around_it() -> None:
    across = np.linspace(0.8, 1.2, SIZE[0])[None, :, None]
    frame = cloth() * across
    frame[60:120, 100:140] = 150
    own = followed(frame)
    assert own is not None
    assert np.abs(own - cloth() * across).max() < 5


@pytest.mark.parametrize("glare", [0.05, 0.2])
def test_glare_is_taken_from_figure_and_backing_alike(glare: float) -> None:
    """A share of the plate's light, which the plate itself has too; light adds whatever was mixed."""
    frame = np.broadcast_to(GREEN, (SIZE[1], SIZE[0], 3)).copy()
    grey, green = to_linear(np.array([120, 120, 120]) / 255), to_linear(GREEN / 255)
    frame[60:100, 80:120] = 255 * from_linear(grey + glare * green)
    keyed = keyer(glare=glare)(np.rint(frame).astype(np.uint8))
    assert keyed.codes[72:90, 92:110] == pytest.approx(120, abs=1.5)
    assert not keyed.matte[:40].any()


def test_a_frame_of_any_size_is_keyed_to_its_last_pixel() -> None:
    size = (237, 175)
    frame = np.broadcast_to(GREEN, (size[1], size[0], 3)).copy()
    frame[150:, 200:] = 150
    keyed = keyer(size=size)(np.rint(frame).astype(np.uint8))
    assert keyed.matte.shape == (175, 237)
    assert (keyed.matte[156:, 206:] == 255).all()
    assert not keyed.matte[:140].any()
