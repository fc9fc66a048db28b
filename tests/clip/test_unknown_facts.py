"""What is taken where a file does not tell, or tells it in its pictures only."""

from __future__ import annotations

import importlib
from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from ghostprep.clip import describe

# the package's names `probe` and `glance` are the functions
PROBE: Any = importlib.import_module("ghostprep.clip.probe")
GLANCE: Any = importlib.import_module("ghostprep.clip.glance")


def told(*interlaced: bool, pts: int | None = 90, **stream: Any) -> describe.FirstFrames:
    of: Any = SimpleNamespace(
        **{"guessed_rate": Fraction(24), "sample_aspect_ratio": Fraction(4, 3)} | stream,
        container=SimpleNamespace(name="file:clip.mkv"),
    )
    frames: Any = [
        SimpleNamespace(
            pts=pts, time_base=Fraction(1, 30), format=SimpleNamespace(name="yuv420p"), width=64, height=48,
            interlaced_frame=woven, side_data={}, color_range=0, colorspace=-1, color_primaries=-1,
            color_trc=-1,
        ) for woven in interlaced or (False,)
    ]  # fmt: skip
    return describe._first_facts(of, frames)


def test_a_rate_that_no_one_tells_is_25_and_a_pixel_of_no_shape_is_square() -> None:
    """25 is what ffmpeg's own reader of pictures without times takes (image2, option framerate)."""
    known = told()
    assert (known.rate, known.aspect, known.start) == (24, Fraction(4, 3), 3)
    bare = told(guessed_rate=None, sample_aspect_ratio=None, pts=None)
    assert (bare.rate, bare.aspect, bare.start) == (25, 1, 0)
    assert {bare.range, bare.matrix, bare.primaries, bare.transfer} == {"unknown"}


@pytest.mark.parametrize(
    ("woven", "interlaced"), [((False, False), False), ((False, True), True), ((True, True), True)]
)
def test_one_woven_frame_among_the_first_is_enough(woven: tuple[bool, ...], interlaced: bool) -> None:
    first = told(*woven)
    assert (first.count, first.interlaced) == (2, interlaced)


@pytest.mark.parametrize("size", [(1280, 720), (1920, 1080), (3840, 2160), (2160, 3840)])
def test_of_large_pictures_one_reading_at_a_time_holds_them(size: tuple[int, int]) -> None:
    at_once = GLANCE._at_once(SimpleNamespace(coded_size=size))
    assert (at_once == 1) is (max(size) == 3840)


def soft(alpha: int, colour: int, area: int = 400) -> np.ndarray:
    """A view (30, 30, 4) of clear ground, with a soft patch of one colour."""
    view = np.zeros((30, 30, 4), np.uint8)
    view.reshape(-1, 4)[:area] = (colour, 10, 10, alpha)
    return view


@pytest.mark.parametrize(
    ("views", "kind"),
    [
        ([], "straight"),
        ([np.full((30, 30, 4), 255, np.uint8)], "none"),
        # by as much as rounding and a lossy coding may leave over the coverage, and by one code more
        ([soft(120, 123)], "premultiplied"),
        ([soft(120, 124)], "straight"),
        ([soft(120, 100), soft(120, 124)], "straight"),
        # dark soft pixels tell nothing: both kinds have them
        ([soft(120, 89)], "straight"),
        ([soft(120, 92)], "premultiplied"),
        ([soft(120, 92, area=3)], "straight"),
    ],
)
def test_no_colour_of_a_premultiplied_picture_is_brighter_than_its_coverage(
    views: list[np.ndarray], kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    glimpses = [SimpleNamespace(frame=view) for view in views]
    monkeypatch.setattr(PROBE, "glance", lambda *_, **__: glimpses)
    monkeypatch.setattr(PROBE, "replace", lambda facts, **_: facts)
    facts = SimpleNamespace(size=(30, 30), codec=next(iter(PROBE._OFTEN_PREMULTIPLIED)))
    assert PROBE._kind_of_alpha(facts) == kind
