"""Quantiles of a few numbers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ghostprep.loop.quantile import quantile

NUMBERS = st.lists(st.floats(-1e3, 1e3, width=32), min_size=1, max_size=40)


@given(NUMBERS, st.floats(0, 1))
def test_quantiles_are_those_of_numpy(numbers: list[float], share: float) -> None:
    values = np.array(numbers, np.float32)
    assert quantile(values, share) == pytest.approx(np.quantile(values.astype(np.float64), share), abs=1e-6)
    # nothing is put in order in place
    assert values.tolist() == np.array(numbers, np.float32).tolist()
