"""Lengths and scales as builders write them."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.scene import Scale, format_length, parse_length, parse_scale, rounded_up


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("85 mm", 85),
        ("1.7 m", 1700),
        ("3 1/2 in", 88.9),
        ("3-1/2 in", 88.9),
        ('3 1/2"', 88.9),
        ("1/16 in", 1.5875),
        ("5 ft 7 in", 1701.8),
        ("5' 7\"", 1701.8),
        ("8.5cm", 85),
        (".5 in", 12.7),
        ("-1/4 in", -6.35),
        ("−2 mm", -2),
        ("+2 mm", 2),
    ],
)
def test_written_lengths(text, mm):
    assert parse_length(text) == pytest.approx(mm, abs=1e-12)


def test_a_bare_number_is_in_the_files_unit():
    assert [parse_length(2, unit) for unit in ("mm", "cm", "in")] == [2.0, 20.0, 50.8]


@pytest.mark.parametrize(
    ("value", "says"),
    [
        ("", "empty"),
        ("-", "empty"),
        ("3", "not a length"),
        ("3 1/2", "not a length"),
        ("3 yd", "unknown unit 'yd'"),
        ("3 mm wide", "unknown unit|not a length"),
        ("1/0 in", "divides by zero"),
        ("--3 mm 4", "not a length"),
        ("1/1000000000000000 mm 4", "not a length"),
        (True, "must be a length"),
        (None, "must be a length"),
        ([3], "must be a length"),
        (math.nan, "finite"),
        (math.inf, "finite"),
    ],
)
def test_what_is_no_length_is_told(value, says):
    with pytest.raises(ValueError, match=says):
        parse_length(value)


@settings(deadline=None)
@given(whole=st.integers(0, 400), sixteenths=st.integers(0, 15), minus=st.booleans())
def test_inches_come_back_as_they_were_written(whole, sixteenths, minus):
    inches = Fraction(whole) + Fraction(sixteenths, 16)
    mm = float(inches * Fraction("25.4")) * (-1 if minus else 1)
    written = format_length(mm, "in")
    assert parse_length(written) == pytest.approx(mm, abs=1e-9)


@settings(deadline=None)
@given(mm=st.floats(-5000, 5000), units=st.sampled_from(["mm", "cm", "in"]))
def test_what_is_shown_reads_back_to_what_can_be_measured(mm, units):
    nearest = {"mm": 0.05, "cm": 0.05, "in": 25.4 / 32}[units]
    assert parse_length(format_length(mm, units)) == pytest.approx(mm, abs=nearest + 1e-6)


@settings(deadline=None)
@given(mm=st.floats(0.01, 5000), units=st.sampled_from(["mm", "cm", "in"]))
def test_sizes_to_cut_are_never_too_small(mm, units):
    step = 25.4 / 16 if units == "in" else 1.0
    cut = rounded_up(mm, units)
    assert mm - 1e-6 <= cut < mm + step
    assert cut / step == pytest.approx(round(cut / step))


@pytest.mark.parametrize(
    ("ratio", "man", "door"),
    [
        # a man of 1755 mm (median of ANSUR II, 2012) and a door of 2032 mm (80 in), to 0.01 mm
        ("1:6", 292.50, 338.67),
        ("1:12", 146.25, 169.33),
        ("1:24", 73.13, 84.67),
        ("1:48", 36.56, 42.33),
        ("1:64", 27.42, 31.75),
        ("1:87.1", 20.15, 23.33),
        ("1:160", 10.97, 12.70),
    ],
)
def test_scales_of_the_trade(ratio, man, door):
    factor = parse_scale(ratio).at(100)
    assert 1755 * factor == pytest.approx(man, abs=0.0051)
    assert 2032 * factor == pytest.approx(door, abs=0.0051)


def test_scale_from_an_object():
    assert 1 / parse_scale({"reference": 85, "real": "2030 mm"}).at(0) == pytest.approx(2030 / 85)
    assert 1 / parse_scale({"reference": 3.5, "real": "7 ft"}, "in").at(0) == pytest.approx(24)


def test_two_objects_give_the_scale_between_and_beyond():
    scale = parse_scale(
        [
            {"reference": 60, "real": 2000, "depth": 300},
            {"reference": 80, "real": 2000, "depth": 100},
        ]
    )
    assert 2000 * scale.at(100) == pytest.approx(80)
    assert 2000 * scale.at(200) == pytest.approx(70)
    assert 2000 * scale.at(400) == pytest.approx(50)
    with pytest.raises(ValueError, match="shrink to nothing"):
        scale.at(900)


@pytest.mark.parametrize(
    ("value", "says"),
    [
        ("24", "not a scale"),
        ("1:0", "between 1:1 and 1:1000"),
        ("2:1", "not a scale"),
        ("1:5000", "between 1:1 and 1:1000"),
        ({"reference": 85}, "no 'real'"),
        ({"reference": 85, "real": 2030, "deep": 3}, "unknown key 'deep'"),
        ({"reference": -85, "real": 2030}, "above 0"),
        ({"reference": 85, "real": "2030"}, "not a length"),
        ([{"reference": 85, "real": 2030, "depth": 3}] * 2, "same depth"),
        ([{"reference": 85, "real": 2030, "depth": 3}], "must be a scale"),
        (24, "must be a scale"),
    ],
)
def test_what_is_no_scale_is_told(value, says):
    with pytest.raises(ValueError, match=says):
        parse_scale(value)


def test_a_scale_passes_through():
    scale = parse_scale("1:24")
    assert isinstance(scale, Scale)
    assert parse_scale(scale) is scale
    assert scale.as_written() == "1:24"


def test_scales_read_back_as_they_are_written():
    for value in (
        "1:87.1",
        {"reference": 85, "real": 2030},
        [{"reference": 85, "real": 2030, "depth": 40}, {"reference": 70, "real": 2030, "depth": 180}],
    ):
        scale = parse_scale(value)
        for depth in (0, 100, 300):
            assert parse_scale(scale.as_written()).at(depth) == pytest.approx(scale.at(depth), rel=1e-10)


@pytest.mark.parametrize(
    ("inches", "text"),
    [
        (0.0004, "0 in"),
        (0.0006, "0.001 in"),
        (-0.0006, "-0.001 in"),
        (0.005, "0.005 in"),
        (0.04, "0.040 in"),
        (0.06, "1/16 in"),  # off by 4 % of itself
        (0.057, "1/16 in"),  # by 9.6 %
        (0.0565, "0.057 in"),  # by 10.6 %
        (-0.25, "-1/4 in"),
        (2.40625, "2 7/16 in"),  # 13/32, to the next sixteenth, as 15/32 and 13/32 less a trace are
        (2.46875, "2 1/2 in"),
        (2.40625 - 1e-9, "2 7/16 in"),
        (2.96, "2 15/16 in"),
        (2.97, "3 in"),
    ],
)
def test_inches_in_sixteenths_unless_they_would_say_something_else(inches, text):
    assert format_length(inches * 25.4, "in") == text
