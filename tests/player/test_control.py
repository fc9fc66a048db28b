"""The search for the best encoding, with an encoder whose answers are made up and lawful."""

from __future__ import annotations

import itertools
import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.errors import JobError
from ghostprep.player import Attempt, Measured, RateControl, Setting, load_profile
from ghostprep.player.edges import EDGES, edge_of, quality_for, share_for
from ghostprep.player.ladder import ladder

BASELINE = load_profile("h264-baseline-qvga")
JPEG = load_profile("mjpeg-avi-qvga")


def model(setting: Setting, figure: float, rim: float, dirt: float) -> Measured:
    """A coding law that is not the search's own: other slopes, and the rim gets cheaper on a finer figure."""
    kbps = figure * 2 ** ((20 - setting.quality) / 5)
    near = 0.3
    if setting.rim is not None:
        softness = 1 - 0.09 * EDGES.index(edge_of(setting))
        kbps += rim * softness * 2 ** (-setting.rim / 10) * setting.share**4 * (0.9 + 0.005 * setting.quality)
        near = 0.99 - dirt - 0.012 * setting.rim - 0.6 * (1 - setting.share)
    if setting.ceiling:
        kbps = min(kbps, 750)
    return Measured(
        bytes=int(kbps * 1000), largest_frame=int(kbps), mean_kbps=kbps, peak_kbps=kbps,
        black_near=near, black_far=0.9999,
    )  # fmt: skip


def search(control: RateControl, figure: float, rim: float, dirt: float) -> list[tuple[Attempt, Measured]]:
    made: list[tuple[Attempt, Measured]] = []
    attempt: Attempt | None = control.first()
    draft: Setting | None = None
    while attempt is not None:
        if attempt.draft:
            draft = attempt.setting
        elif attempt.from_draft:
            assert draft is not None
            assert (draft.quality, draft.guard) == (attempt.quality, attempt.setting.guard)
        made.append((attempt, model(attempt.setting, figure, rim, dirt)))
        attempt = control.next(*made[-1])
        assert len(made) <= 12, "the search does not end"
    return made


@settings(deadline=None, max_examples=80)
@given(figure=st.floats(20, 8000), rim=st.floats(20, 8000), dirt=st.floats(0, 0.1))
def test_the_best_is_within_the_limits_and_black_if_any_attempt_was(
    figure: float, rim: float, dirt: float
) -> None:
    control = RateControl(BASELINE, (320, 240), Fraction(30), 90)
    made = search(control, figure, rim, dirt)
    files = [(attempt, seen) for attempt, seen in made if not attempt.draft]
    fitting = [(attempt, seen) for attempt, seen in files if seen.mean_kbps <= 768]
    assert fitting, "the last resort always fits"
    best = {attempt.number: seen for attempt, seen in files}[control.best.number]
    assert best.mean_kbps <= 768
    if any((seen.black_near or 0) >= 0.95 for _, seen in fitting):
        assert (best.black_near or 0) >= 0.95
    assert len({attempt.setting for attempt, _ in made}) == len(made), "nothing is tried twice"
    assert [attempt.number for attempt, _ in made if control.is_best(attempt)] == [control.best.number]


def test_most_loops_take_two_pairs() -> None:
    """Though the made-up encoder's laws are up to a tenth off the search's own."""
    taken = []
    for figure in range(60, 400, 30):
        for rim in range(200, 700, 50):
            for dirt in (0, 0.01, 0.02):
                made = search(RateControl(BASELINE, (320, 240), Fraction(30), 90), figure, rim, dirt)
                files = [seen for attempt, seen in made if not attempt.draft and seen.mean_kbps <= 768]
                assert max(seen.black_near or 0 for seen in files) >= 0.95
                taken.append(len(made))
    assert np.percentile(taken, (50, 90)).tolist() == [4, 4]
    assert max(taken) <= 10


def test_the_first_pair_of_a_long_loop_is_made_of_a_part() -> None:
    control = RateControl(BASELINE, (320, 240), Fraction(30), 900, part=lambda: (300, 375))
    made = search(control, 300, 500, 0.01)
    assert [attempt.part for attempt, _ in made[:2]] == [(300, 375)] * 2
    assert all(attempt.part is None for attempt, _ in made[2:])
    # what is handed over is made of all frames, from a draft of all frames, though the part had fitted
    assert control.best.part is None
    assert [attempt.draft for attempt, _ in made] == [True, False] * (len(made) // 2)
    assert not any(control.is_best(attempt) for attempt, _ in made[:2])


def test_a_part_that_shows_the_best_already_is_followed_by_the_whole() -> None:
    control = RateControl(BASELINE, (320, 240), Fraction(30), 900, part=lambda: (300, 375))
    made = search(control, 380, 380, 0.0)
    settings = [attempt.setting for attempt, _ in made if not attempt.draft and attempt.part is None]
    assert settings, "the whole loop is encoded, whatever the part was like"


def test_a_rich_player_needs_no_part() -> None:
    rich = RateControl(
        load_profile("h264-main-720p"), (1280, 720), Fraction(30), 900, part=lambda: (300, 375)
    )
    assert [attempt.part for attempt, _ in search(rich, 900, 2000, 0.01)] == [None, None]


def test_a_rich_player_is_served_by_the_first_pair() -> None:
    control = RateControl(load_profile("h264-main-720p"), (1280, 720), Fraction(30), 90)
    made = search(control, 900, 2000, 0.01)
    assert [attempt.draft for attempt, _ in made] == [True, False]
    assert control.best.quality == 11


def test_hard_rims_come_before_soft_ones() -> None:
    few, many = (
        search(RateControl(BASELINE, (320, 240), Fraction(30), 90), 200, rim, 0.01) for rim in (900, 300)
    )
    soft, hard = (EDGES.index(edge_of(made[-1][0].setting)) for made in (few, many))
    assert soft > hard


def test_black_gives_way_before_the_figure() -> None:
    made = search(RateControl(BASELINE, (320, 240), Fraction(30), 90), 300, 6000, 0.01)
    last = made[-1][0].setting
    assert last.quality <= EDGES[-1].coarsest
    assert last.rim is not None
    assert last.rim > 4


@settings(deadline=None, max_examples=60)
@given(limit=st.integers(300, 60_000))
def test_jpeg_finds_the_finest_tables_that_fit(limit: int) -> None:
    control = RateControl(JPEG, (320, 240), Fraction(15), 90)
    scales = [step.quality for step in ladder(JPEG, keyed=True, small=True).settings]

    def size(quality: float) -> int:
        return round(limit * 2 / (1 + quality))

    fits = [quality for quality in scales if size(quality) <= 20_480]
    attempt: Attempt | None = control.first()
    tries = 0
    while attempt is not None:
        made = Measured(bytes=10**6, largest_frame=size(attempt.quality), black_near=0.9, black_far=1.0)
        attempt = control.next(attempt, made)
        tries += 1
    assert control.best.quality == min(fits)
    assert tries <= 6


def test_nothing_fits() -> None:
    control = RateControl(JPEG, (320, 240), Fraction(15), 90)
    attempt: Attempt | None = control.first()
    while attempt is not None:
        attempt = control.next(attempt, Measured(bytes=1, largest_frame=30_000, black_near=1, black_far=1))
    with pytest.raises(JobError, match="does not fit the player's limits even at the lowest quality"):
        _ = control.best


def test_a_header_that_is_too_large_is_no_fit() -> None:
    control = RateControl(JPEG, (320, 240), Fraction(15), 90)
    attempt = control.first()
    control.next(attempt, Measured(bytes=1, largest_frame=1, header_bytes=20_481, black_near=1, black_far=1))
    assert not control.is_best(attempt)
    with pytest.raises(JobError, match="does not fit"):
        _ = control.best


def test_without_black_nothing_is_done_for_it() -> None:
    control = RateControl(BASELINE, (320, 240), Fraction(30), 90, keyed=False)
    attempt: Attempt | None = control.first()
    made: list[Attempt] = []
    while attempt is not None:
        made.append(attempt)
        kbps = 9000 * math.exp(-0.12 * attempt.quality) * (0.9 if attempt.setting.thorough else 1)
        attempt = control.next(attempt, Measured(bytes=1, largest_frame=1, mean_kbps=kbps, peak_kbps=kbps))
    assert all(attempt.setting.plain and not attempt.draft for attempt in made)
    assert len(made) <= 5
    best = control.best
    assert "addroi" not in " ".join(best.arguments)
    # 9000 e^(-0.12 q) is 768 at q = 20.5; a thorough search reaches it at 19.6
    assert (best.quality, best.setting.thorough) == (20, True)


def test_the_master_is_done_at_once() -> None:
    control = RateControl(load_profile("master-ffv1-mkv"), (321, 241), Fraction(30), 9)
    attempt = control.first()
    assert attempt.pixels == "rgb24"
    assert control.next(attempt, Measured(bytes=1, largest_frame=1)) is None
    assert control.best == attempt


def test_edges_fall_in_cost() -> None:
    assert all(one.cost > two.cost and one.coarsest <= two.coarsest for one, two in itertools.pairwise(EDGES))
    assert len({(edge.guard, edge.hold) for edge in EDGES}) == len(EDGES)


def test_laws_at_their_ends() -> None:
    assert quality_for(-1, 20, finest=10, coarsest=30) == math.inf
    assert quality_for(1, 20, finest=10, coarsest=30) == 20
    assert quality_for(1000, 20, finest=10, coarsest=30) == 10
    assert (share_for(-1), share_for(1)) == (1.0, 0.92)
