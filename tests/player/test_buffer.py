"""The busiest second, against laps written out."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.player.measured import buffer_kbit, measured, peak_kbps
from ghostprep.player.read import StreamFacts

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


def test_what_is_measured_of_a_part_is_that_of_the_whole_loop() -> None:
    """Frames of 900, 100, 200, 500 bytes at 10/s; seven such: 900, then 100 and 200 in turn, 500."""
    facts = StreamFacts(
        path=Path("x"), container="avi", codec="mjpeg", size_bytes=2000, raster=(320, 240), rate=Fraction(10),
        frames=4, frame_bytes=(900, 100, 200, 500), keys=(0,),
    )  # fmt: skip
    own = measured(facts, black_near=0.9, black_far=0.99)
    assert (own.bytes, own.largest_frame, own.header_bytes, own.buffer_kbit) == (2000, 900, 0, 0.0)
    assert own.mean_kbps == pytest.approx(1700 * 8 * 10 / 4 / 1000)
    assert (own.black_near, own.black_far) == (0.9, 0.99)
    whole = measured(facts, loop=7, rate_kbps=40)
    assert whole.bytes == 2000 + 100 + 200 + 100
    assert whole.mean_kbps == pytest.approx(2100 * 8 * 10 / 7 / 1000)
    # 40 kbit/s drain 4 kbit a frame; the last and the first, 1400 bytes, come one after the other
    sizes = (900, 100, 200, 100, 200, 100, 500)
    assert whole.buffer_kbit == pytest.approx(buffer_kbit(sizes, Fraction(10), 40))
    assert whole.peak_kbps == pytest.approx(peak_kbps(sizes, Fraction(10)))
