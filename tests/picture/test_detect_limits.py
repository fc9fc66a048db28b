"""From which share on an even colour is a backing, and where it is rather a part of a room."""

from __future__ import annotations

import numpy as np
import pytest

from ghostprep.picture.learn.detect import Candidate, _fades, _in_a_room, _outlines, candidates, detect
from ghostprep.picture.learn.even import EvenPlate
from ghostprep.transfer import light_to_codes

GREEN, BLUE, WHITE = (40, 160, 70), (36, 70, 185), (235, 235, 235)
BLACK, DARK = (14, 14, 14), (30, 30, 30)


def flicker(*parts: tuple[tuple[int, int, int], float], count: int = 12) -> np.ndarray:
    """Glimpses in which colours fill their shares of the columns; many others go and come beside."""
    rng = np.random.default_rng(3)
    frames = rng.integers(70, 180, (count, 6, 10, 3)).repeat(10, 1).repeat(10, 2).astype(float)
    x = 0
    for colour, share in parts:
        wide = round(100 * share)
        frames[:, :, x : x + wide] = colour + rng.normal(0, 0.7, (count, 60, wide, 3))
        x += wide
    return np.clip(np.rint(frames), 0, 255).astype(np.uint8)


@pytest.mark.parametrize(
    ("colour", "share", "kind", "sure"),
    [
        (GREEN, 0.08, "none", (0.3, 0.3)), (GREEN, 0.18, "green", (0.3, 0.3)),
        (GREEN, 0.26, "green", (0.4, 0.8)), (GREEN, 0.6, "green", (1, 1)),
        # any room has shadows and white walls: twice as much of them is asked
        (DARK, 0.33, "none", (0.3, 0.3)), (DARK, 0.48, "black", (0.4, 0.9)), (DARK, 0.75, "black", (1, 1)),
        (WHITE, 0.33, "none", (0.3, 0.3)), (WHITE, 0.75, "white", (1, 1)),
        # a level of the signal is none of them
        ((0, 0, 0), 0.33, "black", (0.5, 1)), (BLACK, 0.33, "black", (0.5, 1)),
    ],
)  # fmt: skip
def test_a_colour_that_fills_enough_is_the_backing(
    colour: tuple[int, int, int], share: float, kind: str, sure: tuple[float, float]
) -> None:
    found = detect(flicker((colour, share)))
    assert found.kind == kind
    assert sure[0] - 1e-6 <= found.confidence <= sure[1]
    assert found.coverage == pytest.approx(share if kind != "none" else 0, abs=0.03)


def test_of_two_that_fill_as_much_neither_is_sure() -> None:
    beside, near, far = (detect(flicker((GREEN, x), (WHITE, 1 - x))) for x in (0.51, 0.54, 0.6))
    assert (beside.kind, near.kind, far.kind) == ("green",) * 3
    assert beside.confidence == pytest.approx(0.3)
    assert near.confidence == pytest.approx((0.54 - 0.46) / 0.15, abs=0.15)
    assert far.confidence == pytest.approx(1)


@pytest.mark.parametrize(("share", "found"), [(0.1, False), (0.2, True)])
def test_an_eighth_of_the_picture_is_a_candidate(share: float, found: bool) -> None:
    frames = flicker((BLUE, share))
    them = candidates(frames, np.zeros(frames.shape[1:3], bool))
    assert [one.kind for one in them] == (["blue"] if found else [])
    for one in them:
        assert one.coverage == pytest.approx(share, abs=0.025)
        assert one.before == 1  # where nothing moves, nothing moves beside it


def test_what_moves_beside_a_backing_does_not_move_before_it() -> None:
    frames = flicker((GREEN, 0.6))
    moves = np.zeros((60, 100), bool)
    moves[20:40, 30:90] = True
    (found,) = candidates(frames, moves)
    assert found.before == pytest.approx(0.5, abs=0.06)


def in_a_room(
    kind: str,
    coverage: float,
    before: float,
    clutter: float = 0.0,
    outlined: float = 0.0,
    around: float = 0.0,
) -> bool:
    colour = np.float32((9, 9, 9) if kind == "black" else (90, 60, 120))
    return _in_a_room(Candidate(kind, colour, coverage, before, clutter, outlined, around, 0.0))  # type: ignore[arg-type]


@pytest.mark.parametrize("kind", ["green", "blue", "white", "colour"])
@pytest.mark.parametrize(
    ("coverage", "before", "room"), [(0.5, 0.55, True), (0.6, 0.55, False), (0.5, 0.65, False)]
)
def test_a_colour_is_a_wall_where_it_is_small_and_most_moves_beside_it(
    kind: str, coverage: float, before: float, room: bool
) -> None:
    assert in_a_room(kind, coverage, before, outlined=0.5, around=0.5) is room
    assert in_a_room(kind, coverage, before) is room


@pytest.mark.parametrize(
    ("kind", "clutter", "room"),
    [("white", 0.15, True), ("colour", 0.15, True), ("white", 0.07, False), ("green", 0.3, False)],
)
def test_another_colour_than_green_and_blue_is_one_too_where_things_stand_before_it(
    kind: str, clutter: float, room: bool
) -> None:
    assert in_a_room(kind, 0.5, 0.9, clutter) is room
    assert not in_a_room(kind, 0.6, 0.9, clutter)


@pytest.mark.parametrize(
    ("coverage", "before", "outlined", "around", "room"),
    [
        (0.9, 1.0, 0.16, 0.0, True), (0.9, 1.0, 0.1, 0.3, False),
        (0.5, 0.5, 0.0, 0.16, True), (0.5, 0.5, 0.0, 0.1, False), (0.6, 0.5, 0.0, 0.3, False),
    ],
)  # fmt: skip
def test_a_darkness_is_a_dim_room_where_it_has_outlines_or_lies_beside_a_room(
    coverage: float, before: float, outlined: float, around: float, room: bool
) -> None:
    assert in_a_room("black", coverage, before, 0.0, outlined, around) is room


@pytest.mark.parametrize(("ratio", "fades"), [(1.5, False), (6, False), (11, True)])
def test_light_of_one_hue_fades_where_it_is_eight_times_as_bright_in_one_place(
    ratio: float, fades: bool
) -> None:
    plate = np.ones((20, 30, 3)) * (0.5, 0.7, 0.3)
    plate[:, :10] /= ratio
    plate[0, 0] = 0  # one place says nothing
    codes = light_to_codes(plate.astype(np.float32)).astype(np.float32)
    assert _fades(EvenPlate(codes, np.ones((2, 20, 30), bool), 1.0)) is fades
    # nor what is no backing
    empty = np.ones((2, 20, 30), bool)
    empty[:, :, :10] = False
    assert not _fades(EvenPlate(codes, empty, 1.0))


@pytest.mark.parametrize(("low", "outline"), [(60, True), (80, False)])
def test_an_outline_in_a_room_climbs_a_quarter_of_its_height(low: int, outline: bool) -> None:
    frames = np.full((3, 40, 60, 3), 100, np.uint8)
    frames[:, :, :30] = low
    frames[0, 5:35, 50:] = 255  # what does not stay is none
    found = _outlines(frames)
    assert bool(found[:, 28:32].any()) is outline
    assert not found[:, 36:].any()


def test_outlines_are_counted_where_nothing_moves() -> None:
    """Cloth without any, and a room of patches beside it."""
    frames = flicker((GREEN, 0.6), count=1).repeat(4, 0)
    there = _outlines(frames)
    still = np.zeros((60, 100), bool)
    (found,) = (one for one in candidates(frames, still) if one.kind == "green")
    assert found.outlined == 0
    assert found.around == pytest.approx(there.mean())
    assert found.around > 0.1
    moves = still.copy()
    moves[:, 80:] = True
    (found,) = (one for one in candidates(frames, moves) if one.kind == "green")
    assert found.around == pytest.approx(there[:, :80].mean())
