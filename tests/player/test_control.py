"""The search for the best encoding, with an encoder whose answers are made up and lawful."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.errors import JobError
from ghostprep.player import Attempt, Measured, RateControl, Setting, load_profile
from ghostprep.player.ladder import ladder, variants

BASELINE = load_profile("h264-baseline-qvga")
JPEG = load_profile("mjpeg-avi-qvga")


def model(setting: Setting, weight: float, *, keyed: bool = True) -> Measured:
    """A coding law: bits fall by half every six steps of the quantiser, and black with the rim's."""
    guard = 1 - 0.05 * setting.guard.fade_px - 0.008 * setting.guard.still
    inside = 2 ** (-setting.quality / 6)
    rim = inside if setting.rim is None else 0.7 * 2 ** (-setting.rim / 6) * setting.share**2
    kbps = weight * (inside + rim) * guard
    if setting.ceiling:
        kbps = min(kbps, 750)
    quantiser = setting.quality if setting.rim is None else setting.rim
    near = 0.99 * min(1.0, 1.02 - 0.012 * quantiser - 0.5 * (1 - setting.share)) if keyed else None
    return Measured(
        bytes=int(kbps * 1000), largest_frame=int(kbps), mean_kbps=kbps, peak_kbps=kbps,
        black_near=near, black_far=0.9999 if keyed else None,
    )  # fmt: skip


def search(control: RateControl, weight: float, *, keyed: bool = True) -> list[tuple[Attempt, Measured]]:
    made = []
    attempt: Attempt | None = control.first()
    while attempt is not None:
        made.append((attempt, model(attempt.setting, weight, keyed=keyed)))
        attempt = control.next(*made[-1])
        assert len(made) <= 15, "the search does not end"
    return made


@settings(deadline=None, max_examples=60)
@given(weight=st.floats(50, 20_000))
def test_the_best_is_within_the_limits_and_black_if_any_attempt_was(weight: float) -> None:
    control = RateControl(BASELINE, (320, 240), Fraction(30), 90)
    made = search(control, weight)
    fitting = [(a, m) for a, m in made if m.mean_kbps <= 768]
    assert fitting, "the last resort always fits"
    best = {a.number: m for a, m in made}[control.best.number]
    assert best.mean_kbps <= 768
    black = [(a, m) for a, m in fitting if (m.black_near or 0) >= 0.95 and not a.setting.ceiling]
    if black:
        assert (best.black_near or 0) >= 0.95
        rungs = ladder(BASELINE, keyed=True).settings

        def rung(attempt: Attempt) -> int:
            return next((i for i, step in enumerate(rungs) if attempt.setting in variants(step)), len(rungs))

        assert rung(control.best) == min(rung(a) for a, _ in black)
    assert len({a.setting for a, _ in made}) == len(made), "nothing is tried twice"


@settings(deadline=None, max_examples=60)
@given(limit=st.integers(300, 60_000))
def test_jpeg_finds_the_finest_tables_that_fit(limit: int) -> None:
    control = RateControl(JPEG, (320, 240), Fraction(15), 90)
    scales = [step.quality for step in ladder(JPEG, keyed=True).settings]

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
    with pytest.raises(JobError, match="does not fit"):
        _ = control.best


@pytest.mark.parametrize("keyed", [None, False])
def test_without_black_nothing_is_done_for_it(keyed: bool | None) -> None:
    control = RateControl(BASELINE, (320, 240), Fraction(30), 90, keyed=keyed)
    made = search(control, 9000, keyed=False)
    first = 1 if keyed is None else 0  # until black is found not to be measured, it may be wanted
    assert all(attempt.setting.plain for attempt, _ in made[first:])
    assert control.best.setting.plain
    assert "addroi" not in " ".join(control.best.arguments)


def test_black_gives_way_before_the_figure() -> None:
    rungs = ladder(BASELINE, keyed=True)
    asked, given_up = rungs.settings[: rungs.black], rungs.settings[rungs.black :]
    assert all(step.quality <= 27 and (step.rim or 99) <= 4 for step in asked)
    assert all(step.quality <= 27 for step in given_up if step.rim is not None)
    assert all((step.rim or 99) > 4 for step in given_up)


def test_the_master_is_done_at_once() -> None:
    control = RateControl(load_profile("master-ffv1-mkv"), (321, 241), Fraction(30), 9)
    attempt = control.first()
    assert attempt.pixels == "rgb24"
    assert control.next(attempt, Measured(bytes=1, largest_frame=1)) is None
    assert control.best == attempt


def test_no_setting_belongs_to_two_rungs() -> None:
    every = [one for step in ladder(BASELINE, keyed=True).settings for one in variants(step)]
    assert len(set(every)) == len(every)
