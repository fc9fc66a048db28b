"""Which backing a clip has: hues by their angle, and the shares from which one is believed."""

from __future__ import annotations

import math

import numpy as np
import pytest

from ghostprep.picture.learn.detect import bright, candidates, commonest_hue, dark, detect, from_hex, name_of


def of_hue(degrees: float, chroma: float = 40, luma: float = 120) -> np.ndarray:
    """R'G'B' codes of an angle in the CbCr plane (ITU-R BT.709-6, items 3.2 and 3.3 turned round)."""
    cb, cr = chroma * math.cos(math.radians(degrees)), chroma * math.sin(math.radians(degrees))
    r, b = luma + 1.5748 * cr, luma + 1.8556 * cb
    return np.array([r, (luma - 0.2126 * r - 0.0722 * b) / 0.7152, b])


@pytest.mark.parametrize(
    ("degrees", "name"),
    [
        (205, "colour"), (208, "green"), (230, "green"), (248, "green"), (252, "colour"),
        (325, "colour"), (330, "blue"), (355, "blue"), (14, "blue"), (18, "colour"), (100, "colour"),
    ],
)  # fmt: skip
def test_a_hue_is_named_by_its_angle(degrees: float, name: str) -> None:
    assert name_of(of_hue(degrees)) == name


def clip(*parts: tuple[np.ndarray, float], sigma: float = 1.0) -> np.ndarray:
    """Four pictures of 60 x 100 in which each colour fills its share of the columns, grey the rest."""
    frames = np.full((4, 60, 100, 3), 110.0)
    x = 0
    for colour, part in parts:
        frames[:, :, x : x + round(part * 100)] = colour
        x += round(part * 100)
    noise = np.random.default_rng(1).normal(0, sigma, frames.shape)
    return np.clip(np.rint(frames + noise), 0, 255).astype(np.uint8)


@pytest.mark.parametrize("degrees", range(0, 360, 45))
def test_the_commonest_hue_is_that_of_the_larger_area(degrees: int) -> None:
    hue, other = of_hue(degrees), of_hue(degrees + 120)
    found = commonest_hue(clip((hue, 0.3), (other, 0.2)))
    assert found is not None
    assert np.abs(found - hue).max() <= 1
    # a smaller area of one hue counts for more than a larger one of many
    many = [(of_hue(degrees + 60 + 10 * n), 0.04) for n in range(12)]
    found = commonest_hue(clip((hue, 0.2), *many))
    assert found is not None
    assert np.abs(found - hue).max() <= 2


def test_a_twentieth_of_the_picture_must_have_colour() -> None:
    assert commonest_hue(clip((of_hue(90), 0.04), sigma=0.5)) is None
    assert commonest_hue(clip((of_hue(90), 0.06), sigma=0.5)) is not None
    assert commonest_hue(clip((of_hue(90, 8), 0.5), sigma=0)) is None
    assert commonest_hue(clip((of_hue(90, 15.5), 0.5), sigma=0)) is not None


@pytest.mark.parametrize(
    ("colour", "as_dark", "as_bright"),
    [
        ((45, 45, 45), True, False), ((47, 47, 47), False, False),
        ((30, 30, 59), True, False), ((30, 30, 61), False, False),
        ((201, 201, 201), False, True), ((199, 199, 199), False, False),
        ((225, 250, 230), False, True), ((223, 250, 230), False, False),
    ],
)  # fmt: skip
def test_darkness_and_paper_are_grey(colour: tuple[int, int, int], as_dark: bool, as_bright: bool) -> None:
    frame = np.array(colour, np.uint8)[None, None, None]
    assert (bool(dark(frame)), bool(bright(frame))) == (as_dark, as_bright)


def walk(backing: tuple[int, int, int], sides: float, count: int = 12) -> np.ndarray:
    """A figure walks before a backing in the middle of the picture, a cluttered room left and right."""
    rng = np.random.default_rng(7)
    w = 160
    room = np.repeat(np.repeat(rng.integers(30, 170, (9, 16, 3)), 10, 0), 10, 1).astype(np.float64)
    side = round(sides * w / 2)
    room[:, side : w - side] = backing
    frames = room[None].repeat(count, 0)
    for i, frame in enumerate(frames):
        x = side + round((w - 2 * side - 24) * i / (count - 1))
        frame[20:90, x : x + 24] = (190, 150, 120)
    return np.clip(np.rint(frames + rng.normal(0, 1.5, frames.shape)), 0, 255).astype(np.uint8)


@pytest.mark.parametrize(
    ("backing", "kind"),
    [((40, 160, 70), "green"), ((36, 70, 185), "blue"), ((160, 40, 120), "colour"), ((12, 12, 13), "black")],
)
def test_a_backing_that_fills_the_picture_is_sure(backing: tuple[int, int, int], kind: str) -> None:
    found = detect(walk(backing, 0.0))
    assert found.kind == kind
    assert found.confidence == pytest.approx(1)
    # a figure of 24 of 160 columns and 70 of 90 rows stands before it, with the rim around it
    assert found.coverage == pytest.approx(1 - 24 * 70 / (160 * 90), abs=0.06)
    assert found.colour is not None
    assert np.abs(from_hex(found.colour) - backing).max() <= 2


@pytest.mark.parametrize("wide", [16, 48])
def test_what_stands_before_a_backing_is_counted_as_a_part_of_it(wide: int) -> None:
    """A poster of 40 rows on cloth that fills the picture; somebody walks along below it."""
    frames = walk((40, 160, 70), 0.0)
    frames[:, 6:46, 60 : 60 + wide] = (200, 60, 50)
    frames[:, 50:] = walk((40, 160, 70), 0.0)[:, 50:]
    moves = np.zeros((90, 160), np.bool_)
    moves[50:] = True
    (found,) = (one for one in candidates(frames, moves) if one.kind == "green")
    assert found.clutter == pytest.approx(40 * wide / (90 * 160), abs=0.035)
    assert found.before == 1


def test_a_green_cloth_between_things_is_still_the_backing_and_a_dark_wall_is_not() -> None:
    assert detect(walk((40, 160, 70), 0.5)).kind == "green"
    assert detect(walk((26, 26, 28), 0.5)).kind == "plate"


def test_a_room_in_which_something_moves_is_a_plate_and_one_that_rests_is_none() -> None:
    room = walk((90, 80, 70), 1.0)
    room[:, :, 20:140] = walk((90, 80, 70), 0.8)[:, :, 20:140]
    assert detect(room).kind == "plate"
    assert detect(room[:1].repeat(12, 0)).kind != "plate"
    assert detect(room[:1].repeat(12, 0)).confidence < 0.6


def test_faded_light_of_one_hue_is_black_with_light_in_it() -> None:
    """Blue mist that fades to nothing over the picture has no one light, as a lit cloth has."""
    across = np.linspace(1, 0.02, 160)[None, :, None] * np.ones((90, 1, 1))
    mist = np.array([60.0, 90, 200]) * across
    rng = np.random.default_rng(2)
    frames = np.stack([mist + rng.normal(0, 1, mist.shape) for _ in range(8)])
    codes = np.clip(np.rint(frames), 0, 255).astype(np.uint8)
    assert detect(codes).kind == "black"
    cloth = np.array([60.0, 90, 200]) * (0.6 + 0.4 * across)
    frames = np.stack([cloth + rng.normal(0, 1, mist.shape) for _ in range(8)])
    assert detect(np.clip(np.rint(frames), 0, 255).astype(np.uint8)).kind == "blue"


@pytest.mark.parametrize(("every", "kind"), [(40, "plate"), (0, "black")])
def test_light_of_one_hue_with_outlines_in_a_twentieth_of_it_is_a_room(every: int, kind: str) -> None:
    across = np.linspace(1, 0.05, 160)[None, :, None] * np.ones((90, 1, 1))
    light = np.array([60.0, 90, 200]) * across
    if every:
        light[:, ::every] *= 0.3  # seams between boards: with their sides three columns of forty
    rng = np.random.default_rng(2)
    frames = light[None] + rng.normal(0, 1, (12, *light.shape))
    for i, frame in enumerate(frames):
        frame[20:70, 10 * i : 10 * i + 20] = (170, 140, 120)
    found = detect(np.clip(np.rint(frames), 0, 255).astype(np.uint8))
    assert found.kind == kind


@pytest.mark.parametrize(("wide", "plate"), [(3, True), (1, False)])
def test_a_room_in_which_a_fortieth_moves_is_a_plate(wide: int, plate: bool) -> None:
    """Somebody small who walks a little way; a thing of a pixel that moves is no figure."""
    frames = walk((90, 80, 70), 1.0)[:1].repeat(12, 0).copy()
    for i, frame in enumerate(frames):
        frame[60 : 60 + 2 * wide, 40 + 3 * i : 40 + 3 * i + wide] = (230, 60, 200)
    assert (detect(frames).kind == "plate") is plate


@pytest.mark.parametrize(
    ("depth", "lit", "kind"), [(0.0, 0.16, "black"), (0.5, 0.0, "plate"), (0.5, 0.16, "plate")]
)
def test_darkness_with_outlines_in_it_is_a_dim_room(depth: float, lit: float, kind: str) -> None:
    """Boards with little light on them, and a shelf with a lamp: the shelf alone may stand on a stage."""
    rng = np.random.default_rng(4)
    boards = 30 * (1 - depth * rng.random((15, 20)))
    boards[1:4, 2 : 2 + round(100 * lit)] = 90  # a shelf with a lamp over it
    room = np.repeat(np.repeat(boards, 6, 0), 8, 1)[None, ..., None] * np.ones((12, 1, 1, 3))
    found = detect(crossed(room + rng.normal(0, 0.7, room.shape)))
    assert found.kind == kind


def crossed(room: np.ndarray) -> np.ndarray:
    """Return a room's glimpses (n, 90, 160, 3) with somebody who walks through it."""
    for i, frame in enumerate(room):
        frame[25:75, 30 + 8 * i : 50 + 8 * i] = (190, 90, 60)
    return np.clip(np.rint(room), 0, 255).astype(np.uint8)


@pytest.mark.parametrize("light", [1.0, 0.25])
def test_a_room_between_black_bars_or_in_hardly_any_light_is_a_plate(light: float) -> None:
    room = walk((90, 80, 70), 1.0) * light
    bars = room.copy()
    bars[:, :16] = bars[:, -16:] = 0
    assert detect(crossed(room)).kind == "plate"
    assert detect(crossed(bars)).kind == "plate"


def test_a_head_that_hardly_moves_before_black_is_no_room() -> None:
    """It fills two fifths of the picture, and has outlines all over; the black around it has none."""
    head = walk((90, 80, 70), 1.0)
    head[:, :, :48] = head[:, :, 112:] = 2
    head[:, 60:66, 70:80] = 200 * np.arange(12)[:, None, None, None] / 12
    assert detect(head).kind == "black"


def test_mist_that_lies_still_over_half_of_a_black_is_no_room() -> None:
    """It drifts at one end only, so that what moves is beside the bare black."""
    rng = np.random.default_rng(3)
    down = np.clip(np.linspace(-0.6, 1, 90), 0, 1)[None, :, None, None] * np.ones((12, 1, 160, 3))
    drift = (
        0.4
        * np.sin(np.arange(12)[:, None, None, None] + np.arange(160)[:, None] / 9)
        * (np.arange(160) > 120)[:, None]
    )
    mist = 120 * down * (1 + drift) + rng.normal(0, 1, down.shape)
    assert detect(np.clip(np.rint(mist), 0, 255).astype(np.uint8)).kind == "black"
