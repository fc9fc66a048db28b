"""How far cloth that is sheer in one place is believed to go on: by colour, detail and distance."""

from __future__ import annotations

import numpy as np
import pytest

from ghostprep.picture.key.sheer_cloth import Detailed, same_cloth

SIZE = (70, 160)
SHARE = 0.5
SEEN = np.s_[20:50, 10:30]
"""Where the room's detail tells that the cloth is sheer."""


def cloth(colour: np.ndarray, *, seeds: float = 1.0, detail: float = 0.0, kept: float = 0.0) -> np.ndarray:
    """How far each place (h, w) is believed to be sheer where light (h, w, 3) lies before a plain plate.

    A share of the seeds is sure. Beside them the plate has so much detail, of which a share is kept.
    """
    plate = np.full((*SIZE, 3), 80, np.float32)
    frame = (SHARE * plate + colour).astype(np.float32)
    sure = np.zeros(SIZE, np.float32)
    sure[SEEN] = np.random.default_rng(1).random((30, 20)) < seeds
    own, common, theirs = (np.zeros(SIZE, np.float32) for _ in range(3))
    theirs[:, 30:] = detail
    common[:, 30:] = kept * detail
    own[:, 30:] = kept * kept * detail
    told = Detailed(np.full(SIZE, SHARE, np.float32), sure, own, common, theirs)
    through, believed = same_cloth(frame, plate, np.ones(SIZE, np.float32), told)
    if seeds == 1:
        assert through[35, 34] == pytest.approx(SHARE, abs=1e-3)
    assert (believed[SEEN][sure[SEEN] > 0] == 1).all()
    return believed


def beside(offset: float, weave: float = 0.0) -> np.ndarray:
    """The cloth's light, another by so many amounts from column 30 on; with a weave of a spread."""
    light = np.full((*SIZE, 3), 40.0)
    light[:, 30:] += offset
    rows, columns = np.indices(SIZE) // 3  # coarser than what is averaged
    return light + weave * (1 - 2 * ((rows + columns) % 2))[..., None]


@pytest.mark.parametrize(("offset", "same"), [(0, True), (3, True), (7, False), (60, False)])
def test_an_even_cloth_goes_on_in_its_own_colour(offset: float, same: bool) -> None:
    """Within twice the noise, two amounts; three and a half times that is another cloth."""
    there = cloth(beside(offset))[30:40, 33:38]
    assert bool((there > 0.5).all()) is same
    assert bool((there < 0.5).all()) is not same


@pytest.mark.parametrize(("offset", "same"), [(7, True), (45, False)])
def test_a_woven_one_may_vary_as_much_as_it_does(offset: float, same: bool) -> None:
    there = cloth(beside(offset, weave=9.0))[30:40, 33:38]
    assert bool(there.mean() > 0.5) is same


def test_it_is_believed_within_half_a_window_of_where_it_was_seen() -> None:
    believed = cloth(beside(0))
    assert believed[30:40, 30:42].min() > 0.9
    assert not believed[:, 30 + 36 :].any()


@pytest.mark.parametrize(("seeds", "same"), [(0.3, True), (0.004, False)])
def test_a_few_sure_places_do_not_make_a_cloth(seeds: float, same: bool) -> None:
    """A fiftieth of the window must be sure."""
    there = cloth(beside(0), seeds=seeds)[30:40, 31:36]
    assert bool((there > 0.8).all()) is same


@pytest.mark.parametrize(("kept", "same"), [(SHARE, True), (0.0, False)])
def test_where_the_room_has_detail_it_decides(kept: float, same: bool) -> None:
    """The same light, but nothing of the detail behind it: a coat of the veil's colour."""
    there = cloth(beside(0), detail=900.0, kept=kept)[30:40, 33:38]
    assert bool((there > 0.9).all()) is same
    assert bool((there < 0.1).all()) is not same


@pytest.mark.parametrize(
    ("own", "left", "same"), [(90.0, 215.0, True), (30.0, 270.0, False), (90.0, 90.0, True)]
)
def test_detail_against_it_must_be_plain(own: float, left: float, same: bool) -> None:
    """Twice as much of it left as there was is a doubt; six times as much is another thing."""
    size = (70, 90)
    light, flat = np.full((*size, 3), 80, np.float32), np.ones(size, np.float32)
    # what is left is own - s (2 common - s detail)
    detail = (left - own) / SHARE**2
    told = Detailed(SHARE * flat, flat.copy(), own * flat, 0 * flat, detail * flat)
    told.sure[:, 40:] = 0
    _, believed = same_cloth(light, light, flat, told)
    assert bool(believed[35, 42] > 0.5) is same


@pytest.mark.parametrize(("bare", "told"), [(0.5, 0.5), (0.2, 0.24), (0.0, 0.05), (0.8, 0.5)])
def test_hair_is_thick_in_places_and_no_thinner_than_its_detail_tells(bare: float, told: float) -> None:
    """Its whole colour lies 125 amounts from the plate: nine tenths of what its colour tells is believed."""
    plate, whole = np.full((*SIZE, 3), 80, np.float32), np.float32([180, 20, 40])
    cover = np.full((*SIZE, 1), SHARE, np.float32)
    cover[:, 30:] = bare
    sure, none = np.zeros(SIZE, np.float32), np.zeros(SIZE, np.float32)
    sure[SEEN] = 1
    seen = Detailed(np.full(SIZE, SHARE, np.float32), sure, none, none, none)
    frame = cover * plate + (1 - cover) * whole
    through, _ = same_cloth(frame, plate, np.ones(SIZE, np.float32), seen)
    assert through[35, 34] == pytest.approx(told, abs=0.04)
