"""A short, large clip is decoded once; what the render finds is what decoding again gives."""

from __future__ import annotations

from contextlib import closing
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from skimage.metrics import peak_signal_noise_ratio

from ghostprep.box import Box
from ghostprep.clip import ClipFacts, Footage, FrameStore
from ghostprep.clip.glance import waits_for_pass
from ghostprep.clip.shrunk import serves, shrink_of
from ghostprep.clip.store import KeptFrames
from ghostprep.prepare.recipe import Recipe
from tests.prepare.conftest import shown


def test_the_render_needs_no_second_decode(large: ClipFacts, reads: list[tuple[int, int]]) -> None:
    recipe = Recipe(raster=(160, 120), cache=False)
    once = shown(large, recipe)
    assert reads == []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("ghostprep.clip.footage.may_be_kept", lambda *_: False)
        again = shown(large, recipe)
    assert reads == [(960, 540)]
    assert (once == again).all()


def test_a_short_clip_is_passed_through_once(large: ClipFacts, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[object] = []
    monkeypatch.setattr("ghostprep.clip.footage.glance", lambda *_, **__: asked.append(1) or [])
    with Footage(large, longest=160) as footage:
        footage.begin()
        glimpses = footage.glimpses(640)
        told: list[tuple[str, int, int | None]] = []
        assert len(footage.glimpses(640, lambda *one: told.append(one))) == 0, "the pass is over"
        assert (asked, told) == ([1], [])
        small = [frame for _, _, frame in footage.look_through()]
    assert len(glimpses) == min(len(small), 32)
    assert {frame.shape for frame in glimpses} == {(360, 640, 3)}
    assert {frame.shape for frame in small} == {(90, 160, 3)}
    with Footage(large, longest=160) as other:
        assert all((one == two[2]).all() for one, two in zip(small, other.look_through(), strict=True))


@pytest.mark.parametrize(
    ("seconds", "keys", "waits"),
    [
        (10.0, 10, False),
        (10.0, 8, False),
        (10.0, 7, True),  # too few to tell how the clip goes on
        (10.0, 15, False),
        (10.0, 16, True),  # decoding these would cost too much: of 300 frames a twentieth may be
        (10.0, 300, True),
        (10.0, None, True),
        (25.0, 6, False),
        (25.0, 5, True),
        (31.0, 5, False),  # its frames are not kept
    ],
)
def test_a_few_key_frames_are_looked_at_beside_the_pass(
    large: ClipFacts, seconds: float, keys: int | None, waits: bool
) -> None:
    facts = replace(large, duration_s=seconds, frames=None, rate=Fraction(30), key_frames=keys)
    assert waits_for_pass(facts) == waits
    if keys:
        bare = replace(facts, container="mpegts")
        assert waits_for_pass(bare) == (seconds <= 30), "no index tells where they are"


def test_it_shows_what_the_decoder_would_scale(large: ClipFacts, reads: list[tuple[int, int]]) -> None:
    recipe = Recipe(raster=(160, 120), cache=False)
    kept = shown(large, recipe)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("ghostprep.clip.footage.serves", lambda *_: False)
        decoded = shown(large, recipe)
    assert len(reads) == 1
    assert max(reads[0]) <= 160
    # two steps of area means, and one bicubic step of another tool: the same picture but for its edges
    assert peak_signal_noise_ratio(decoded, kept) > 34


def test_a_finer_raster_reads_the_clip_itself(large: ClipFacts, reads: list[tuple[int, int]]) -> None:
    shown(large, Recipe(raster=(640, 480), player="h264-main-720p", cache=False))
    assert len(reads) == 1
    assert reads[0][1] == 480


def test_a_full_disk_while_frames_are_kept_is_no_error(
    large: ClipFacts, reads: list[tuple[int, int]], monkeypatch: pytest.MonkeyPatch
) -> None:
    recipe = Recipe(raster=(160, 120), cache=False)
    expected = shown(large, recipe)
    monkeypatch.setattr("ghostprep.clip.footage.KEPT_BYTES", 3_000_000)
    assert (shown(large, recipe) == expected).all()
    assert reads == [(960, 540)]


@pytest.mark.parametrize(("raster", "kept"), [((160, 120), True), ((1280, 720), False)])
def test_what_a_fine_raster_cannot_be_cut_from_is_not_kept(
    large: ClipFacts, raster: tuple[int, int], kept: bool
) -> None:
    with Footage(large, longest=160, again=True) as footage:
        footage.begin()
        # the decoder has begun: the scene that tells the raster is planned meanwhile
        footage.shown_at(raster)
        last = sum(1 for _ in footage.look_through()) - 1
        assert footage._shrunk is not None
        assert footage._shrunk.holds(0, last) is kept


@pytest.mark.parametrize(
    ("size", "seconds", "shrink"),
    [
        ((1920, 1080), 12.0, 2),
        ((1080, 1920), 12.0, 2),
        ((3840, 2160), 12.0, 4),
        ((7680, 4320), 12.0, 8),
        ((4096, 2160), 12.0, 4),
        ((1921, 1080), 12.0, 1),  # no whole half
        ((1280, 720), 12.0, 1),
        ((1920, 1080), 31.0, 1),
        ((1920, 1080), None, 1),
    ],
)
def test_only_short_large_clips_are_delivered_smaller(
    large: ClipFacts, size: tuple[int, int], seconds: float | None, shrink: int
) -> None:
    assert shrink_of(replace(large, size=size, duration_s=seconds)) == shrink
    assert shrink_of(replace(large, size=size, duration_s=seconds, alpha="straight")) == 1


def test_a_crop_off_the_grid_is_left_to_the_decoder() -> None:
    assert serves(Box(8, 8, 80, 80), (20, 20), 2)
    assert not serves(Box(8, 8, 80, 80), (20, 20), 4)
    assert not serves(Box(9, 8, 80, 80), (20, 20), 2)


def test_nothing_kept_holds_nothing() -> None:
    with closing(KeptFrames(FrameStore((4, 4)), 100)) as kept:
        assert not kept.holds(0, 0)
        kept.put(3, np.zeros((4, 4, 3), np.uint8))
        assert kept.holds(3, 3)
        assert not kept.holds(2, 3)
        kept.close()
        assert not kept.holds(3, 3)
        with pytest.raises(IndexError, match="nothing is kept"):
            kept[3]
        kept.put(4, np.zeros((4, 4, 3), np.uint8))
