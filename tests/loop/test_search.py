"""The search, on clips whose best loops are known."""

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.loop import ThumbnailStrip, better_method, join_at, loop_finding, mixed, plan_loop, search
from ghostprep.loop.candidate import LoopCandidate
from ghostprep.loop.measure import with_turn
from ghostprep.loop.points import Shot, points_of
from ghostprep.loop.refine import PairedFrames, best_on_frames, usual_of
from ghostprep.loop.search import _apart, lag_range
from tests.measured import dip, join

Maker = Callable[..., list[np.ndarray]]
RATE = Fraction(25)


def strip_of(frames: Sequence[np.ndarray]) -> ThumbnailStrip:
    strip = ThumbnailStrip()
    for frame in frames:
        strip.add(frame)
    return strip


@pytest.mark.parametrize("period", [50, 73, 100])
def test_an_exact_period_is_found_to_the_frame_and_needs_no_blend(sway: Maker, period: int) -> None:
    frames = sway(260, period_s=period / 25)
    found = search(strip_of(frames), RATE, fetch=frames.__getitem__)
    assert {c.frames for c in found} == {period}
    assert found[0].blend == 0
    assert found[0].method == "cut"
    assert found[0].exact
    assert found[0].score <= 1
    assert loop_finding(found[0]) is None


def test_of_multiples_of_the_period_the_wanted_length_is_taken(sway: Maker) -> None:
    frames = sway(260, period_s=2)
    assert search(strip_of(frames), RATE, length_s=(3.5, 7))[0].frames == 100
    exact = search(strip_of(frames), RATE, length_s=(3, 3))
    assert {c.frames for c in exact} == {75}


def test_a_clip_that_is_one_whole_turn_loops_from_first_frame_to_last(sway: Maker) -> None:
    frames = sway(100, period_s=4)
    best = search(strip_of(frames), RATE, fetch=frames.__getitem__)[0]
    assert (best.first, best.last, best.blend) == (0, 99, 0)
    # one frame more is the first one again: it must not be shown twice
    longer = sway(101, period_s=4)
    best = search(strip_of(longer), RATE, fetch=longer.__getitem__)[0]
    assert (best.frames, best.blend) == (100, 0)


def swing(count: int, period: float) -> list[np.ndarray]:
    """A board with sharp edges that swings wide, by more than an edge is wide in each frame."""
    y, x = np.mgrid[:120, :160]
    places = 80 + 40 * np.sin(2 * np.pi * np.arange(count) / period)
    board = [np.clip(12.5 - abs(x - at), 0, 1) * (abs(y - 60) < 40) for at in places]
    return [np.rint(200 * one).astype(np.uint8)[..., None].repeat(3, 2) for one in board]


def test_a_swing_is_not_joined_where_it_would_turn_about_at_full_speed() -> None:
    """Frames 32 to 58 of a turn of 60 begin and end alike, one on the way out and one on the way back."""
    frames = swing(60, 60)
    found = search(strip_of(frames), RATE, fetch=frames.__getitem__)
    assert found[0].name == "0-59"
    assert found[0].looks == "smooth"
    assert loop_finding(found[0]) is None
    half = LoopCandidate(31, 59, 0, "cut", 0.5)
    turned = with_turn(half, Shot(0, points_of(strip_of(frames))[0]), RATE)
    assert turned.turn > 1.3
    assert turned.looks == "a small jump"
    told = loop_finding(turned)
    assert told is not None
    assert "turns about" in told.text


@pytest.mark.parametrize(
    ("rate", "period", "count"),
    [(15, 20, 15), (15, 20, 20), (15, 20, 24), (15, 60, 36), (25, 30, 22), (25, 30, 30)],
)
def test_a_join_is_called_smooth_only_where_its_proof_passes(rate: int, period: int, count: int) -> None:
    """Whole swings and parts of swings, by 4 to 12 px in each frame; no part leads back to its start."""
    frames = swing(count, period)
    found = search(strip_of(frames), Fraction(rate), fetch=frames.__getitem__)
    for one in found:
        plan = plan_loop("search", count, Fraction(rate), candidate=one)
        made = [mixed(plan, mix, frames.__getitem__) for mix in plan.steps]
        assert join(made, plan.join_steps).passed or not one.smooth
    if count >= period:
        assert found[0].smooth
        assert found[0].frames == period


@pytest.mark.parametrize("count", [4, 6, 8, 12, 16])
def test_of_a_turn_of_a_few_drawings_none_is_left_out(count: int) -> None:
    """An arm goes round once, or two legs make a step each, at 10 drawings a second."""
    rounds, steps = [], []
    for part in np.arange(count) / count:
        around, strides = np.zeros((2, 120, 160, 3), np.uint8)
        rounds.append(
            cv2.line(
                around, (80 * 16, 60 * 16), _reached(2 * np.pi * part), (90, 180, 220), 8, cv2.LINE_AA, 4
            )
        )
        for half, colour in ((0.0, (180, 140, 80)), (0.5, (90, 120, 200))):
            swung = np.pi / 2 + 0.5 * np.sin(2 * np.pi * (part + half))
            cv2.line(strides, (80 * 16, 60 * 16), _reached(swung), colour, 9, cv2.LINE_AA, 4)
        steps.append(strides)
    for drawn in (rounds, steps):
        best = search(strip_of(drawn), Fraction(10), fetch=drawn.__getitem__)[0]
        assert (best.name, best.blend, best.smooth) == (f"0-{count - 1}", 0, True)


def _reached(angle: float) -> tuple[int, int]:
    """Return the end of an arm of 45 px, in 16ths of a pixel."""
    return round(16 * (80 + 45 * np.cos(angle))), round(16 * (60 + 45 * np.sin(angle)))


@pytest.mark.parametrize(("rate", "period_s"), [(15, 2.0), (15, 2.4)])
def test_a_whole_turn_that_begins_at_its_fastest_is_slowed_there(
    sway: Maker, rate: int, period_s: float
) -> None:
    """The one cut that it has is by 1 to 5 % longer than the 95th percentile of its other steps."""
    count = round(rate * period_s)
    frames = sway(count, rate=rate, period_s=period_s)
    best = search(strip_of(frames), Fraction(rate), fetch=frames.__getitem__)[0]
    assert (best.name, best.method, best.shown) == (f"0-{count - 1}", "cut", count + 1)
    assert best.smooth
    plan = plan_loop("search", count, Fraction(rate), candidate=best)
    made = [mixed(plan, mix, frames.__getitem__) for mix in plan.steps]
    assert join(made, plan.join_steps).passed
    assert dip(made, plan.blend_frames).passed
    assert not join(frames, [count - 1]).passed
    whole = plan_loop("search", count, Fraction(rate), candidate=best, crossfade_s=0)
    assert (len(whole), whole.blend_frames) == (count, ())


@pytest.mark.parametrize("over", [1, 3])
def test_no_frame_is_held_where_a_turn_begins_again(sway: Maker, over: int) -> None:
    """A turn of 30 frames that begins at its fastest, and its first ones again, as programs write it."""
    frames = sway(30 + over, rate=15, period_s=2.0)
    best = search(strip_of(frames), Fraction(15), fetch=frames.__getitem__)[0]
    assert best.frames == 30


def test_a_pause_is_no_loop(sway: Maker) -> None:
    moving = sway(90, period_s=3.3, arm_s=2.1, drift=1)
    frames = [*moving[:40], *[moving[40]] * 75, *moving[41:]]
    strip = strip_of(frames)
    for one in search(strip, RATE, fetch=frames.__getitem__):
        assert strip.steps[one.first : one.last].max() > 0
    still = [moving[0]] * 60
    assert search(strip_of(still), RATE, fetch=still.__getitem__)[0].smooth


def test_drawings_that_are_each_shown_twice_loop_as_they_do_alone(sway: Maker) -> None:
    drawn = sway(60, rate=12, period_s=2.5)
    frames = [frame for frame in drawn for _ in range(2)]
    best = search(strip_of(frames), Fraction(24), fetch=frames.__getitem__)[0]
    assert best.exact
    assert best.frames == 60
    few = [frame for frame in sway(4, rate=4, period_s=1.0) for _ in range(2)]
    assert search(strip_of(few), Fraction(8), fetch=few.__getitem__)[0].frames > 2


@pytest.mark.parametrize(("rate", "seconds"), [(Fraction(24000, 1001), 12), (Fraction(30000, 1001), 12)])
def test_a_drifting_clip_is_joined_unseen(sway: Maker, rate: Fraction, seconds: float) -> None:
    frames = sway(round(seconds * rate), rate=float(rate), period_s=4.3, arm_s=3.1, drift=1.0, noise=1)
    best = search(strip_of(frames), rate, fetch=frames.__getitem__)[0]
    plan = plan_loop("search", len(frames), rate, candidate=best)
    loop = [mixed(plan, mix, frames.__getitem__) for mix in plan.steps]
    assert len(loop) == best.frames
    assert join(loop, plan.join_steps).passed
    assert dip(loop, plan.blend_frames).passed
    assert best.score <= 1.0


def test_where_no_two_moments_are_alike_the_flow_beats_the_crossfade(sway: Maker) -> None:
    frames = sway(150, period_s=4.3, arm_s=3.9, drift=1.5)
    strip = strip_of(frames)
    pairs = PairedFrames(frames.__getitem__, 100)
    usual = usual_of(strip, 20, 130)
    plain, moved = ([*pairs.measure(20, 10, how, usual)][-1] for how in ("crossfade", "flow"))
    assert plain.double > 2
    assert moved.double < 0.4 * plain.double
    assert moved.dip > max(plain.dip, 0.9)
    assert moved.ripple < 0.02
    chosen, _ = better_method(plan_loop("ends", 150, RATE, crossfade_s=0.4), strip, frames.__getitem__, RATE)
    assert chosen.method == "flow"


def test_what_cannot_win_is_not_measured_to_its_end(sway: Maker, monkeypatch: pytest.MonkeyPatch) -> None:
    frames = sway(200, period_s=4.3, arm_s=3.1, drift=1.5)
    strip, asked = strip_of(frames), LoopCandidate(60, 160, 0, "cut", 9.0)

    def best() -> tuple[LoopCandidate, int]:
        fetched: list[int] = []

        def fetch(i: int) -> np.ndarray:
            fetched.append(i)
            return frames[i]

        return best_on_frames(asked, strip, fetch, RATE, stretch=Shot(0, points_of(strip)[0])), len(fetched)

    found, few = best()
    measure = PairedFrames.measure
    monkeypatch.setattr(PairedFrames, "measure", lambda *words: [[*measure(*words)][-1]])
    to_the_end, all_of_them = best()
    assert found.as_dict() == to_the_end.as_dict()
    assert few < all_of_them


def test_no_loop_goes_across_a_hard_cut_or_a_flash(sway: Maker) -> None:
    one, two = sway(120, period_s=2), [255 - f for f in sway(120, period_s=2)]
    frames = [*one, *two]
    for candidate in search(strip_of(frames), RATE, length_s=(1, 9)):
        assert candidate.last < 120 or candidate.first - candidate.blend >= 120
    lit = sway(240, period_s=4.3, drift=1)
    lit[100] = np.full_like(lit[100], 255)
    for candidate in search(strip_of(lit), RATE):
        assert candidate.last < 100 or candidate.first - candidate.blend > 100


def test_a_fast_movement_is_no_cut(sway: Maker) -> None:
    frames = sway(200, period_s=0.8)
    found = search(strip_of(frames), RATE, length_s=(2.4, 8), fetch=frames.__getitem__)
    assert found[0].frames == 60


def test_a_still_clip_loops(sway: Maker) -> None:
    frames = sway(100, still=True)
    best = search(strip_of(frames), RATE, fetch=frames.__getitem__)[0]
    assert best.score <= 1
    assert best.blend == 0


@settings(deadline=None, max_examples=10)
@given(low=st.floats(0.2, 3), more=st.floats(0, 3))
def test_the_wanted_length_is_honoured(sway: Maker, low: float, more: float) -> None:
    if not hasattr(test_the_wanted_length_is_honoured, "strip"):
        strip = strip_of(sway(150, period_s=4.3, arm_s=3.1, drift=1))
        test_the_wanted_length_is_honoured.strip = strip  # type: ignore[attr-defined]
    found = search(test_the_wanted_length_is_honoured.strip, RATE, length_s=(low, low + more))  # type: ignore[attr-defined]
    least, most = lag_range(150, RATE, (low, low + more))
    if most - least > 1 and most < 140:
        assert found
    for one in found:
        assert least <= one.frames <= most
        # exactly half a frame is allowed, and floats miss it by their last digit
        assert abs(one.frames / 25 - min(max(one.frames / 25, low), low + more)) <= 0.5 / 25 + 1e-9
        assert one.blend <= one.first


def test_an_exact_loop_begins_where_least_moves() -> None:
    """A disc that swings and turns at both ends: begun there, a player's pause shows least."""
    frames = []
    for i in range(150):
        frame = np.zeros((90, 120, 3), np.uint8)
        x = 60 + 30 * np.sin(2 * np.pi * i / 40 + 1)
        cv2.circle(frame, (round(x * 16), 45 * 16), 15 * 16, (220, 200, 180), -1, cv2.LINE_AA, 4)
        frames.append(frame)
    found = search(strip_of(frames), RATE, length_s=(1, 2))
    assert all(one.exact and one.frames == 40 for one in found)
    # between the last frame and the first the disc moves as the cosine half a frame before the first
    assert abs(np.cos(2 * np.pi * (found[0].first - 0.5) / 40 + 1)) < 0.2
    assert len({one.first for one in found}) == len(found) > 1
    assert min(abs(a.first - b.first) for a in found for b in found if a is not b) > 40 // 8


def test_frames_can_be_named(sway: Maker) -> None:
    frames = sway(200, period_s=4.3, drift=1)
    one = join_at(60, 140, strip_of(frames), frames.__getitem__, RATE)
    assert (one.first, one.last) == (60, 140)
    assert one.score < np.inf


def test_a_clip_that_does_not_loop_says_so_and_where_it_does_best() -> None:
    walks = []
    for i in range(100):
        frame = np.zeros((60, 160, 3), np.uint8)
        frame[10:50, i : i + 30] = 200
        walks.append(frame)
    best = search(strip_of(walks), RATE, length_s=(1, 2), fetch=walks.__getitem__)[0]
    finding = loop_finding(best)
    assert finding is not None
    assert "does not loop" in finding.text
    assert f"frames {best.first}-{best.last}" in finding.text
    assert "--join there-and-back" in finding.remedy
    # where no length is asked for, nobody wants one that jumps every second
    assert search(strip_of(walks), RATE, fetch=walks.__getitem__) == []
    told = loop_finding(None)
    assert told is not None
    assert "it plays there and back" in told.text


def test_what_is_nearly_the_same_as_a_better_one_is_left_out() -> None:
    """At 24/s, near is 6 frames for the beginning and 2 for the length: beyond either it is another loop."""

    def loop(first: int, frames: int) -> LoopCandidate:
        return LoopCandidate(first, first + frames - 1, 0, "cut", 0.5)

    best = loop(100, 90)
    same = [loop(106, 90), loop(94, 92), loop(100, 88)]
    other = [loop(107, 90), loop(93, 91), loop(100, 93), loop(100, 87)]
    assert _apart([best, *same], Fraction(24)) == [best]
    for one in other:
        assert _apart([best, one], Fraction(24)) == [best, one]
    many = [loop(100 + 7 * n, 90) for n in range(30)]
    assert _apart(many, Fraction(24)) == many[:24]


@pytest.fixture
def tried(monkeypatch: pytest.MonkeyPatch) -> dict[int, set[int]]:
    """Where each length of blend is tried; none hides the join."""
    begins: dict[int, set[int]] = {}

    def measured(
        self: PairedFrames, begin: int, blend: int, method: str, usual: object
    ) -> Iterator[LoopCandidate]:
        begins.setdefault(blend, set()).add(begin)
        yield LoopCandidate(begin + blend, begin + blend + self.lag - 1, blend, method, 9.0)

    monkeypatch.setattr(PairedFrames, "measure", measured)
    return begins


def try_blends(asked: LoopCandidate, count: int, **words) -> None:
    strip = strip_of([np.full((18, 32, 3), 10 + n % 50, np.uint8) for n in range(count)])
    best_on_frames(asked, strip, lambda n: np.zeros((9, 16, 3), np.uint8), RATE, **words)


SHOT = Shot(3, np.random.default_rng(0).normal(size=(240, 4)).astype(np.float32))


@pytest.mark.parametrize(("own", "blends"), [(6, {0, 4, 6, 10, 20, 30}), (0, {0, 4, 10, 20, 30})])
def test_blends_are_tried_around_the_middle_of_the_first_one(
    monkeypatch: pytest.MonkeyPatch, tried: dict[int, set[int]], own: int, blends: set[int]
) -> None:
    """Blends of .2, .4, .8 and 1.2 s at 25/s have 4 (even), 10, 20 and 30 frames."""
    monkeypatch.setattr("ghostprep.loop.refine.calmest", lambda *words: 55)
    try_blends(LoopCandidate(100, 199, own, "crossfade" if own else "cut", 2.0), 250, stretch=SHOT)
    assert set(tried) == blends
    middle = 100 - own // 2
    for blend, begins in tried.items():
        begin = 100 - blend if blend == own else middle - blend // 2
        # and where it would be calmest, told in frames of the stretch that begins at 3
        assert begins == ({begin, 58} if blend else {begin})


def test_blends_end_with_the_clip_and_are_no_longer_than_half_of_the_loop(
    monkeypatch: pytest.MonkeyPatch, tried: dict[int, set[int]]
) -> None:
    monkeypatch.setattr("ghostprep.loop.refine.calmest", lambda *words: -1)
    # frames 100 to 199 of 205: a blend about the middle ends at 200 + half of it
    try_blends(LoopCandidate(100, 199, 0, "cut", 2.0), 205, stretch=SHOT)
    assert tried == {0: {100}, 4: {98}, 10: {95}}
    tried.clear()
    # at the clip's beginning there is nothing before the first frame
    try_blends(LoopCandidate(4, 203, 0, "cut", 2.0), 250, stretch=SHOT)
    assert tried == {0: {4}, 4: {2}}
    tried.clear()
    # of a loop of 20 frames a blend takes less than half
    try_blends(LoopCandidate(100, 119, 0, "cut", 2.0), 250, stretch=SHOT)
    assert tried == {0: {100}, 4: {98}}
    tried.clear()
    # frames that are named stay first and last: the blend lies before the first
    try_blends(LoopCandidate(100, 199, 0, "cut", 2.0), 250, fixed=True)
    assert tried == {0: {100}, 4: {96}, 10: {90}, 20: {80}, 30: {70}}
    tried.clear()
    # without a stretch only its own
    try_blends(LoopCandidate(100, 199, 6, "crossfade", 2.0), 250)
    assert tried == {0: {97}, 6: {94}}
