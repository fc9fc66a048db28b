"""The busiest second, against laps written out."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.player.buffer import peak_kbps

RATES = st.fractions(min_value=Fraction(1, 4), max_value=70, max_denominator=1001)


@settings(deadline=None, max_examples=100)
@given(sizes=st.lists(st.integers(0, 9000), min_size=1, max_size=40), rate=RATES)
def test_the_busiest_second_by_brute_force(sizes: list[int], rate: Fraction) -> None:
    window = max(1, round(rate))
    played = sizes * (window // len(sizes) + 2)
    busiest = max(sum(played[begin : begin + window]) for begin in range(len(sizes)))
    assert peak_kbps(sizes, rate) == pytest.approx(float(busiest * 8 * rate / window / 1000))


def test_a_rate_that_damage_made_absurd_takes_no_time() -> None:
    assert peak_kbps([3, 5], Fraction(2**32)) == pytest.approx(4 * 8 * 2**32 / 1000)
