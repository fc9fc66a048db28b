"""The key as a whole: what is told, that the backing goes to exactly 0, and what is said about it."""

from concurrent.futures import ThreadPoolExecutor

import cv2
import numpy as np
import pytest

from ghostprep.box import Box
from ghostprep.errors import InputError
from ghostprep.picture import Key, learn_key

BACKINGS = {
    "green": (40, 160, 70),
    "blue": (36, 70, 185),
    "colour": (160, 40, 120),
    "black": (14, 13, 16),
}


def far_outside(matte: np.ndarray) -> np.ndarray:
    return cv2.dilate((matte > 0).astype(np.uint8), np.ones((13, 13))) == 0


def said(key: Key, level: str) -> list[str]:
    return [f.text for f in key.remarks if f.level == level]


@pytest.mark.parametrize("kind", BACKINGS)
def test_an_even_backing_is_told_and_goes_to_zero(kind, shoot) -> None:
    shot = shoot(BACKINGS[kind])
    key = learn_key(list(shot.frames))
    assert key.backing.kind == kind
    assert key.backing.confidence > 0.9
    keyed = key.at(None, (240, 180), (240, 180))(shot.frames[3])
    outside = far_outside(shot.mattes[3])
    assert keyed.codes[outside].max() == 0
    assert keyed.matte[outside].max() == 0
    inside = cv2.erode((shot.mattes[3] > 0.99).astype(np.uint8), np.ones((5, 5))) > 0
    assert keyed.matte[inside].min() > 190
    assert keyed.matte[inside].mean() > 252
    assert np.abs(keyed.codes[inside].astype(int) - shot.truth[3][inside]).mean() < 3
    assert np.abs(keyed.matte / 255 - shot.mattes[3]).mean() < 0.01


@pytest.mark.parametrize(
    ("kind", "coat"), [("green", (122, 126, 62)), ("blue", (40, 122, 126)), ("colour", (170, 110, 90))]
)
def test_cloth_near_the_backings_hue_keeps_its_light(kind, coat, shoot) -> None:
    shot = shoot(BACKINGS[kind], coat)
    keyer = learn_key(list(shot.frames)).at(None, (240, 180), (240, 180))
    inside = cv2.erode((shot.mattes[5] > 0.99).astype(np.uint8), np.ones((7, 7))) > 0
    got, wanted = keyer(shot.frames[5]).codes[inside].astype(float), shot.truth[5][inside].astype(float)
    assert got.sum() > 0.97 * wanted.sum()


def test_crop_and_scale_take_the_right_part_of_the_plate(shoot) -> None:
    shot = shoot(BACKINGS["green"], uneven=0.35)
    keyer = learn_key(list(shot.frames)).at(Box(120, 20, 120, 150), (240, 180), (360, 450))
    large = cv2.resize(shot.frames[0][20:170, 120:240], (360, 450), interpolation=cv2.INTER_LINEAR)
    matte = cv2.resize(shot.mattes[0][20:170, 120:240], (360, 450))
    assert keyer(large).matte[far_outside(matte)].max() == 0


def test_a_large_picture_is_keyed_as_well_as_a_small_one(shoot) -> None:
    shot = shoot(BACKINGS["green"], uneven=0.2)
    size = (720, 540)
    keyed = learn_key(list(shot.frames)).at(None, (240, 180), size)(cv2.resize(shot.frames[3], size))
    matte = cv2.resize(shot.mattes[3], size)
    assert np.abs(keyed.matte / 255 - matte).mean() < 0.01
    assert keyed.matte[far_outside(matte)].max() == 0
    inside = cv2.erode((matte > 0.99).astype(np.uint8), np.ones((9, 9))) > 0
    assert keyed.matte[inside].mean() > 252


def test_threads_key_alike(shoot) -> None:
    shot = shoot(BACKINGS["green"])
    for kind, plate in (("green", None), ("plate", shot.plate)):
        keyer = learn_key(list(shot.frames), kind=kind, plate=plate).at(None, (240, 180), (240, 180))
        serial = [keyer(f) for f in shot.frames]
        with ThreadPoolExecutor(4) as pool:
            threaded = list(pool.map(keyer, list(shot.frames) * 3))
        for one, other in zip(serial * 3, threaded, strict=True):
            assert np.array_equal(one.codes, other.codes)
            assert np.array_equal(one.matte, other.matte)


def test_a_plate_keys_a_cluttered_room(shoot) -> None:
    rng = np.random.default_rng(1)
    shot = shoot((90, 90, 90), (190, 170, 60), sigma=0)
    room = cv2.resize(
        rng.integers(20, 160, (23, 30, 3), dtype=np.uint8), (240, 180), interpolation=cv2.INTER_CUBIC
    )
    a = shot.mattes[..., None]
    frames = np.clip(
        np.rint(shot.truth + (1 - a) * room + rng.normal(0, 2, shot.frames.shape)), 0, 255
    ).astype(np.uint8)
    for given in (room, None):
        key = learn_key(list(frames), plate=given)
        assert key.backing.kind == "plate"
        keyed = key.at(None, (240, 180), (240, 180))(frames[3])
        assert np.abs(keyed.matte / 255 - shot.mattes[3]).mean() < 0.02
        assert keyed.codes[far_outside(shot.mattes[3])].max() == 0


def test_what_stands_beside_the_cloth_goes(shoot) -> None:
    shot = shoot(BACKINGS["green"], stands=True, reach=50)
    key = learn_key(list(shot.frames))
    assert key.backing.kind == "green"
    keyed = key.at(None, (240, 180), (240, 180))(shot.frames[3])
    assert keyed.codes[far_outside(shot.mattes[3])].max() == 0
    assert np.abs(keyed.matte / 255 - shot.mattes[3]).mean() < 0.01
    inside = cv2.erode((shot.mattes[3] > 0.99).astype(np.uint8), np.ones((5, 5))) > 0
    assert keyed.matte[inside].mean() > 252
    assert any("outside the backing" in text for text in said(key, "note"))


def test_a_lamp_is_not_looked_for_beside_the_cloth(shoot) -> None:
    shot = shoot(BACKINGS["green"], stands=True, reach=50)
    keyer = learn_key(list(shot.frames)).at(None, (240, 180), (240, 180))
    for frame, matte in zip(shot.frames, shot.mattes, strict=True):
        assert keyer(frame).codes[far_outside(matte)].max() == 0


def test_a_moving_camera_is_noticed_and_its_backing_still_goes(shoot) -> None:
    shot = shoot(BACKINGS["green"], uneven=0.3, pan=30)
    key = learn_key(list(shot.frames))
    assert key.backing.moving_camera
    assert any("camera moves" in text for text in said(key, "caution"))
    keyed = key.at(None, (240, 180), (240, 180))(shot.frames[3])
    assert keyed.codes[far_outside(shot.mattes[3])].max() == 0
    assert not learn_key(list(shoot(BACKINGS["green"], uneven=0.3).frames)).backing.moving_camera


def test_a_black_figure_is_kept_and_reported(shoot) -> None:
    shot = shoot(BACKINGS["green"], (6, 6, 7))
    frames = shot.frames.copy()
    head = shot.truth.max(-1) > 60
    frames[head] = (6, 6, 7)
    key = learn_key(list(frames))
    keyed = key.at(None, (240, 180), (240, 180))(frames[3])
    assert keyed.matte[120, 110:130].min() > 200
    assert any("nearly black" in text for text in said(key, "fault"))


def test_white_says_that_it_is_ill_posed(shoot) -> None:
    key = learn_key(list(shoot((226, 226, 224)).frames))
    assert key.backing.kind == "white"
    assert any("white" in text for text in said(key, "caution"))


def test_an_uncertain_backing_names_the_option_that_settles_it() -> None:
    rng = np.random.default_rng(2)
    noise = [rng.integers(0, 256, (90, 160, 3), dtype=np.uint8) for _ in range(6)]
    key = learn_key(noise)
    assert key.backing.kind == "none"
    remedies = [f.remedy for f in key.remarks if f.subject == "backing"]
    assert remedies
    assert "--backing" in remedies[0]
    assert "--plate" in remedies[0]


def test_a_figure_that_stays_is_no_clean_plate(shoot) -> None:
    rng = np.random.default_rng(1)
    shot = shoot((90, 90, 90), (190, 170, 60), sigma=1, reach=3, count=16)
    room = rng.integers(20, 160, (180, 240, 3), dtype=np.uint8)
    a = shot.mattes[..., None]
    frames = np.clip(shot.truth + (1 - a) * room, 0, 255).astype(np.uint8)
    assert any(
        "--plate" in f.remedy for f in learn_key(list(frames), kind="plate").remarks if f.level == "fault"
    )
    # left to itself it keys nothing, rather than half the figure
    key = learn_key(list(frames))
    assert key.backing.kind == "none"
    assert any("--plate" in f.remedy for f in key.remarks if f.level == "fault")
    assert "stands still" in key.backing.reason


@pytest.mark.parametrize("premultiplied", [True, False])
@pytest.mark.parametrize("tagged", ["straight", "premultiplied"])
def test_alpha_is_multiplied_once_whatever_the_tag_says(premultiplied, tagged, shoot) -> None:
    shot = shoot((0, 0, 0), (200, 190, 180), linear=False, sigma=0)
    matte = cv2.GaussianBlur(shot.mattes[2], (0, 0), 4)
    straight = np.clip(shot.truth[2] / np.maximum(shot.mattes[2], 0.05)[..., None], 0, 255)
    straight[shot.mattes[2] == 0] = (180, 20, 220)
    colour = straight * matte[..., None] if premultiplied else straight
    frame = np.dstack([colour, matte * 255]).astype(np.uint8)
    key = learn_key([frame, frame], alpha=tagged)
    keyed = key.at(None, (240, 180), (240, 180))(frame)
    assert key.backing.kind == "alpha"
    assert np.abs(keyed.codes - straight * matte[..., None]).max() <= 2
    assert bool(said(key, "note")) == (premultiplied != (tagged == "premultiplied"))


def test_alpha_that_hides_nothing_is_no_alpha(shoot) -> None:
    shot = shoot(BACKINGS["green"])
    opaque = np.concatenate([shot.frames, np.full_like(shot.frames[..., :1], 255)], axis=-1)
    assert learn_key(list(opaque), alpha="straight").backing.kind == "green"


def test_none_lets_everything_through(shoot) -> None:
    frame = shoot(BACKINGS["green"]).frames[0]
    keyed = learn_key([frame], kind="none").at(None, (240, 180), (240, 180))(frame)
    assert np.array_equal(keyed.codes, frame)
    assert keyed.matte.min() == 255


@pytest.mark.parametrize(
    ("kind", "match"),
    [("gren", "unknown"), ("#12345", "unknown"), ("", "unknown"), ("#808080", "grey"), ("alpha", "no alpha")],
)
def test_what_cannot_be_keyed_is_refused(kind, match) -> None:
    with pytest.raises(InputError, match=match):
        learn_key([np.zeros((8, 8, 3), np.uint8)], kind=kind)


def test_no_frames_are_refused() -> None:
    with pytest.raises(InputError, match="no frames"):
        learn_key([])


def test_a_grey_plate_file_is_refused(shoot) -> None:
    with pytest.raises(InputError, match="colour picture"):
        learn_key(list(shoot(BACKINGS["green"]).frames), plate=np.zeros((8, 8), np.uint8))


@pytest.mark.parametrize("kind", ["green", "blue", "black", "white", "plate", "none", "#28a046"])
@pytest.mark.parametrize("shape", [(1, 1), (2, 3), (7, 5), (33, 64)])
def test_any_told_kind_takes_any_size(kind, shape) -> None:
    rng = np.random.default_rng(3)
    frames = [rng.integers(0, 256, (*shape, 3), dtype=np.uint8) for _ in range(3)]
    size = shape[::-1]
    keyed = learn_key(frames, kind=kind).at(None, size, size)(frames[0])
    assert keyed.codes.shape == (*shape, 3)
    assert keyed.matte.shape == shape
    assert keyed.codes[keyed.matte == 0].sum() == 0


def test_black_cloth_does_not_become_the_darkness_behind(shoot) -> None:
    shot = shoot((16, 16, 18), (2, 2, 2), reach=24)
    key = learn_key(list(shot.frames))
    assert key.backing.kind == "black"
    assert key.plate is not None
    assert np.abs(key.plate.mean(-1) - shot.plate.mean(-1)).max() < 3
    keyer = key.at(None, (240, 180), (240, 180))
    for frame, matte in zip(shot.frames, shot.mattes, strict=True):
        assert keyer(frame).codes[far_outside(matte)].max() == 0


@pytest.mark.parametrize("backing", ["green", "blue"])
def test_the_thinnest_rim_has_not_the_opposite_hue(shoot, backing) -> None:
    shot = shoot(BACKINGS[backing], sigma=3.0)
    # a codec's chroma at half the detail: there a little too much of the hue is seen, and taken
    frames = []
    for frame in shot.frames:
        luma, *chroma = cv2.split(cv2.cvtColor(frame, cv2.COLOR_RGB2YCrCb))
        coarse = [
            cv2.resize(cv2.resize(c, (120, 90), interpolation=cv2.INTER_AREA), (240, 180)) for c in chroma
        ]
        frames.append(cv2.cvtColor(cv2.merge((luma, *coarse)), cv2.COLOR_YCrCb2RGB))
    keyer = learn_key(frames).at(None, (240, 180), (240, 180))
    own, others = (1, (0, 2)) if backing == "green" else (2, (0, 1))
    excess = []
    for frame in frames:
        keyed = keyer(frame)
        rim = keyed.codes[(keyed.matte > 0) & (keyed.matte < 30)].astype(int)
        excess.append(np.minimum(rim[:, others[0]], rim[:, others[1]]) - rim[:, own])
    # no more than the clip's noise, sigma 3
    assert np.percentile(np.concatenate(excess), 90) <= 3


def test_a_room_in_warm_light_that_fades_into_its_corners_is_no_light_on_black(shoot) -> None:
    # one hue from bright to nearly dark, as mist on black has; but doors, shelves and seams have outlines
    rng = np.random.default_rng(8)
    across = np.linspace(0, 1, 240, dtype=np.float32)
    boards = np.repeat(np.repeat(rng.uniform(0.4, 1, (12, 16)).astype(np.float32), 15, 0), 15, 1)
    room = boards[..., None] * (50 + 150 * across[None, :, None]) * np.float32([1, 0.45, 0.2])
    frames = []
    for i in range(10):
        frame = room.copy()
        frame[60:170, 20 * i : 20 * i + 30] = (90, 100, 160)
        frames.append(np.rint(frame).astype(np.uint8))
    assert learn_key(frames).backing.kind == "plate"
    soft = [cv2.GaussianBlur(f, (0, 0), 20) for f in frames]
    assert learn_key(soft).backing.kind == "black"
