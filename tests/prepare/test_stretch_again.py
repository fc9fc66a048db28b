"""A stretch that was keyed once is not read again for other settings of its light, and only then."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from ghostprep.clip import ClipFacts, probe
from ghostprep.prepare.recipe import Recipe
from tests.prepare.conftest import shown

RECIPE = Recipe(raster=(160, 120))
OTHER = replace(RECIPE, gain=1.2, tint="#ffe0b0")


def stretch_in(folder: Path) -> Path:
    """Return the file of the stretch: the last that was written."""
    return max(folder.iterdir(), key=lambda path: path.stat().st_mtime_ns)


def test_another_light_reads_nothing_and_shows_the_same(
    large: ClipFacts, folder: Path, reads: list[tuple[int, int]]
) -> None:
    fresh = shown(large, replace(OTHER, cache=False))
    shown(large, RECIPE)
    reads.clear()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("ghostprep.clip.footage.may_be_kept", lambda *_: False)
        assert (shown(large, OTHER) == fresh).all()
    assert reads == []


@pytest.mark.parametrize("other", [{"raster": (128, 96)}, {"end": Fraction(1)}, {"fill": "#ff8040"}], ids=str)
def test_another_size_stretch_or_key_is_read(
    large: ClipFacts,
    folder: Path,
    reads: list[tuple[int, int]],
    other: dict[str, object],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("ghostprep.clip.footage.may_be_kept", lambda *_: False)
    shown(large, RECIPE)
    reads.clear()
    recipe = replace(RECIPE, **other)  # type: ignore[arg-type]
    again = shown(large, recipe)
    assert len(reads) == 1
    assert (again == shown(large, replace(recipe, cache=False))).all()


@pytest.mark.parametrize("harm", ["cut", "flip"])
def test_a_spoilt_stretch_is_read_again(
    large: ClipFacts,
    folder: Path,
    reads: list[tuple[int, int]],
    monkeypatch: pytest.MonkeyPatch,
    harm: str,
) -> None:
    monkeypatch.setattr("ghostprep.clip.footage.may_be_kept", lambda *_: False)
    first = shown(large, RECIPE)
    file = stretch_in(folder)
    whole = file.read_bytes()
    middle = len(whole) // 2
    after = b"" if harm == "cut" else bytes([whole[middle] ^ 0x55]) + whole[middle + 1 :]
    file.write_bytes(whole[:middle] + after)
    reads.clear()
    assert (shown(large, RECIPE) == first).all()
    assert len(reads) == 1
    assert file.stat().st_size == len(whole)


def test_alpha_comes_back_with_its_coverage(
    make_letter_clip: Callable[..., Path], tmp_path: Path, folder: Path, reads: list[tuple[int, int]]
) -> None:
    codec = ("-vf", "colorkey=0x00b140:0.3:0", "-c:v", "png", "-pix_fmt", "rgba")
    clip = probe(make_letter_clip(tmp_path / "letter.mov", size=(1920, 1080), frames=6, arguments=codec))
    assert clip.alpha != "none"
    first = shown(clip, RECIPE)
    assert (shown(clip, RECIPE) == first).all()
    assert len(reads) == 1


def test_without_the_cache_nothing_is_left(large: ClipFacts, folder: Path) -> None:
    shown(large, replace(RECIPE, cache=False))
    assert not folder.exists()


def test_a_stretch_of_a_small_clip_is_kept(
    make_letter_clip: Callable[..., Path], tmp_path: Path, folder: Path, reads: list[tuple[int, int]]
) -> None:
    clip = probe(make_letter_clip(tmp_path / "letter.mp4", size=(160, 120), frames=12))
    shown(clip, RECIPE)
    shown(clip, RECIPE)
    assert len(reads) == 1


def test_a_stretch_beyond_the_bound_is_not_kept(
    large: ClipFacts, folder: Path, reads: list[tuple[int, int]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ghostprep.clip.footage.may_be_kept", lambda *_: False)
    monkeypatch.setattr("ghostprep.clip.recall.MADE_BYTES", 1000)
    shown(large, RECIPE)
    reads.clear()
    shown(large, RECIPE)
    assert len(reads) == 1


def test_a_full_disk_is_no_error(
    large: ClipFacts, folder: Path, reads: list[tuple[int, int]], monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    expected: np.ndarray = shown(large, replace(RECIPE, cache=False))
    monkeypatch.setattr("ghostprep.clip.recall.write_archive", full)
    monkeypatch.setattr("ghostprep.clip.recall.write_value", full)
    assert (shown(large, RECIPE) == expected).all()
    assert list(folder.iterdir()) == []
