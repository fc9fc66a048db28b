"""Lengths, points and ways in the builder's words."""

from __future__ import annotations

import pytest

from ghostprep.optics.advice.words import Words, apart, listed

MM, CM, IN = Words("mm"), Words("cm"), Words("in")


@pytest.mark.parametrize(
    ("said", "text"),
    [
        (MM(12.34), "12.3 mm"), (CM(12.34), "1.23 cm"), (IN(12.7), "1/2 in"),
        (MM.real(1755), "1.75 m"), (MM.real(9994), "9.99 m"), (CM.real(10_000), "10 m"),
        (MM.real(12_345), "12 m"),
        (IN.real(1701.8), "5 ft 7 in"), (IN.real(304.8), "1 ft"), (IN.real(19 * 304.8 + 254), "19 ft 10 in"),
        (IN.real(20 * 304.8 + 254), "20 ft"),
        (MM.fine(0.288), "0.29 mm"), (CM.fine(0.288), "0.29 mm"), (IN.fine(0.288), "0.011 in"),
        (MM.cut(8.2), "9 mm"), (CM.cut(8.2), "0.9 cm"), (IN.cut(25.5), "1 1/16 in"),
        (MM.size((8.2, 30)), "9 mm x 30 mm"), (MM.fit((8.2, 30)), "8.2 mm x 30 mm"),
        (IN.fit((25.5, 25.4)), "1 1/16 in x 1 in"),
    ],
)  # fmt: skip
def test_lengths(said: str, text: str) -> None:
    assert said == text


def test_a_point_is_written_as_a_scene_file_takes_it() -> None:
    point = (-31.46, 0.0, 121.54)
    assert MM.point(point) == "[-31.5, 0, 121.5]"
    assert CM.point(point) == "[-3.15, 0, 12.15]"
    # 121.54 mm are 4.7850 in
    assert IN.point(point) == "[-1.239, 0, 4.785]"
    assert MM.point((-0.04, 1, 2)) == "[0, 1, 2]"


def test_a_way_names_its_directions() -> None:
    assert MM.offset((3, -4, 5)) == "3 mm to the right and 4 mm down and 5 mm deeper"
    assert MM.offset((-3, 4, -5)) == "3 mm to the left and 4 mm up and 5 mm nearer to the opening"
    assert MM.offset((0.06, 0.04, 0)) == "0.1 mm to the right"
    assert MM.offset((0, -0.04, 0.04)) == "nowhere"


def test_a_list_of_words() -> None:
    assert [listed(list(items)) for items in ("", "a", "ab", "abc")] == ["", "a", "a and b", "a, b and c"]


@pytest.mark.parametrize(
    ("first", "second", "form", "texts"),
    [
        (2.61, 3.0, ".2f", ("2.61", "3.00")), (2.9996, 3.0, ".2f", ("2.9996", "3.0000")),
        (80.3, 80.0, ".0f", ("80.3", "80.0")), (12.04, 12.0, ".3g", ("12.04", "12")),
        (3.0, 3.0, ".2f", ("3.00", "3.00")),
    ],
)  # fmt: skip
def test_figures_are_told_with_enough_digits_to_differ(first, second, form, texts) -> None:
    assert apart(first, second, form) == texts
