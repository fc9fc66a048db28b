"""What a script gives is of the annotated type, or one line says what it must be."""

from __future__ import annotations

import inspect
import pickle
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import ghostprep
from ghostprep.box import Box
from ghostprep.effects import Appear, Calm, ForPane, KeyToBlack, SeamlessLoop, SizeForScene


@pytest.mark.parametrize(
    ("name", "wrong", "right"),
    [
        ("length", [4, "4", (3,), (3, 6, 9), [3, 6], ("3", "6")], [(3, 6), (3.0, np.float32(6)), None]),
        ("raster", [320, "320x240", (320.0, 240), (True, 240)], [(320, np.int64(240))]),
        ("turn", ["90", 90.0, True], [90, None]),
        ("start", ["x", 0.1, float("nan")], [1, Fraction(1, 10)]),
        ("crop", [(1, 2, 3, 4), "all", None], [Box(1, 2, 3, 4), "none"]),
        ("scene", [5, "hall.toml"], [Path("hall.toml")]),
        ("gain", ["x", None], [2, "auto"]),
        ("edge", [3.5], [3]),
        ("join", [None, "blend"], ["ends"]),
        ("calm", [1, "yes"], [True]),
        ("repeat_for", ["10:00"], [600]),
    ],
)
def test_an_option_is_of_its_type(name: str, wrong: list[Any], right: list[Any]) -> None:
    for value in wrong:
        with pytest.raises(
            ghostprep.InputError, match=f"--{name.replace('_', '-')}: is .*, it must be .*; Recipe.read"
        ):
            ghostprep.Recipe(**{name: value})
    for value in right:
        assert getattr(ghostprep.Recipe(**{name: value}), name) == value


def test_a_length_of_whole_numbers_is_told_as_a_length() -> None:
    assert ghostprep.Recipe(length=(3, 6)).as_dict()["length"] == "3-6"
    with pytest.raises(ghostprep.InputError, match="--length: is 6-3, its MIN must be no more than its MAX"):
        ghostprep.Recipe(length=(6, 3))


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: ghostprep.make(5), "clip: is 5, it must be Path or str"),  # type: ignore[arg-type]
        (lambda: ghostprep.make("a.mp4", None, {}), "recipe: is {}, it must be Recipe"),  # type: ignore[arg-type]
        (lambda: ghostprep.make("a.mp4", progress=3), "progress: is 3, it must be a function"),  # type: ignore[arg-type]
        (lambda: ghostprep.inspect(None), "clip: is None, it must be Path or str"),  # type: ignore[arg-type]
        (lambda: ghostprep.load_scene(5), "path: is 5, it must be str or Path"),  # type: ignore[arg-type]
        (lambda: ghostprep.plan(5), "scene: is 5, it must be Scene or str or Path"),  # type: ignore[arg-type]
        (lambda: ghostprep.preview("a.mp4", corners=[1, 2]), "corners: is .1, 2., it must be Sequence"),  # type: ignore[list-item]
        (lambda: SeamlessLoop(4), "SeamlessLoop.length_s: is 4, it must be tuple"),
        (lambda: KeyToBlack(plate="x.png"), "KeyToBlack.plate: is 'x.png', it must be ndarray"),
        (lambda: SizeForScene(None), "SizeForScene.scene: is None, it must be str or Path"),
        (lambda: ForPane(turn="90"), "ForPane.turn: is '90', it must be int"),
        (lambda: Appear(5, 60), "Appear.every_s: is 5, it must be tuple"),
        (lambda: Calm("yes"), "Calm.red: is 'yes', it must be bool"),
    ],
)
def test_what_a_script_calls_says_what_it_takes(call: Any, said: str) -> None:
    with pytest.raises(ghostprep.InputError, match=said):
        call()


def test_every_public_function_is_held_to_its_types() -> None:
    functions = [one for one in map(ghostprep.__getattr__, ghostprep._HOMES) if inspect.isfunction(one)]
    assert len(functions) == 6
    for function in functions:
        assert not inspect.signature(function).parameters or hasattr(function, "__wrapped__")
        assert pickle.loads(pickle.dumps(function)) is function  # as pools of processes want it
