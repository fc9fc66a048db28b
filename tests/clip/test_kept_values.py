"""Values go to a file and come back as they were, and nothing else is made of a file."""

from __future__ import annotations

import json
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ghostprep.box import Box
from ghostprep.clip.cache import read_value, write_value
from ghostprep.finding import Finding
from ghostprep.loop import LoopCandidate

PLAIN = st.one_of(
    *(st.none(), st.booleans(), st.integers(), st.floats(allow_nan=False), st.text()),
    *(st.fractions(), st.builds(Box, *[st.integers()] * 4)),
    st.builds(Finding, st.just("note"), st.text(), st.text(), st.text()),
)


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("values") / "value.seen"


@given(value=st.recursive(PLAIN, lambda part: st.lists(part, max_size=4).map(tuple)))
def test_a_value_comes_back_as_it_was(path: Path, value: object) -> None:
    write_value(path, value)
    found = read_value(path)
    assert found == value
    assert repr(found) == repr(value)


@pytest.mark.parametrize("kind", [np.uint8, np.int64, np.float16, np.float32])
def test_arrays_and_their_numbers_keep_kind_and_shape(path: Path, kind: type[np.generic]) -> None:
    array = np.arange(24).reshape(2, 3, 4).astype(kind)
    write_value(path, ("name", array, array[0, 0, 1], Fraction(1, 3)))
    name, whole, one, third = read_value(path)
    assert name == "name"
    assert whole.dtype == kind
    assert whole.shape == (2, 3, 4)
    assert (whole == array).all()
    assert type(one) is kind
    assert one == array[0, 0, 1]
    assert third == Fraction(1, 3)


def test_infinity_and_named_parts_come_back(path: Path) -> None:
    join = LoopCandidate(2, 80, 4, "flow", float("inf"), exact=True)
    write_value(path, (join,))
    assert read_value(path) == (join,)


@dataclass
class Strange:
    """No class of the program."""

    part: int


@pytest.mark.parametrize(
    "value", [{"a": 1}, [1], b"bytes", Path("a"), object()], ids=lambda v: type(v).__name__
)
def test_other_kinds_are_not_kept(path: Path, value: object) -> None:
    with pytest.raises(TypeError, match="cannot be kept"):
        write_value(path, (value,))


@pytest.mark.parametrize(
    "told",
    [
        ["os:system", "true"],
        ["ghostprep.clip.child:Child", ["builtins:tuple", "true"]],
        ["ghostprep.clip.cache:write_value", "x", 1],
        ["ghostprep.missing:Name"],
        ["ghostprep.box:Missing", 1],
        ["ghostprep.box:Box", 1],
        ["no colon"],
        ["array", "array7"],
        ["fraction", "1/0"],
        [],
    ],
    ids=str,
)
def test_nothing_but_our_values_is_made(path: Path, told: object) -> None:
    with path.open("wb") as file:
        np.savez(file, text=np.array(json.dumps(told)))
    assert read_value(path) is None


def test_a_class_from_elsewhere_is_not_made(path: Path) -> None:
    write_value(path, Strange(1))
    assert read_value(path) is None


def test_a_missing_or_cut_file_is_not_read(path: Path) -> None:
    assert read_value(path.with_name("missing")) is None
    write_value(path, (np.zeros(100),))
    path.write_bytes(path.read_bytes()[:300])
    assert read_value(path) is None
