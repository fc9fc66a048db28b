"""The survey is recalled where nothing that it depends on has changed, and only there."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from ghostprep.arrays import Frame
from ghostprep.clip import Footage, glance, probe
from ghostprep.clip.cache import Cache
from ghostprep.prepare.begin import begun
from ghostprep.prepare.learn import learn
from ghostprep.prepare.recipe import Recipe
from ghostprep.prepare.survey import survey
from ghostprep.progress import silent


@pytest.fixture(scope="module")
def letter(make_letter_clip: Callable[..., Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_letter_clip(tmp_path_factory.mktemp("small") / "letter.mp4", size=(160, 120), frames=75)


@pytest.fixture
def passes(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Grows by one with each pass over a clip that decodes it."""
    made: list[str] = []
    real = Footage._pass

    def counted(self: Footage, *arguments: object) -> object:
        made.append("pass")
        return real(self, *arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(Footage, "_pass", counted)
    # what is told of the first glimpses is no pass
    monkeypatch.setattr(Footage, "glimpses", glimpsed)
    return made


def glimpsed(footage: Footage, longest: int, *_: object) -> list[Frame]:
    return [glimpse.frame for glimpse in glance(footage.facts, longest=longest)]


def seen_in(clip: Path, recipe: Recipe, rate: Fraction | None = None) -> dict[str, object]:
    with begun(probe(clip), recipe) as footage:
        key = learn(footage, recipe)
        seen = survey(footage, key, rate or footage.facts.rate, silent)
        fetch = seen.fetch
        assert fetch is not None
        ticks = len(seen.source)
        return {
            "facts": seen.facts,
            "times": seen.times,
            "source": seen.source.tolist(),
            "vectors": seen.strip.vectors(0, ticks).tobytes(),
            "steps": seen.strip.steps.tobytes(),
            "small": b"".join(fetch(tick).tobytes() for tick in range(ticks)),
            "body": seen.body(0, ticks - 1),
            "bright": seen.figure.bright.tobytes(),
        }


def test_a_second_look_recalls_the_same(letter: Path, folder: Path, passes: list[str]) -> None:
    first = seen_in(letter, Recipe())
    names = sorted(folder.iterdir())
    assert len(names) == 3, "the key, the small frames, what was seen in them"
    assert seen_in(letter, Recipe()) == first
    assert sorted(folder.iterdir()) == names
    assert len(passes) == 1


@pytest.mark.parametrize("rate", [Fraction(15), Fraction(24), Fraction(60)])
def test_another_rate_of_the_player_needs_no_second_look(
    letter: Path, folder: Path, passes: list[str], rate: Fraction
) -> None:
    fresh = seen_in(letter, Recipe(cache=False), rate)
    seen_in(letter, Recipe())
    assert seen_in(letter, Recipe(gain=2.0, tint="#ff8000"), rate) == fresh
    assert len(passes) == 2


@pytest.mark.parametrize(
    ("other", "looks"),
    [
        ({"start": Fraction(1)}, 3),
        ({"end": Fraction(2)}, 3),
        ({"backing": "blue"}, 2),
        ({"backing": "none"}, 2),
    ],
    ids=str,
)
def test_another_part_is_looked_at_anew_and_another_key_is_not(
    letter: Path, folder: Path, passes: list[str], other: dict[str, object], looks: int
) -> None:
    seen_in(letter, Recipe())
    recipe = replace(Recipe(), **other)  # type: ignore[arg-type]
    assert seen_in(letter, recipe) == seen_in(letter, replace(recipe, cache=False))
    assert len(passes) == looks


def test_a_changed_clip_is_looked_at_anew(
    make_letter_clip: Callable[..., Path], tmp_path: Path, folder: Path, passes: list[str]
) -> None:
    clip = make_letter_clip(tmp_path / "letter.mp4", size=(160, 120), frames=12)
    seen_in(clip, Recipe())
    about = clip.stat()
    make_letter_clip(clip, size=(160, 120), frames=13)
    os.utime(clip, ns=(about.st_atime_ns, about.st_mtime_ns))
    assert len(seen_in(clip, Recipe())["source"]) == 13  # type: ignore[arg-type]


def test_no_cache_leaves_nothing(letter: Path, folder: Path) -> None:
    seen_in(letter, Recipe(cache=False))
    assert not folder.exists()


@pytest.mark.parametrize("harm", ["cut", "flip", "empty", "text"])
def test_a_spoilt_file_is_replaced(letter: Path, folder: Path, passes: list[str], harm: str) -> None:
    first = seen_in(letter, Recipe())
    for file in folder.iterdir():
        whole = file.read_bytes()
        middle = len(whole) // 2
        spoilt = {
            "cut": whole[:middle],
            "flip": whole[:middle] + bytes([whole[middle] ^ 0x55]) + whole[middle + 1 :],
            "empty": b"",
            "text": b"not a survey",
        }[harm]
        file.write_bytes(spoilt)
    assert seen_in(letter, Recipe()) == first
    assert seen_in(letter, Recipe()) == first
    assert len(passes) == 2


def test_a_folder_that_cannot_be_made_is_no_error(
    letter: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("GHOSTPREP_CACHE", str(tmp_path / "file" / "seen"))
    assert seen_in(letter, Recipe())["source"]


def test_a_full_disk_is_no_error(letter: Path, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("ghostprep.clip.recall.write_archive", full)
    monkeypatch.setattr("ghostprep.clip.recall.write_value", full)
    assert seen_in(letter, Recipe())["source"]
    assert list(folder.iterdir()) == []


def test_the_cache_is_bounded_and_keeps_what_was_used_last(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ghostprep.clip.cache._MOST_BYTES", 300)
    cache = Cache(tmp_path)
    other = tmp_path / "somebody's file.txt"
    other.write_bytes(bytes(1000))
    for number in range(6):
        digest = f"{number:064x}"
        with cache.adding(digest) as part:
            assert part is not None
            part.write_bytes(bytes(100))
        os.utime(cache.path(digest), (number, number))
        if number == 4:
            # used again, so not the oldest any more
            assert cache.find(f"{2:064x}", Path.read_bytes)
    kept = sorted(path.name for path in tmp_path.glob("*.seen"))
    assert kept == [cache.path(f"{number:064x}").name for number in (2, 4, 5)]
    assert other.exists()


def test_glimpses_are_recalled_and_spoilt_ones_taken_anew(letter: Path, folder: Path) -> None:
    facts = probe(letter)
    fresh = Footage(facts).glimpses(64)
    assert not folder.exists()
    for _ in range(2):
        first = Footage(facts, recall=True).glimpses(64)
        (file,) = folder.iterdir()
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("ghostprep.clip.footage.glance", lambda *_, **__: pytest.fail("decoded again"))
            again = Footage(facts, recall=True).glimpses(64)
        assert all((a == b).all() and (a == c).all() for a, b, c in zip(fresh, first, again, strict=True))
        whole = bytearray(file.read_bytes())
        whole[len(whole) // 2] ^= 0x55
        file.write_bytes(whole)
