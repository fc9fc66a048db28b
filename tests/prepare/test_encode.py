"""Of several encodings the best is kept, not the last."""

from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from ghostprep.prepare import encode as module
from ghostprep.prepare.recipe import Recipe
from ghostprep.prepare.render import Reel
from ghostprep.prepare.setup import set_up
from ghostprep.progress import silent


@dataclass
class Try:
    """An attempt whose file holds its name."""

    name: str
    best: bool
    draft: bool = False
    from_draft: bool = False
    part: None = None


class Control:
    """Asks for three encodings, of which the second is the best so far and the third is worse."""

    asks_for_black = False
    needed_kbps = None

    def __init__(self, *_: object, **__: object) -> None:
        self._left = [Try("second", best=True), Try("third", best=False)]

    def first(self) -> Try:
        return Try("first", best=True)

    def next(self, attempt: Try, made: object) -> Try | None:
        return self._left.pop(0) if self._left else None

    def is_best(self, attempt: Try) -> bool:
        return attempt.best


def test_a_third_and_worse_encoding_is_discarded(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    @dataclass(frozen=True)
    class Facts:
        path: Path

    def written(path: Path, attempt: Try, *_: object, **__: object) -> Facts:
        path.write_text(attempt.name)
        return Facts(path)

    monkeypatch.setattr(module, "RateControl", Control)
    monkeypatch.setattr(module, "_write", written)
    monkeypatch.setattr(module, "measured", lambda *_, **__: SimpleNamespace())
    frames = [np.zeros((240, 320, 3), np.uint8)]
    reel = Reel(frames=frames, rate=Fraction(25), keyed=False, as_shot=lambda _: None)  # type: ignore[arg-type]
    part = tmp_path / "loop.mp4"
    kept = module.encode(part, reel, set_up(Recipe()), silent)
    assert part.read_text() == "second"
    assert kept.facts == replace(kept.facts, path=part)  # type: ignore[type-var]
    assert list(tmp_path.iterdir()) == [part]
