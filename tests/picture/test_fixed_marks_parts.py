"""Things that move as the camera makes them, drawn as numbers: which are marks, and which are thrown."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from ghostprep.picture.key.keyed import Keyed
from ghostprep.picture.key.marks import Gauge, Islands, Marks
from ghostprep.picture.learn.fixed_marks import _alike, _common_way, _fixed, find_marks

TAPE = (224, 224, 208)
BORDER = (1.0, 0.75)
"""Width and height of the picture as shares of the longer side."""
PLACES = np.array([(0.15, 0.1), (0.4, 0.2), (0.55, 0.12), (0.2, 0.6), (0.45, 0.55)])

Pair = tuple[float, float]


def seen(marks: np.ndarray, figure: Pair = (0.8, 0.4), mass: float = 0.001) -> Islands:
    """A figure (number 1), a tenth of the picture wide, and small things of one colour and size."""
    zones = np.zeros((75, 100), np.int32)
    x, y = (round(100 * value) for value in figure)
    zones[max(y - 15, 0) : y + 15, max(x - 5, 0) : x + 5] = 1
    count = len(marks)
    middles = np.concatenate([[(0, 0), figure], np.reshape(marks, (-1, 2))])
    colours = np.float32([(0, 0, 0), (150, 90, 60), *[TAPE] * count])
    return Islands(zones, np.float32([0, 0.1, *[mass] * count]), colours, np.float32(middles))


def numbers(one: Islands) -> np.ndarray:
    return np.arange(2, len(one.mass))


def panned(
    camera: Sequence[Pair], figure: Sequence[Pair] | None = None, places: np.ndarray = PLACES
) -> Marks | None:
    """What is told of marks that the camera moves to these places, and of a figure that moves to those."""
    stands = figure or [(0.0, 0.0)] * len(camera)
    pictures = [
        seen(places + way, (0.8 + own[0], 0.4 + own[1])) for way, own in zip(camera, stands, strict=True)
    ]
    return _fixed(pictures, [numbers(one) for one in pictures], BORDER)


def steps(x: float, y: float, count: int = 6) -> list[Pair]:
    return [(x * n, y * n) for n in range(count)]


def test_marks_keep_their_look_their_size_and_their_number() -> None:
    found = panned(steps(0.02, 0))
    assert found is not None
    assert found.colours.tolist() == [list(TAPE)]
    assert found.size == pytest.approx(0.001)
    assert found.usual == len(PLACES)


@pytest.mark.parametrize(("way", "moved"), [(0.009, False), (0.018, True)])
@pytest.mark.parametrize("upright", [True, False])
def test_they_must_have_moved_a_sixteenth_of_the_picture_against_the_figure(
    way: float, moved: bool, upright: bool
) -> None:
    """Five steps of a hundredth, or of two."""
    found = panned(steps(0, way) if upright else steps(way, 0))
    assert (found is not None) is moved


@pytest.mark.parametrize("sign", [(1, 0), (-1, 0), (0, 1), (0, -1)])
def test_it_is_the_way_against_the_figures_own(sign: Pair) -> None:
    camera = steps(0.008 * sign[0], 0.008 * sign[1])
    against = steps(-0.008 * sign[0], -0.008 * sign[1])
    assert panned(camera, against) is not None
    # what keeps the figure's pace belongs to it
    assert panned(steps(0.02 * sign[0], 0.02 * sign[1]), steps(0.02 * sign[0], 0.02 * sign[1])) is None


@pytest.mark.parametrize(("count", "told"), [(4, False), (5, True)])
def test_less_than_four_pairs_of_pictures_agree_by_chance(count: int, told: bool) -> None:
    assert (panned(steps(0.03, 0, count)) is not None) is told


@pytest.mark.parametrize(("thrown", "told"), [(2, True), (4, False)])
def test_three_of_four_pairs_must_agree(thrown: int, told: bool) -> None:
    """In so many of twelve steps everything lies elsewhere."""
    rng = np.random.default_rng(1)
    pictures = []
    for n in range(13):
        places = PLACES + np.array((0.01 * n, 0))
        if n > 12 - thrown:
            places = rng.uniform((0.1, 0.1), (0.6, 0.65), PLACES.shape)
        pictures.append(seen(places))
    assert (_fixed(pictures, [numbers(one) for one in pictures], BORDER) is not None) is told


def test_without_enough_to_compare_nothing_is_told() -> None:
    assert panned(steps(0.02, 0), places=PLACES[:1]) is None
    assert panned(steps(0.02, 0), places=PLACES[:2]) is not None


def way_of(
    before: np.ndarray, after: np.ndarray, figure: Pair = (0.8, 0.4)
) -> tuple[list[int], float] | None:
    one, other = seen(before), seen(after, figure)
    found = _common_way(one, numbers(one), other, numbers(other), border=BORDER)
    return None if found is None else (found.kept, found.agree)


@pytest.mark.parametrize(("off", "kept", "agree"), [(0.01, 5, 1.0), (0.022, 4, 0.8)])
def test_a_mark_may_miss_its_place_by_a_seventieth_of_the_picture(
    off: float, kept: int, agree: float
) -> None:
    after = PLACES + np.array((0.05, 0.02))
    after[2] += (0, off)
    found = way_of(PLACES, after)
    assert found is not None
    assert (len(found[0]), found[1]) == (kept, pytest.approx(agree))


@pytest.mark.parametrize(
    ("leaves", "agree"),
    [
        ((0.98, 0.4), 1), ((0.92, 0.6), 0.8), ((0.5, 0.73), 1), ((0.5, 0.67), 0.8),
        ((0.02, 0.4), 1), ((0.08, 0.4), 0.8), ((0.5, 0.02), 1), ((0.5, 0.08), 0.8),
    ],
)  # fmt: skip
def test_what_comes_to_the_pictures_border_may_be_missing(leaves: Pair, agree: float) -> None:
    """Within a twenty-fifth of the longer side."""
    way = np.array((0.03, -0.02))
    before = np.concatenate([PLACES[[0, 1, 3, 4]], [np.array(leaves) - way]])
    found = way_of(before, before[:4] + way)
    assert found is not None
    assert found[1] == pytest.approx(agree)


def test_what_the_figure_hides_may_be_missing() -> None:
    way = np.array((0.03, 0.0))
    assert way_of(PLACES, (PLACES + way)[1:], figure=(0.18, 0.1)) == ([3, 4, 5, 6], 1.0)
    found = way_of(PLACES, (PLACES + way)[1:])
    assert found is not None
    assert found[1] == pytest.approx(4 / 5)


def test_things_that_all_go_their_own_way_agree_in_nothing() -> None:
    found = way_of(PLACES[:2], np.array([(0.3, 0.3), (0.7, 0.66)]))
    assert found == ([], 0)
    assert way_of(PLACES[:1], PLACES[:2]) is None
    assert way_of(PLACES[:2], PLACES[:1]) is None


def test_the_commonest_look_comes_first_and_each_thing_once() -> None:
    one = seen(np.tile(PLACES, (2, 1)))
    colours = one.colours.copy()
    colours[2:5], colours[5:11], colours[11] = (220, 40, 30), (30, 60, 220), (40, 220, 60)
    looks = [set(n.tolist()) for (n,) in _alike([one._replace(colours=colours)], [numbers(one)])]
    assert looks == [{5, 6, 7, 8, 9, 10}, {2, 3, 4}, {11}]
    # at most four looks
    for n in range(2, 9):
        colours[n] = (30 + 35 * (n - 2), 255 - 35 * (n - 2), 80 * (n % 3))
    assert len(list(_alike([one._replace(colours=colours)], [numbers(one)]))) == 4


@pytest.mark.parametrize(("side", "mark"), [(4, True), (9, False)])
def test_a_mark_is_smaller_than_a_thirtieth_of_the_figure(side: int, mark: bool) -> None:
    """Squares beside a figure of 20 x 80 pixels: a hundredth of it, or a twentieth."""
    size = (160, 120)
    gauge = Gauge.of(None, size, size)

    def keyer(frame: np.ndarray) -> Keyed:
        matte = np.zeros((120, 160), np.uint8)
        matte[20:100, 120:140] = 255
        for x, y in (10, 15), (40, 30), (70, 20), (30, 80):
            matte[y : y + side, x + frame[0, 0, 0] : x + frame[0, 0, 0] + side] = 255
        return Keyed(np.repeat(matte[..., None] * np.uint16(200), 3, axis=2), matte)

    frames = [np.full((120, 160, 3), 3 * n, np.uint8) for n in range(7)]
    found = find_marks(keyer, frames, gauge)
    assert (found is not None) is mark
    if found is not None:
        assert found.usual == 4
        assert found.size == pytest.approx(side * side / (160 * 120), rel=0.05)


@pytest.mark.parametrize("size", [(160, 120), (120, 160)])
@pytest.mark.parametrize("down", [False, True])
def test_marks_that_leave_the_picture_are_none_that_are_missing(size: tuple[int, int], down: bool) -> None:
    """At each step several leave it at its far side, as many come at the near one."""
    gauge = Gauge.of(None, size, size)
    rng = np.random.default_rng(4)
    along = np.cumsum(rng.integers(11, 19, 30)) - 320
    beside = rng.integers(8, 40, 30)

    def keyer(frame: np.ndarray) -> Keyed:
        matte = np.zeros((size[1], size[0]), np.uint8)
        matte[60:110, 60:110] = 255
        for far, near in zip(along + 26 * int(frame[0, 0, 0]), beside, strict=True):
            x, y = (near, far) if down else (far, near)
            if x > 0 and y > 0:
                matte[y : y + 4, x : x + 4] = 255
        return Keyed(np.repeat(matte[..., None] * np.uint16(200), 3, axis=2), matte)

    frames = [np.full((size[1], size[0], 3), n, np.uint8) for n in range(8)]
    found = find_marks(keyer, frames, gauge)
    assert found is not None
    assert found.size == pytest.approx(16 / (160 * 120), rel=0.1)
