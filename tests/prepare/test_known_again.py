"""What was learned and which loops were found is known again where nothing that it depends on has changed."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest

from ghostprep.clip import ClipFacts, Footage, probe
from ghostprep.loop import LoopPlan
from ghostprep.prepare import learn, survey
from ghostprep.prepare.begin import begun
from ghostprep.prepare.ghost import prepare_ghost
from ghostprep.prepare.learn import learn as learned
from ghostprep.prepare.recipe import Recipe
from ghostprep.prepare.setup import choose_output_rate, set_up
from ghostprep.progress import silent

RECIPE = Recipe(raster=(160, 120))

LEARNS = {"backing", "mix", "plate", "solid", "sheer"}
"""Options with which the backing, or what is before it, is another one."""
SEARCHES: dict[str, object] = {
    **{"start": Fraction(1, 2), "end": Fraction(3, 2), "fps": Fraction(15), "length": (0.5, 1.0)},
    "fill": "#ff8040",
}
"""Options with which other loops may be found, though the backing is the same."""
LATER: dict[str, object] = {
    **{"gain": 1.2, "tint": "#ffe0b0", "edge": 2, "raster": (128, 96), "reflections": 2, "turn": 90},
    **{"crop": "none", "pick": "5-40", "crossfade": 0.2, "join": "ends", "calm": True, "sound": "keep"},
    **{"player": "h264-main-720p", "repeat_for": Fraction(20), "overwrite": True},
}
"""Options that only what comes after is made with."""
UNTRIED = {"cache", "drift", "matte", "scene"}
"""No cache; stills only; another clip; what a scene tells are the options above."""


@pytest.fixture(scope="module")
def letter(make_letter_clip: Callable[..., Path], tmp_path_factory: pytest.TempPathFactory) -> ClipFacts:
    folder = tmp_path_factory.mktemp("known")
    return probe(make_letter_clip(folder / "letter.mp4", size=(160, 120), frames=50))


@pytest.fixture
def done(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Tells what was done, and not known."""
    monkeypatch.setenv("GHOSTPREP_CACHE", str(tmp_path / "seen before"))
    calls: list[str] = []

    def noted(room: object, name: str) -> None:
        real = getattr(room, name)

        def work(*given: object, **named: object) -> object:
            calls.append(name)
            return real(*given, **named)

        monkeypatch.setattr(room, name, work)

    noted(learn, "learn_key")
    noted(survey, "_look")
    noted(survey, "search")
    return calls


def plan(clip: ClipFacts, recipe: Recipe) -> tuple[LoopPlan, tuple[object, ...]]:
    setup = set_up(recipe)
    rate = choose_output_rate(recipe, setup, clip)
    with prepare_ghost(begun(clip, recipe), recipe, setup, rate, silent) as made:
        return made.take.plan, made.findings


def test_every_option_is_tried() -> None:
    names = {field.name for field in dataclasses.fields(Recipe)}
    assert names == {*LEARNS, *SEARCHES, *LATER, *UNTRIED}


def test_the_same_again_does_nothing(letter: ClipFacts, done: list[str]) -> None:
    first = plan(letter, RECIPE)
    assert done == ["learn_key", "_look", "search"]
    done.clear()
    assert plan(letter, RECIPE) == first
    assert done == []


@pytest.mark.parametrize("name", LATER)
def test_what_comes_later_learns_and_searches_nothing(letter: ClipFacts, done: list[str], name: str) -> None:
    recipe = replace(RECIPE, **{name: LATER[name]})  # type: ignore[arg-type]
    fresh = plan(letter, replace(recipe, cache=False))
    plan(letter, RECIPE)
    done.clear()
    assert plan(letter, recipe) == fresh
    assert done == []


@pytest.mark.parametrize("name", SEARCHES)
def test_another_stretch_rate_or_length_is_searched_anew(
    letter: ClipFacts, done: list[str], name: str
) -> None:
    recipe = replace(RECIPE, **{name: SEARCHES[name]})  # type: ignore[arg-type]
    fresh = plan(letter, replace(recipe, cache=False))
    plan(letter, RECIPE)
    done.clear()
    assert plan(letter, recipe) == fresh
    assert "search" in done
    assert "learn_key" not in done


@pytest.mark.parametrize("told", [{"backing": "#00b140"}, {"mix": "codes"}, {"sheer": ("#204060",)}], ids=str)
def test_another_backing_mix_or_cloth_is_learned(
    letter: ClipFacts, done: list[str], told: dict[str, Any]
) -> None:
    recipe = replace(RECIPE, **told)
    fresh = plan(letter, replace(recipe, cache=False))
    plan(letter, RECIPE)
    done.clear()
    assert plan(letter, recipe) == fresh
    assert done[0] == "learn_key"


def test_a_plate_of_the_same_name_with_another_picture_is_learned(
    letter: ClipFacts, done: list[str], tmp_path: Path
) -> None:
    path = tmp_path / "plate.png"
    for green in (177, 150, 177):
        cv2.imwrite(str(path), np.full((120, 160, 3), (64, green, 0), np.uint8))
        with Footage(letter, recall=True) as footage:
            learned(footage, Recipe(backing="plate", plate=path))
    assert done == ["learn_key"] * 2
