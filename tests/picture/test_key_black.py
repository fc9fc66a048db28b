"""On black, light only adds: the figure is what the frame has above the black, and nothing more."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from ghostprep.picture import learn_key
from ghostprep.picture.learn.black_mix import added_in_light
from ghostprep.transfer import from_linear, to_linear

SIZE = (240, 180)
COUNT = 10


def orb(i: int) -> np.ndarray:
    """Return an orb's codes (h, w, 3) at frame i: it drifts, and fades out over 60 px."""
    yy, xx = np.mgrid[: SIZE[1], : SIZE[0]].astype(np.float32)
    far = (xx - 90 - 6 * i) ** 2 + (yy - 90) ** 2
    return (180 * np.exp(-far / (2 * 18**2)))[..., None] * np.float32([1, 0.8, 0.5])


def steady_mist(i: int, low: float = 0.3) -> np.ndarray:
    """Return a bank of mist from `low` down, in shares, that never leaves its place and hardly changes."""
    down = np.linspace(0, 1, SIZE[1], dtype=np.float32)[:, None]
    across = 1 + 0.1 * np.sin(np.arange(SIZE[0], dtype=np.float32) / 30 + 0.2 * i)[None]
    return (70 * np.clip(down - low, 0, 1) * across)[..., None] * np.float32([0.8, 1, 0.9])


def filmed(
    light, black: float, noise: float, slope: float = 0.0
) -> tuple[list[np.ndarray], list[np.ndarray]]:
    """Return frames and the true light in them."""
    rng = np.random.default_rng(4)
    level = black * (1 + slope * np.linspace(-1, 1, SIZE[0], dtype=np.float32))[None, :, None]
    true = [light(i) for i in range(COUNT)]
    seen = [level + t + noise * rng.standard_normal(t.shape) for t in true]
    return [np.clip(np.rint(s), 0, 255).astype(np.uint8) for s in seen], true


@pytest.mark.parametrize("light", [orb, steady_mist])
@pytest.mark.parametrize("black", [0, 3, 12])
@pytest.mark.parametrize("noise", [0.0, 1.0, 2.5])
def test_soft_light_is_kept_whole_and_nothing_else(light, black, noise) -> None:
    frames, true = filmed(light, black, noise)
    key = learn_key(frames, kind="black")
    keyer = key.at(None, SIZE, SIZE)
    figure, wanted = keyer(frames[5]).codes.astype(np.float32), true[5]
    high = wanted.max(-1)
    faint = (high > 8) & (high < 60)
    assert figure[faint].sum() == pytest.approx(wanted[faint].sum(), rel=0.1)
    # the profile: no bias anywhere, neither a flattened top nor a bitten rim
    for low, up in ((8, 20), (20, 60), (60, 200)):
        there = (high > low) & (high <= up)
        if there.sum() > 200:
            assert abs(float((figure - wanted)[there].mean())) < 1.2
    bare = cv2.dilate((high > 0.5).astype(np.uint8), np.ones((15, 15))) == 0
    assert np.percentile(figure[bare], 99.9) <= 2


def test_a_slow_slope_of_the_black_goes() -> None:
    frames, true = filmed(orb, 12, 1.0, slope=0.2)
    keyer = learn_key(frames, kind="black").at(None, SIZE, SIZE)
    bare = true[5].max(-1) < 0.3
    assert np.percentile(keyer(frames[5]).codes[bare], 99.9) <= 2


@pytest.mark.parametrize("low", [0.3, 0.0])
@pytest.mark.parametrize("tint", [(0.2, 1, 0.4), (1.05, 1, 1.05), (1.25, 1, 1.11)])
def test_mist_that_fills_the_picture_is_light_and_no_cloth_whatever_its_hue(tint, low) -> None:
    def deep(i: int) -> np.ndarray:
        return np.clip(2.5 * steady_mist(i, low) + 4, 0, 200) * np.float32(tint)

    frames, _ = filmed(deep, 0, 1.0)
    assert learn_key(frames).backing.kind == "black"


def test_a_body_hides_the_black_and_light_is_added_to_it(shoot) -> None:
    shot = shoot((14, 14, 14), reach=50)
    key = learn_key(list(shot.frames))
    assert key.body
    assert not learn_key(filmed(orb, 12, 1.0)[0], kind="black").body
    inside = cv2.erode((shot.mattes[3] > 0.99).astype(np.uint8), np.ones((9, 9))) > 0
    keyed = key.at(None, SIZE, SIZE)(shot.frames[3])
    assert float((keyed.codes[inside].astype(float) - shot.truth[3][inside]).mean()) == pytest.approx(
        0, abs=1
    )
    assert (keyed.matte[inside] > 200).mean() > 0.99


def test_pure_black_is_left_as_it_is() -> None:
    frames, _ = filmed(orb, 0, 0.0)
    keyed = learn_key(frames, kind="black").at(None, SIZE, SIZE)(frames[2])
    assert np.abs(keyed.codes.astype(int) - frames[2]).max() <= 1


def lamp(i: int) -> tuple[np.ndarray, np.ndarray]:
    """Return a body with a lamp's glow beside it at frame i, codes, and the body's coverage."""
    yy, xx = np.mgrid[: SIZE[1], : SIZE[0]].astype(np.float32)
    body = (((xx - 70 - 3 * i) / 30) ** 2 + ((yy - 90) / 60) ** 2 < 1).astype(np.float32)
    body = cv2.GaussianBlur(body, (0, 0), 0.6)
    far = (xx - 135 - 3 * i) ** 2 + (yy - 100) ** 2
    glow = (90 * np.exp(-far / (2 * 14**2)))[..., None] * np.float32([1, 0.7, 0.3])
    return np.clip(body[..., None] * np.float32([150, 90, 110]) + glow, 0, 255), body


def lamps(black: float) -> list[np.ndarray]:
    """Return frames of the body with a lamp over a lifted black."""
    rng = np.random.default_rng(5)
    shown = [light + black * (1 - body[..., None]) for light, body in map(lamp, range(COUNT))]
    return [np.clip(np.rint(s + rng.standard_normal(s.shape)), 0, 255).astype(np.uint8) for s in shown]


def test_a_glow_beside_a_body_keeps_its_light_and_the_body_its_own() -> None:
    frames = lamps(12)
    key = learn_key(frames, kind="black")
    assert key.body
    figure = key.at(None, SIZE, SIZE)(frames[5]).codes.astype(np.float32)
    wanted, body = lamp(5)
    faint = (wanted.max(-1) > 8) & (wanted.max(-1) < 60) & (cv2.dilate(body, np.ones((5, 5))) < 0.01)
    assert figure[faint].sum() == pytest.approx(wanted[faint].sum(), rel=0.1)
    inside = cv2.erode(body, np.ones((5, 5))) > 0.99
    assert float((figure - wanted)[inside].mean()) == pytest.approx(0, abs=1)


@pytest.mark.parametrize("black", [0, 12])
def test_a_body_on_black_is_painted_in_its_own_shape_without_the_glow(black) -> None:
    frames = lamps(black)
    key = replace(learn_key(frames, kind="black"), fill=(0, 255, 0))
    figure = key.at(None, SIZE, SIZE)(frames[5]).codes
    body = lamp(5)[1]
    assert (figure[cv2.erode(body, np.ones((7, 7))) > 0.99] == (0, 255, 0)).all()
    assert (figure[cv2.dilate(body, np.ones((7, 7))) < 0.01].max(-1) > 60).mean() < 0.01


@pytest.mark.parametrize("linear", [False, True])
def test_light_added_to_a_lifted_black_in_light_or_in_codes_is_told(linear) -> None:
    colour = np.float32([0.9, 0.35, 0.12])

    def light(i: int) -> np.ndarray:
        return to_linear(orb(i)[..., :1] / 255) * colour

    black = np.full(3, 12, np.float32)
    rng = np.random.default_rng(6)
    frames = []
    for i in range(COUNT):
        codes = (
            from_linear(light(i) + to_linear(black / 255)) * 255
            if linear
            else from_linear(light(i)) * 255 + black
        )
        noisy = codes + rng.standard_normal(codes.shape)
        frames.append(np.clip(np.rint(noisy), 0, 255).astype(np.uint8))
    key = learn_key(frames, kind="black")
    assert not key.body
    assert key.backing.mix == ("light" if linear else "codes")
    figure = key.at(None, SIZE, SIZE)(frames[5]).codes.astype(np.float32)
    wanted = from_linear(light(5)) * 255
    faint = (wanted.max(-1) > 8) & (wanted.max(-1) < 60)
    assert figure[faint].sum() == pytest.approx(wanted[faint].sum(), rel=0.1)


@pytest.mark.parametrize("linear", [False, True])
def test_light_that_is_cut_off_at_white_tells_its_mix_by_the_rest_of_it(linear: bool) -> None:
    """Four times as bright as white in its middle: what is cut off there keeps no ratio."""
    rng, black, frames = np.random.default_rng(6), np.full(3, 12, np.float32), []
    for i in range(COUNT):
        light = 4 * to_linear(orb(i)[..., :1] / 255) * np.float32([0.9, 0.35, 0.12])
        codes = (
            from_linear(light + to_linear(black / 255)) * 255 if linear else from_linear(light) * 255 + black
        )
        frames.append(np.clip(np.rint(codes + rng.standard_normal(codes.shape)), 0, 255).astype(np.uint8))
    seen = np.stack(frames)
    assert added_in_light(seen, np.broadcast_to(black, seen.shape[1:]).astype(np.float32)) == linear


def test_what_stands_still_and_lit_before_no_light_at_all_is_no_room() -> None:
    # a chair beside the ghost: it belongs to what is shown, and a plate would take it away
    chair = np.random.default_rng(2).integers(30, 200, (SIZE[1], 150, 3), dtype=np.uint8)

    def frame(i: int, black: int) -> np.ndarray:
        seen = np.full((SIZE[1], SIZE[0], 3), black, np.uint8)
        seen[:, 90:] = chair
        cv2.circle(seen, (30 + 3 * i, 90), 20, (200, 190, 150), -1)
        return seen

    assert learn_key([frame(i, 0) for i in range(COUNT)]).backing.kind == "black"
    # a wall as dark as walls are may be a part of the room
    assert learn_key([frame(i, 30) for i in range(COUNT)]).backing.kind != "black"


def test_a_single_strength_of_light_tells_no_mix() -> None:
    """Without a ramp from faint to bright there is no line to bend; on pure black it is straight anyway."""
    level = np.full((80, 120, 3), 20, np.float32)
    flat = np.full((4, 80, 120, 3), 20, np.uint8)
    flat[:, 20:60, 30:90] = (120, 90, 60)
    assert not added_in_light(flat, level)
    light = np.linspace(0, 1, 120)[:, None] ** 2 * to_linear(np.array([200, 150, 90]) / 255)
    lit = np.rint(255 * from_linear(light + to_linear(level[0, 0] / 255))).astype(np.uint8)
    assert added_in_light(np.tile(lit, (4, 80, 1, 1)), level)
    bare = np.rint(255 * from_linear(light)).astype(np.uint8)
    assert not added_in_light(np.tile(bare, (4, 80, 1, 1)), 0 * level)
