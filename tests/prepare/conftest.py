"""A clip that is large enough for reading it to be what costs, and what its render reads."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from ghostprep.clip import ClipFacts, footage, probe
from ghostprep.prepare import ghost
from ghostprep.prepare.begin import begun
from ghostprep.prepare.recipe import Recipe
from ghostprep.prepare.setup import set_up
from ghostprep.progress import silent

FAST = ("-c:v", "libx264", "-preset", "ultrafast", "-crf", "14", "-pix_fmt", "yuv420p", "-g", "10")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a cache folder that nobody has used."""
    place = tmp_path / "seen before"
    monkeypatch.setenv("GHOSTPREP_CACHE", str(place))
    return place


@pytest.fixture(scope="module")
def large(make_letter_clip: Callable[..., Path], tmp_path_factory: pytest.TempPathFactory) -> ClipFacts:
    path = tmp_path_factory.mktemp("large") / "letter.mp4"
    return probe(make_letter_clip(path, size=(1920, 1080), frames=36, rate=Fraction(12), arguments=FAST))


def shown(facts: ClipFacts, recipe: Recipe) -> np.ndarray:
    setup = set_up(recipe)
    with ghost.prepare_ghost(begun(facts, recipe, again=True), recipe, setup, facts.rate, silent) as made:
        return np.stack(list(made.shown))


@pytest.fixture
def reads(monkeypatch: pytest.MonkeyPatch) -> list[tuple[int, int]]:
    """The sizes at which the render decodes."""
    sizes: list[tuple[int, int]] = []
    real = footage.read_frames

    def noted(facts: ClipFacts, **named: object) -> object:
        if "stop" in named:  # the pass goes to the end
            sizes.append(named["size"])  # type: ignore[arg-type]
        return real(facts, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(footage, "read_frames", noted)
    return sizes
