"""Cloths that somebody told: what no clip can tell by itself comes out as it was."""

from __future__ import annotations

import re

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.errors import InputError
from ghostprep.picture import Key, Swatch, learn_key
from ghostprep.picture.learn.remarks import on_cloths

GREEN, BLUE, SKIN = (40, 160, 70), (60, 80, 170), (200, 150, 120)
BOX = np.s_[30:130, 60:140]
INSIDE = np.s_[35:125, 65:135]


def shot(cloth: tuple[float, ...], shift: int) -> np.ndarray:
    """A flat cloth below a head, before flat green: no fold tells whether the green is seen through it."""
    frame = np.full((150, 200, 3), GREEN, np.float32)
    frame[BOX] = cloth
    cv2.circle(frame, (100, 20), 14, SKIN, -1)
    return np.clip(np.rint(np.roll(frame, shift, 1)), 0, 255).astype(np.uint8)


def shots(cloth: tuple[float, ...]) -> list[np.ndarray]:
    return [shot(cloth, 6 * i) for i in range(-2, 3)]


def keyed(key: Key, cloth: tuple[float, ...]) -> np.ndarray:
    """The mean codes of the cloth in a keyed frame."""
    figure = key.at(None, (200, 150), (200, 150))(shot(cloth, 0)).codes
    return figure[INSIDE].reshape(-1, 3).mean(0)


def veiled(own: tuple[int, ...], through: float) -> tuple[float, ...]:
    """A veil of its own colour before the green, mixed in codes (Smith and Blinn 1996, equation 1)."""
    return tuple(float(c) for c in (1 - through) * np.array(own) + through * np.array(GREEN))


def as_hex(colour: tuple[float, ...]) -> str:
    return "#" + "".join(f"{round(c):02x}" for c in colour)


@given(
    through=st.floats(0.25, 0.65),
    own=st.sampled_from([(190, 40, 44), (230, 230, 230), (90, 40, 130), (150, 120, 40)]),
)
@settings(max_examples=12, deadline=None)
def test_a_sheer_cloth_that_is_told_leaves_its_own_light(own: tuple[int, ...], through: float) -> None:
    seen = veiled(own, through)
    key = learn_key(shots(seen), kind="green", mix="codes", sheer=[as_hex(own)])
    assert keyed(key, seen) == pytest.approx((1 - through) * np.array(own), abs=8)


@given(through=st.floats(0.25, 0.6), own=st.sampled_from([(190, 40, 44), (230, 230, 230), (150, 120, 40)]))
@settings(max_examples=12, deadline=None)
def test_a_solid_cloth_that_is_told_stays_as_it_is(own: tuple[int, ...], through: float) -> None:
    """Even beside more of a cloth that would make it."""
    seen = veiled(own, through)
    frames = shots(seen)
    for frame in frames:
        frame[:, 150:190] = own
    told = learn_key(frames, kind="green", mix="codes", solid=[as_hex(seen)])
    assert keyed(told, seen) == pytest.approx(seen, abs=4)


def test_untold_the_same_cloth_may_be_either() -> None:
    """Else the two tests above would show nothing: one answer cannot suit both."""
    seen = veiled((190, 40, 44), 0.5)
    found = keyed(learn_key(shots(seen), kind="green", mix="codes"), seen)
    assert min(np.abs(found - seen).max(), np.abs(found - 0.5 * np.array((190, 40, 44))).max()) < 12
    assert np.abs(found - seen).max() + np.abs(found - 0.5 * np.array((190, 40, 44))).max() > 40


def test_the_swatches_are_what_the_clip_shows_the_largest_first() -> None:
    first, second = learn_key(shots(BLUE), kind="green").cloths[:2]
    assert (first.through, first.sure) == (0, True)
    assert first.part == pytest.approx(0.93, abs=0.03)  # 100 x 80 pixels beside a circle of 14
    for swatch, colour in ((first, BLUE), (second, SKIN)):
        shown = [int(swatch.colour[i : i + 2], 16) for i in (1, 3, 5)]
        assert shown == pytest.approx(colour, abs=2)


@pytest.mark.parametrize("which", ["solid", "sheer"])
def test_a_cloth_that_is_nowhere_is_said(which: str) -> None:
    frames = shots(BLUE)
    key = learn_key(frames, kind="green", **{which: ["#ff00c8"]})  # type: ignore[arg-type]
    said = [one for one in key.remarks if one.subject == "cloth"]
    assert [one.level for one in said] == ["caution"]
    assert "nothing of the figure looks like the cloth #ff00c8" in said[0].text


@pytest.mark.parametrize(
    ("kind", "words"), [("black", {"solid": ["#806040"]}), ("none", {"sheer": ["#806040"]})]
)
def test_before_no_colour_no_cloth_can_be_told(kind: str, words: dict[str, list[str]]) -> None:
    with pytest.raises(InputError, match=f"with the backing {kind} no cloths are told apart"):
        learn_key(shots(BLUE), kind=kind, **words)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("swatch", "text", "remedy"),
    [
        (Swatch("#50905a", 0.36, 0.29, sure=False), "29% of the backing shows", "--solid '#50905a'.*--sheer"),
        (Swatch("#6a7d5e", 0.05, 0.0, sure=False), "taken for solid cloth, though", "--sheer '#rrggbb'"),
        (Swatch("#50905a", 0.36, 0.29, sure=True), None, None),
        (Swatch("#50905a", 0.04, 0.29, sure=False), None, None),
    ],
)
def test_a_cloth_in_doubt_is_said_if_there_is_much_of_it(
    swatch: Swatch, text: str | None, remedy: str | None
) -> None:
    said = on_cloths([swatch], [])
    if text is None or remedy is None:
        assert said == []
    else:
        assert [one.level for one in said] == ["note"]
        assert text in said[0].text
        assert re.search(remedy, said[0].remedy)


def test_what_was_told_is_in_doubt_no_more() -> None:
    seen = veiled((230, 230, 230), 0.5)
    key = learn_key(shots(seen), kind="green", mix="codes", sheer=["#e6e6e6"])
    assert key.cloths[0].sure
    assert key.cloths[0].through == pytest.approx(0.5, abs=0.03)
