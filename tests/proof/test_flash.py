"""Flashes against WCAG 2.2 SC 2.3.1, its Understanding page and techniques G19, G176 (W3C).

The states' luminances and u'v' are calculated from the standard's own matrix; the rows
are those on which one code decides.
"""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.proof.flash import FlashProof
from ghostprep.proof.flash_area import SeenScreen, screen_sr
from ghostprep.proof.flash_states import (
    WCAG,
    GeneralChanges,
    OlderRedChanges,
    RedChanges,
    bt1702,
    chromaticity,
    red_share,
)
from ghostprep.transfer import codes_to_light, luminance

SIZE = (32, 24)
RATE = Fraction(30)


def light(*codes: int) -> np.ndarray:
    return codes_to_light(np.array([codes], np.uint8))


def grey(code: int) -> tuple[int, int, int]:
    return (code, code, code)


def clip(
    colours: list[tuple[int, int, int]], box: tuple[slice, slice] | None = None, size=SIZE
) -> list[np.ndarray]:
    frames = []
    for colour in colours:
        frame = np.zeros((size[1], size[0], 3), np.uint8)
        frame[box or (slice(None), slice(None))] = colour
        frames.append(frame)
    return frames


def judged(frames: list[np.ndarray], rate: Fraction = RATE, screen: SeenScreen | None = None) -> FlashProof:
    proof = FlashProof((frames[0].shape[1], frames[0].shape[0]), rate, screen)
    for frame in frames:
        proof.add(frame)
    return proof


def alternating(a: int, b: int, frames_each: int, count: int) -> list[tuple[int, int, int]]:
    return [grey(b if (i // frames_each) % 2 else a) for i in range(count)]


@pytest.mark.parametrize(
    ("dark", "bright", "luminances", "is_general"),
    [
        (0, 89, (0, 0.099899), False),
        (0, 90, (0, 0.102242), True),
        (128, 149, (0.215861, 0.300544), False),
        (128, 153, (0.215861, 0.318547), True),
        (231, 255, (0.799103, 1), True),
        (232, 255, (0.806952, 1), False),
    ],
)
def test_which_pairs_are_general_changes(dark, bright, luminances, is_general) -> None:
    a, b = luminance(light(*grey(dark))), luminance(light(*grey(bright)))
    assert (float(a[0]), float(b[0])) == pytest.approx(luminances, abs=2e-6)
    changes = GeneralChanges(WCAG, light(*grey(dark)))
    assert bool(changes.step(light(*grey(bright)))[0]) is is_general
    assert bool(changes.step(light(*grey(dark)))[0]) is is_general  # the opposing change


@pytest.mark.parametrize(
    ("one", "other", "shares", "distance", "is_red", "is_older"),
    [
        ((255, 0, 0), (127, 127, 127), (1, 0.333), 0.25868, True, True),
        ((255, 0, 0), (0, 0, 255), (1, 0), 0.45715, True, True),
        ((255, 0, 0), (255, 0, 255), (1, 0.5), 0.24191, True, True),
        ((255, 0, 0), (230, 160, 200), (1, 0.46), 0.225, True, True),
        ((255, 0, 0), (255, 128, 0), (1, 0.822), 0.13219, False, True),
        ((255, 0, 0), (128, 0, 0), (1, 1), 0.0, False, True),
        # (R - G - B) x 320 is 77 and 0; 20.4 and 0; 19.8 and 0
        ((150, 50, 50), (0, 0, 0), (0.827, 0.333), 0.161, False, True),
        ((71, 0, 0), (0, 0, 0), (1, 0.333), 0.25868, True, True),
        ((70, 0, 0), (0, 0, 0), (1, 0.333), 0.25868, True, False),
        ((255, 100, 100), (0, 0, 0), (0.797, 0.333), 0.1464, False, False),  # no saturated red
    ],
)
def test_which_pairs_are_red_changes(one, other, shares, distance, is_red, is_older) -> None:
    """The rule of WCAG 2.2, and that of WCAG 2.0 and 2.1 (Understanding SC 2.3.1)."""
    a, b = light(*one), light(*other)
    assert (float(red_share(a)[0]), float(red_share(b)[0])) == pytest.approx(shares, abs=5e-4)
    assert float(np.linalg.norm(chromaticity(a) - chromaticity(b))) == pytest.approx(distance, abs=1e-3)
    for changes, wanted in ((RedChanges(a), is_red), (OlderRedChanges(a), is_older)):
        assert bool(changes.step(b)[0]) is wanted
        assert bool(changes.step(a)[0]) is wanted


def test_a_dim_red_lamp_against_black_counts() -> None:
    colours = [(150, 50, 50) if i % 3 == 0 else grey(0) for i in range(60)]
    general, red = judged(clip(colours)).proofs()
    assert general.passed
    assert (red.value, red.passed) == (10, False)


def test_a_red_that_comes_up_slowly_is_one_change() -> None:
    up = [(code, code // 3, code // 3) for code in range(0, 151, 10)]
    made = judged(clip([*up, *up[::-1]]), Fraction(60)).red()
    assert made.transitions == 4  # 32 frames at 60 a second: nearly twice up and twice down within one


def test_saturated_red_starts_between_two_neighbouring_codes() -> None:
    assert float(red_share(light(255, 99, 99))[0]) == pytest.approx(0.80029, abs=1e-5)
    assert float(red_share(light(255, 100, 100))[0]) == pytest.approx(0.79689, abs=1e-5)
    # both are farther than 0.2 in u'v' from blue, so only the share of red decides
    blue = light(0, 0, 255)
    assert bool(RedChanges(blue).step(light(255, 99, 99))[0])
    assert not bool(RedChanges(blue).step(light(255, 100, 100))[0])


@pytest.mark.parametrize(
    ("colour", "uv"),
    [
        ((255, 0, 0), (0.45070, 0.52289)),
        ((255, 255, 255), (0.19784, 0.46834)),
        ((0, 0, 255), (0.17544, 0.15789)),
        ((0, 255, 0), (0.12500, 0.56250)),
        ((0, 0, 0), (0.19784, 0.46834)),  # no chromaticity: taken as neutral
    ],
)
def test_chromaticities(colour, uv) -> None:
    assert chromaticity(light(*colour))[0] == pytest.approx(uv, abs=3e-5)


def three_flashes(count: int) -> list[tuple[int, int, int]]:
    colours = [grey(0)] * 60
    for k in range(count):
        colours[5 * k : 5 * k + 2] = [grey(255)] * 2
    return colours


@pytest.mark.parametrize(
    ("colours", "transitions", "passes"),
    [
        pytest.param(alternating(0, 255, 5, 60), 6, True, id="3 Hz"),
        pytest.param(three_flashes(3), 6, True, id="three flashes"),
        pytest.param(three_flashes(4), 8, False, id="four flashes"),
        pytest.param([grey(89 * (i % 3 == 0)) for i in range(60)], 0, True, id="0/89 at 10 Hz"),
        pytest.param([grey(90 * (i % 3 == 0)) for i in range(60)], 20, False, id="0/90 at 10 Hz"),
        pytest.param([grey(255 if i % 3 == 0 else 231) for i in range(60)], 20, False, id="231/255 at 10 Hz"),
        pytest.param([grey(255 if i % 3 == 0 else 232) for i in range(60)], 0, True, id="232/255 at 10 Hz"),
    ],
)
def test_clips_on_the_edge(colours, transitions, passes) -> None:
    proof = judged(clip(colours))
    assert proof.general().transitions == transitions
    assert proof.proofs()[0].passed is passes
    assert [f.subject for f in proof.findings()] == ([] if passes else ["flash"])


def lightning_across_the_end() -> list[tuple[int, int, int]]:
    colours = [grey(0)] * 90
    for first in (4, 76, 81, 86):
        colours[first : first + 2] = [grey(255)] * 2
    return colours


def test_a_clip_that_passes_once_and_fails_looped() -> None:
    colours = lightning_across_the_end()
    once = judged(clip([*colours, *[grey(0)] * 90]))  # a pause as long as the clip keeps the ends apart
    assert once.general().transitions == 6
    assert once.proofs()[0].passed
    looped = judged(clip(colours))
    assert looped.general().transitions == 8
    assert not looped.proofs()[0].passed
    assert "from 2." in looped.findings()[0].text


def test_a_red_flicker_fails_on_red_only() -> None:
    colours = [(255, 0, 0) if i % 3 == 0 else grey(127) for i in range(60)]
    general, red = judged(clip(colours)).proofs()
    assert general.passed
    assert not red.passed


def test_a_loop_shorter_than_a_second_is_counted_as_often_as_it_plays() -> None:
    # one flash in a fifth of a second is five flashes a second
    assert judged(clip([grey(255), *[grey(0)] * 5])).general().transitions == 10


def turning_at(places: list[int], count: int) -> list[tuple[int, int, int]]:
    """Black and white in turn, changed at these frames."""
    return [grey(255 * (sum(place <= i for place in places) % 2)) for i in range(count)]


def test_a_second_at_a_broken_rate_holds_thirty_frames() -> None:
    # frame 29 comes 29 / 29.97 s = 0.968 s after frame 0: within the same second
    colours = turning_at([0, 5, 10, 15, 20, 25, 29, 60], 90)
    assert judged(clip(colours), Fraction(30000, 1001)).general().transitions == 7


def test_seven_transitions_fail_and_six_pass() -> None:
    # W3C technique G19: "no more than three flashes", and six transitions are three
    seven = judged(clip(alternating(0, 255, 5, 60)), Fraction(31))
    assert (seven.general().transitions, seven.proofs()[0].value, seven.proofs()[0].passed) == (7, 3.5, False)
    assert judged(clip(alternating(0, 255, 5, 60)), Fraction(30)).proofs()[0].passed


def test_a_slow_fade_is_one_transition() -> None:
    colours = [grey(c) for c in [*range(0, 256, 8), *range(255, 0, -8)]]
    assert judged(clip(colours)).general().transitions <= 2


def checkerboard(square: int, size: tuple[int, int], count: int, frames_each: int) -> list[np.ndarray]:
    y, x = np.indices((size[1], size[0])) // square
    board = ((x + y) % 2).astype(np.uint8)[..., None].repeat(3, axis=2) * 255
    return [board if (i // frames_each) % 2 else 255 - board for i in range(count)]


@pytest.mark.parametrize(
    ("raster", "screen_mm", "square"),
    [((320, 240), (48.96, 36.72), 7), ((1280, 720), (154.0, 86.6), 9)],
)
def test_a_checkerboard_in_opposite_phase_counts_where_its_squares_can_be_seen(
    raster, screen_mm, square
) -> None:
    """WCAG 2.2 exempts squares smaller than 0.1 degrees; these are 0.123 and 0.124 at 500 mm, 7 flashes/s."""
    assert np.degrees(np.arctan(square * screen_mm[0] / raster[0] / 500)) == pytest.approx(0.1235, abs=0.001)
    frames = checkerboard(square, raster, 28, 2)
    proof = judged(frames, Fraction(28), screen=SeenScreen(screen_mm, 500, 200))
    assert proof.general().transitions == 14
    assert not proof.proofs()[0].passed
    # the share of spots that straddle two squares evenly stays grey; the others flash
    assert proof.general().area_sr > 0.006


def test_a_checkerboard_finer_than_a_tenth_of_a_degree_is_exempt() -> None:
    frames = checkerboard(1, (320, 240), 28, 2)  # 0.018 degrees
    proof = judged(frames, Fraction(28), screen=SeenScreen((48.96, 36.72), 500, 200))
    assert proof.proofs()[0].passed


@pytest.mark.parametrize(("distance", "passes"), [(400, False), (530, False), (600, True)])
def test_a_small_area_may_flash(distance, passes) -> None:
    # 2.4 in screen whole: 0.0112 sr at 400 mm, 0.0064 at 530 mm; at 600 mm .00499: under 0.006
    colours = [grey(90 * (i % 3 == 0)) for i in range(30)]
    proof = judged(clip(colours, size=(320, 240)), screen=SeenScreen((48.96, 36.72), distance, 200))
    assert proof.proofs()[0].passed is passes
    assert proof.general().area_sr == pytest.approx(screen_sr((48.96, 36.72), distance), rel=1e-4)


def test_a_corner_flashes_on_its_share_of_the_screen() -> None:
    box = (slice(0, 80), slice(0, 80))
    colours = [grey(255 * (i % 3 == 0)) for i in range(30)]
    near = judged(clip(colours, box, (320, 240)), screen=SeenScreen((48.96, 36.72), 100, 200))
    far = judged(clip(colours, box, (320, 240)), screen=SeenScreen((48.96, 36.72), 500, 200))
    assert not near.proofs()[0].passed
    assert far.proofs()[0].passed
    assert far.general().area_sr / screen_sr((48.96, 36.72), 500) == pytest.approx(
        80 * 80 / (320 * 240), rel=0.08
    )


@pytest.mark.parametrize(("apart_deg", "passes"), [(30, True), (14, True), (6, False)])
def test_only_what_lies_within_ten_degrees_adds_up(apart_deg, passes) -> None:
    # two spots of 0.004 sr each (36.7 x 36.7 mm at 580 mm), their middles so far apart
    pixel = 400 / 400
    side, gap = round(580 * 0.004**0.5 / pixel), round(580 * np.tan(np.radians(apart_deg)) / pixel)
    frames = []
    for i in range(30):
        frame = np.zeros((60, 400, 3), np.uint8)
        if i % 3 == 0:
            left = 200 - (gap + side) // 2
            frame[10 : 10 + side, left : left + side] = 255
            frame[10 : 10 + side, left + gap : left + gap + side] = 255
        frames.append(frame)
    proof = judged(frames, screen=SeenScreen((400, 60), 580, 200))
    assert proof.proofs()[0].passed is passes
    assert proof.general().area_sr == pytest.approx(0.0038 if passes else 0.0072, abs=0.0005)


@pytest.mark.parametrize(("share", "passes"), [(0.24, True), (0.28, False)])
def test_a_quarter_of_an_unknown_screen_may_flash(share, passes) -> None:
    """ITU-R BT.1702 as W3C quotes it: a quarter of the displayed screen."""
    box = (slice(None), slice(0, round(300 * share)))
    proof = judged(clip([grey(255 * (i % 3 == 0)) for i in range(30)], box, (300, 24)))
    assert proof.proofs()[0].passed is passes
    assert proof.general().area_sr == pytest.approx(share, abs=1e-6)


def test_hours_take_no_more_room_than_a_minute(monkeypatch: pytest.MonkeyPatch) -> None:
    """Four flashes across the seam, with the file kept whole, and with its first second kept alone."""
    colours = lightning_across_the_end()
    whole = judged(clip(colours)).general()
    monkeypatch.setattr("ghostprep.proof.flash._KEPT_BYTES", 1)
    proof = judged(clip(colours))
    assert proof.general().transitions == whole.transitions == 8
    assert 65 <= proof.general().frame <= 76  # seconds that hold seven changes or more
    assert 65 <= whole.frame <= 76
    held = len(proof._beginning)
    for frame in clip([grey(0)] * 300):
        proof.add(frame)
    assert len(proof._beginning) == held == 30
    assert proof.general().transitions == 6  # the first flash no longer follows on the last


def test_a_long_file_is_judged_in_all_its_seconds(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ghostprep.proof.flash._KEPT_BYTES", 1)
    for first in (0, 25, 31, 100, 190):
        colours = [grey(0)] * 220
        for k in range(4):
            at = (first + 5 * k) % 220
            colours[at : at + 2] = [grey(255)] * 2
        assert judged(clip(colours)).general().transitions == 8, first


def test_screens_luminances_by_bt1702() -> None:
    # ITU-R BT.1702 as W3C quotes it: 20 cd/m2 and more, the darker under 160 cd/m2
    threshold = bt1702(100.0)
    assert (threshold.change, threshold.darker_below) == (0.2, 1.6)
    colours = [grey(110 * (i % 3 == 0)) for i in range(30)]  # 0.156 of white
    names = {
        p.name: p.passed for p in judged(clip(colours), screen=SeenScreen((400, 300), 500, 100.0)).proofs()
    }
    assert names == {"flash": False, "red flash": True, "flash cd/m2": True}
    names = {
        p.name: p.passed for p in judged(clip(colours), screen=SeenScreen((400, 300), 500, 200.0)).proofs()
    }
    assert not names["flash cd/m2"]


def test_what_flashes_by_luminance_alone_is_one_fault_with_its_second() -> None:
    colours = [grey(64 * (i % 3 == 0)) for i in range(30)]  # 0.05 of white: 50 cd/m2
    (told,) = judged(clip(colours), screen=SeenScreen((400, 300), 500, 1000.0)).findings()
    assert told.subject == "flash"
    assert "within the second from 0.0" in told.text
    assert "BT.1702" in told.text


def brute_transitions(levels: list[float]) -> int:
    """Peaks and valleys at least 0.1 apart of one endless loop, found the slow way."""
    long = levels * 4
    count, last, direction, marks = 0, long[0], 0, []
    for i, level in enumerate(long):
        if direction == 0:
            window = long[: i + 1]
            if level - min(window) >= 0.1 - 1e-7 and min(window) < 0.8:
                direction, last = 1, level
            elif max(window) - level >= 0.1 - 1e-7 and level < 0.8:
                direction, last = -1, level
        elif direction == 1:
            if last - level >= 0.1 - 1e-7 and level < 0.8:
                direction, last = -1, level
                marks.append(i)
            last = max(last, level) if direction == 1 else last
        else:
            if level - last >= 0.1 - 1e-7 and last < 0.8:
                direction, last = 1, level
                marks.append(i)
            last = min(last, level) if direction == -1 else last
    n = len(levels)
    for first in range(2 * n, 3 * n):
        count = max(count, sum(first <= m < first + 5 for m in marks))
    return count


@settings(deadline=None, max_examples=60)
@given(st.lists(st.sampled_from([0, 60, 90, 120, 160, 231, 232, 255]), min_size=5, max_size=14))
def test_counting_agrees_with_the_slow_way(codes: list[int]) -> None:
    frames = clip([grey(c) for c in codes], size=(4, 4))
    levels = [float(luminance(light(*grey(c)))[0]) for c in codes]
    assert judged(frames, Fraction(5)).general().transitions == brute_transitions(levels)


def test_wrong_input_is_refused() -> None:
    with pytest.raises(ValueError, match="rate is 0"):
        FlashProof(SIZE, Fraction(0))
    with pytest.raises(ValueError, match="the raster is"):
        FlashProof(SIZE, RATE).add(np.zeros((5, 5, 3), np.uint8))


def test_a_red_state_moves_on_while_the_colour_goes_farther_away() -> None:
    """From grey to a red .207 away and on to full red; a pink is .202 from that, .150 from the first red."""
    changes = RedChanges(light(127, 127, 127))
    steps = [(255, 60, 60), (255, 0, 0), (255, 170, 170)]
    assert [bool(changes.step(light(*colour))[0]) for colour in steps] == [True, False, True]
    # a colour that comes back a little does not move the state: the pink is still .202 from full red
    changes = RedChanges(light(127, 127, 127))
    steps = [(255, 0, 0), (255, 60, 60), (255, 170, 170)]
    assert [bool(changes.step(light(*colour))[0]) for colour in steps] == [True, False, True]
