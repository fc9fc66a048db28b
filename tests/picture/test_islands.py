"""Lit things that lie apart are told apart and measured, whatever the crop and the size of the frames."""

from __future__ import annotations

import numpy as np
import pytest

from ghostprep.box import Box
from ghostprep.picture.key.keyed import Keyed
from ghostprep.picture.key.marks import Gauge, MarklessKeyer, Marks, looks_like

SOURCE = (1280, 960)
THING, OTHER = (200, 40, 60), (60, 180, 210)


def keyed(size: tuple[int, int], *boxes: tuple[int, int, int, int], matte: int = 255) -> Keyed:
    """A frame of a size with things in it, left, top, right, bottom; each second one of another colour."""
    figure, cover = np.zeros((size[1], size[0], 3), np.uint16), np.zeros((size[1], size[0]), np.uint8)
    for n, (left, top, right, bottom) in enumerate(boxes):
        figure[top:bottom, left:right] = np.array((THING, OTHER)[n % 2], np.uint16) * 257
        cover[top:bottom, left:right] = matte
    return Keyed(figure, cover)


@pytest.mark.parametrize(
    ("crop", "size"),
    [
        (None, (1280, 960)),  # things are told apart on a picture three times smaller
        (None, (320, 240)),
        (Box(320, 240, 640, 480), (640, 480)),
        (Box(320, 240, 640, 480), (1280, 960)),
    ],
)
def test_mass_colour_and_middle_are_those_of_the_source(crop: Box | None, size: tuple[int, int]) -> None:
    box = crop or Box(0, 0, *SOURCE)
    per = size[0] / box.width
    # in pixels of the source: one of 48 x 48, one of 96 x 24, far apart
    things = [(400, 300, 448, 348), (700, 600, 796, 624)]
    boxes = [
        tuple(round((value - start) * per) for value, start in zip(thing, (box.x, box.y) * 2, strict=True))
        for thing in things
    ]
    found = Gauge.of(crop, SOURCE, size).islands(keyed(size, *boxes))
    assert len(found.mass) == 3
    assert found.mass[0] == 0
    order = np.argsort(found.middles[1:, 0]) + 1
    for n, thing, colour in zip(order, things, (THING, OTHER), strict=True):
        left, top, right, bottom = thing
        assert found.mass[n] == pytest.approx((right - left) * (bottom - top) / (1280 * 960), rel=0.02)
        assert found.colours[n] == pytest.approx(colour, abs=2)
        middle = np.array([(left + right) / 2 - box.x, (top + bottom) / 2 - box.y]) / box.width
        assert found.middles[n] == pytest.approx(middle, abs=0.003)


@pytest.mark.parametrize("size", [(1280, 960), (320, 240)])
@pytest.mark.parametrize(("gap", "count"), [(6, 1), (24, 2)])
def test_what_lies_within_a_hundred_and_twentieth_of_the_longer_side_belongs_together(
    size: tuple[int, int], gap: int, count: int
) -> None:
    """That is ten of 1280 pixels."""
    per = size[0] / SOURCE[0]
    boxes = [(400, 300, 440, 340), (440 + gap, 300, 480 + gap, 340)]
    scaled = [tuple(round(value * per) for value in box) for box in boxes]
    found = Gauge.of(None, SOURCE, size).islands(keyed(size, *scaled))
    assert len(found.mass) - 1 == count


def test_the_faintest_thing_has_twelve_codes_of_coverage_and_its_own_colour() -> None:
    gauge = Gauge.of(None, SOURCE, (320, 240))
    box = (100, 100, 120, 120)
    assert len(gauge.islands(keyed((320, 240), box, matte=11)).mass) == 1
    faint = gauge.islands(keyed((320, 240), box, matte=12))
    assert len(faint.mass) == 2
    # as much light as full coverage could have at most
    assert faint.colours[1] == pytest.approx(255)


@pytest.mark.parametrize(("apart", "alike"), [((40, 20, 10), True), ((40, 30, 15), False)])
def test_a_look_is_the_same_within_48_codes(apart: tuple[int, int, int], alike: bool) -> None:
    colours = np.float32([np.add(THING, apart), OTHER])
    known = np.float32([THING])
    assert looks_like(colours, known).tolist() == [alike, False]
    assert not looks_like(colours, np.zeros((0, 3), np.float32)).any()


@pytest.mark.parametrize(("side", "goes"), [(16, True), (22, True), (23, False)])
def test_a_mark_of_its_colour_and_at_most_twice_its_size_goes(side: int, goes: bool) -> None:
    """One of 16 x 16 was seen; 22 x 22 is less than twice as much, 23 x 23 more."""
    size = (320, 240)
    gauge = Gauge.of(None, size, size)
    frame = keyed(size, (40, 40, 40 + side, 40 + side), (200, 100, 216, 116))
    marks = Marks(np.float32([THING]), 16 * 16 / (320 * 240), 1)
    left = MarklessKeyer(lambda _: frame, marks, gauge)(np.zeros((240, 320, 3), np.uint8))
    assert bool(left.matte[:100, :100].any()) is not goes
    # another colour stays, as large as it was
    assert (left.matte[100:116, 200:216] == 255).all()


def test_a_tall_source_has_the_gap_of_a_wide_one() -> None:
    """By its longer side, whichever that is."""
    wide, tall = Gauge.of(None, (1280, 720), (640, 360)), Gauge.of(None, (720, 1280), (360, 640))
    assert (tall.shrink, tall.half_gap, tall.pixel) == (wide.shrink, wide.half_gap, wide.pixel)
    square = Gauge.of(None, (720, 720), (360, 360))
    assert square.half_gap < wide.half_gap or square.shrink < wide.shrink
