"""How figure and backing were mixed: which edges are asked, what they show, when it is believed."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from ghostprep.picture.key.hue import luma_chroma
from ghostprep.picture.learn import mix
from ghostprep.picture.learn.mix import _edges, _lean, _near, _windows, guess_mix
from ghostprep.transfer import from_linear, to_linear

GREEN = np.array([40, 160, 70.0])
SIZE = (120, 160)


def plate(colour: np.ndarray = GREEN) -> np.ndarray:
    return np.broadcast_to(colour, (*SIZE, 3)).astype(np.float32)


def block(colour: np.ndarray | float, soft: float = 0.0, behind: np.ndarray = GREEN) -> np.ndarray:
    """A block of a colour, 40 rows and 60 columns, before a backing; its edge (sigma, px) mixed in codes."""
    alpha = np.zeros(SIZE, np.float32)
    alpha[40:80, 50:110] = 1
    if soft:
        alpha = cv2.GaussianBlur(alpha, (0, 0), soft)
    return np.asarray(alpha[..., None] * colour + (1 - alpha[..., None]) * behind, np.float32)


@pytest.mark.parametrize(("more", "seen"), [(6, False), (16, True)])
def test_what_is_not_the_backing_is_looked_at_with_what_lies_around(more: float, seen: bool) -> None:
    """By more than ten codes of grey, and twenty-one pixels beyond."""
    frame = np.rint(block(GREEN + more)).astype(np.uint8)
    frame[10, 10] = 255  # a speck is noise
    near, behind = _near(frame, plate())
    assert near.shape == behind.shape
    if seen:
        assert (near == frame[19:101, 29:131]).all()
    else:
        assert near.size < 22 * 22 * 3 + 1


def test_an_edge_lies_between_the_solid_figure_and_bare_backing_near_it() -> None:
    rim, solid, known = _edges(block(128, soft=2.0), plate(), 1.0)
    assert solid[50:70, 60:100].all()
    assert not solid[:38].any()
    assert rim[60, 46:53].all()
    assert not rim[60, 60:100].any()
    assert not rim[:32].any()
    assert (known == ~(rim | ~known)).all()
    assert known[60, 80]
    assert known[5, 5]
    # what lies farther from bare backing than half of fifteen pixels is no edge
    ramp, _, _ = _edges(block(128, soft=12.0), plate(), 1.0)
    across = np.flatnonzero(ramp[60, :80])
    assert 4 <= len(across) <= 9


@pytest.mark.parametrize(("share", "solid"), [(0.06, True), (0.2, False)])
def test_what_shows_an_eighth_of_the_backing_is_not_solid(share: float, solid: bool) -> None:
    _, found, _ = _edges(block((1 - share) * 128 + share * GREEN), plate(), 1.0)
    assert bool(found[60, 80]) is solid


@pytest.mark.parametrize(
    ("apart", "noise", "bare"), [(4, 0.5, True), (9, 0.5, False), (10, 3.0, True), (16, 3.0, False)]
)
def test_what_differs_by_four_times_the_noise_or_six_codes_is_not_bare(
    apart: float, noise: float, bare: bool
) -> None:
    frame = plate().copy()
    frame[40:80, 50:110, 0] += apart
    rim, _, known = _edges(frame, plate(), noise)
    assert bool(known[60, 80]) is bare
    assert bool(rim[60, 52:56].any()) is not bare


def lit_edges(linear: bool, figure: np.ndarray, behind: np.ndarray = GREEN, grain: float = 0.0) -> np.ndarray:
    """What the windows show over soft edges that were mixed in light or in codes."""
    rng = np.random.default_rng(2)
    alpha = block(1.0, 1.5, np.zeros(3))[..., :1]
    own = figure + grain * cv2.GaussianBlur(rng.normal(0, 1, (*SIZE, 1)), (0, 0), 2)[..., None] * 7
    if linear:
        light = alpha * to_linear(np.float32(own / 255)) + (1 - alpha) * to_linear(np.float32(behind / 255))
        frame = from_linear(np.float32(light)) * 255
    else:
        frame = alpha * own + (1 - alpha) * behind
    return _windows(frame.astype(np.float32), plate(behind), 0.5)


@pytest.mark.parametrize("figure", [(200, 120, 90), (160, 110, 180), (150, 140, 160)])
@pytest.mark.parametrize("linear", [True, False])
def test_in_light_edges_lie_on_the_curve_and_in_codes_on_the_line(
    linear: bool, figure: tuple[int, int, int]
) -> None:
    seen, curve = lit_edges(linear, np.array(figure, float)).swapaxes(0, 1)
    assert len(seen) > 60
    # beside the line from figure to backing, none of it along that
    way = luma_chroma(np.array(figure) - GREEN)
    assert np.abs(curve @ way).max() < 0.05 * np.linalg.norm(way) * np.abs(curve).max()
    lean, doubt = _lean(seen, curve)
    assert lean == pytest.approx(1.0 if linear else 0.0, abs=0.12)
    assert doubt < 0.1


@pytest.mark.parametrize(("grain", "told"), [(4.0, True), (28.0, False)])
def test_a_figure_whose_colour_varies_tells_nothing(grain: float, told: bool) -> None:
    """By fifteen codes, over twenty pixels."""
    found = lit_edges(False, np.array([200, 120, 90.0]), grain=grain)
    assert bool(len(found) > 50) is told


@pytest.mark.parametrize(("chroma", "told"), [(16.0, False), (30.0, True)])
def test_a_figure_of_nearly_the_backings_colour_tells_nothing(chroma: float, told: bool) -> None:
    """Grey before green of the same luma, that is: twenty codes apart at least."""
    grey = np.full(3, float(luma_chroma(GREEN)[0]))
    length = float(np.hypot(*luma_chroma(GREEN)[1:]))
    found = lit_edges(True, grey, behind=grey + (GREEN - grey) * chroma / length)
    assert bool(len(found)) is told


def test_windows_that_are_off_as_far_as_the_curve_raise_a_doubt() -> None:
    """Half of the spread of clips, where what is off is as long as the curve itself."""
    rng = np.random.default_rng(1)
    curve = rng.normal(0, 1, (4000, 3)).astype(np.float32)
    curve *= 6 / np.linalg.norm(curve, axis=1, keepdims=True)
    aside = np.cross(curve, rng.normal(0, 1, curve.shape))
    aside *= 6 / np.linalg.norm(aside, axis=1, keepdims=True)
    lean, doubt = _lean((0.4 * curve + aside).astype(np.float32), curve)
    assert lean == pytest.approx(0.4, abs=0.02)
    assert doubt == pytest.approx(0.15, rel=0.2)


@pytest.mark.parametrize(
    ("lean", "noise", "mixed", "sure"),
    [
        (0.0, 2.0, "codes", True), (0.2, 2.0, "codes", True), (0.28, 2.0, "light", False),
        (0.33, 2.0, "light", True), (0.5, 2.0, "light", True),
        (0.2, 0.5, "codes", True), (0.5, 0.5, "light", True), (0.33, 0.5, "light", False),
    ],
)  # fmt: skip
def test_a_lean_of_a_third_is_light_the_sooner_where_noise_tells_of_a_camera(
    lean: float, noise: float, mixed: str, sure: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    curve = np.random.default_rng(1).normal(0, 6, (30, 3)).astype(np.float32)
    told = np.stack([np.float32(lean) * curve, curve], axis=1)
    monkeypatch.setattr(mix, "_windows", lambda *_: told)
    frames = np.rint(block(128)).astype(np.uint8)[None]
    guess = guess_mix(frames, plate(), noise)
    assert guess.lean == pytest.approx(lean, abs=1e-4)
    assert (guess.mix, guess.sure) == (mixed, sure)
    # of few windows nothing is told
    monkeypatch.setattr(mix, "_windows", lambda *_: told[:15])
    assert np.isnan(guess_mix(frames, plate(), noise).lean)
