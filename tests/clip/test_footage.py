"""A clip's frames asked for again: the same ones, from a pass, from a seek or from an earlier run."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from ghostprep.box import Box
from ghostprep.clip import Footage, footage, glance, probe, read_frames, stream
from ghostprep.clip.glance import waits_for_pass
from ghostprep.errors import JobError

X264 = ("-c:v", "libx264", "-preset", "ultrafast", "-crf", "10", "-pix_fmt", "yuv420p", "-g", "6")
WHOLE = Box(0, 0, 128, 96)


@pytest.fixture
def path(encode: Callable[..., Path], card: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """24 numbered pictures at 25 a second, and a cache of their own."""
    monkeypatch.setenv("GHOSTPREP_CACHE", str(tmp_path / "cache"))
    return encode("clip.mp4", *X264, frames=card.frames(24))


@pytest.fixture
def no_decoder(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """From its call on nothing may be decoded."""

    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("it is decoded again")

    def close() -> None:
        monkeypatch.setattr(footage, "read_frames", refuse)
        monkeypatch.setattr(footage, "glance", refuse)

    return close


def test_a_stretch_begins_at_its_start_and_ends_before_its_end(path: Path, card: Any) -> None:
    with Footage(probe(path), longest=64, start=Fraction(5, 25), end=Fraction(15, 25)) as clip:
        seen = list(clip.look_through())
        assert [number for number, _, _ in seen] == list(range(5, 15))
        assert [time for _, time, _ in seen] == [Fraction(n, 25) for n in range(5, 15)]
        assert [card.number(frame) for _, _, frame in seen] == list(range(5, 15))
        assert seen[0][2].shape == (48, 64, 3)
        # what came before the start was counted, what comes after the end was not
        assert clip.times == tuple(Fraction(n, 25) for n in range(15))
        assert clip.facts.frames == 15
        assert clip.damage is None
        assert clip.keeps_small
        assert card.number(clip.small(5)) == 5
        assert card.number(clip.small(14)) == 14


def test_frames_are_asked_for_by_number_part_and_size(path: Path, card: Any) -> None:
    with Footage(probe(path), longest=64) as clip:
        assert len(list(clip.look_through())) == 24
        got = list(clip.frames([3, 4, 9, 20], WHOLE, (64, 48)))
        assert [card.number(frame) for frame in got] == [3, 4, 9, 20]
        (part,) = clip.frames([7], Box(64, 0, 32, 40), (32, 40))
        assert np.abs(part[12:28, 8:24].mean((0, 1)) - card.patches[0, 2]).max() < 6
        assert clip.grid == 2


def test_what_passed_is_there_for_the_next_run(
    path: Path, card: Any, no_decoder: Callable[[], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    facts, asked = probe(path), {"longest": 64, "start": Fraction(2, 25), "end": Fraction(20, 25)}
    with Footage(facts, **asked, recall=True) as first:
        passed = list(first.look_through())
        glimpses = first.glimpses(40)
    no_decoder()
    with Footage(facts, **asked, recall=True) as again:
        again.begin()
        for (number, time, frame), (number_2, time_2, frame_2) in zip(
            passed, again.look_through(), strict=True
        ):
            assert (number, time) == (number_2, time_2)
            np.testing.assert_array_equal(frame, frame_2)
        assert again.times == first.times
        assert again.facts.frames == first.facts.frames == 20
        np.testing.assert_array_equal(again.small(7), first_of(passed, 7))
        np.testing.assert_array_equal(again.glimpses(40), glimpses)
    # another stretch, another size: not what was kept
    for other in ({"start": Fraction(3, 25)}, {"end": None}, {"longest": 48}, {"recall": False}):
        told = {**asked, "recall": True, **other}
        with Footage(facts, **told) as again, pytest.raises(AssertionError, match="decoded again"):
            list(again.look_through())


def first_of(passed: list[tuple[int, Fraction, np.ndarray]], wanted: int) -> np.ndarray:
    return next(frame for number, _, frame in passed if number == wanted)


def made_of(clip: Footage, about: object, make: Callable[[], Iterable[np.ndarray]]) -> list[np.ndarray]:
    with clip.recall.made(about, 3, (6, 4), make, channels=3) as store:
        return list(store)


def test_what_was_made_and_worked_out_is_there_for_the_next_run(path: Path) -> None:
    facts, calls = probe(path), []

    def make(count: int = 3) -> Callable[[], Iterator[np.ndarray]]:
        def frames() -> Iterator[np.ndarray]:
            calls.append(count)
            yield from (np.full((4, 6, 3), 20 * n, np.uint8) for n in range(count))

        return frames

    for run in range(2):
        with Footage(facts, recall=True) as clip:
            made = made_of(clip, "light", make())
            assert [int(frame[0, 0, 0]) for frame in made] == [0, 20, 40]
            assert calls == [3]
            # fewer than were announced: not all there is, so not kept
            assert len(made_of(clip, "short", make(2))) == 2
            assert calls[1:] == [2]
            del calls[1:]
            assert clip.recall.worked_out("worth", lambda run=run: 10 + run) == 10
    with Footage(facts) as clip:
        assert len(made_of(clip, "light", make())) == 3
        assert calls == [3, 3]
        assert clip.recall.value("worth") is None


def test_what_would_fill_the_cache_is_not_kept(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """24 pictures of 64x48 are 221 184 bytes; of what is made, 3 of 6x4 are 216."""
    made = [np.zeros((4, 6, 3), np.uint8)] * 3
    for least, kept in ((216, True), (215, False)):
        monkeypatch.setattr("ghostprep.clip.recall.MADE_BYTES", least)
        calls = []
        for _ in range(2):
            with Footage(probe(path), recall=True) as clip:
                made_of(clip, least, lambda calls=calls: calls.append(1) or made)
        assert len(calls) == (1 if kept else 2)
    for least, kept in ((221_184, True), (221_183, False)):
        monkeypatch.setattr(footage, "PASS_BYTES", least)
        with Footage(probe(path), longest=64) as clip:
            assert len(list(clip.look_through())) == 24
            assert clip.keeps_small is kept
    with Footage(probe(path)) as clip, pytest.raises(IndexError, match="no small frames"):
        clip.small(0)


def test_glimpses_lie_evenly_over_the_clip(path: Path, card: Any) -> None:
    facts = probe(path)
    for count in (4, 12):
        seen = glance(facts, count, longest=64)
        numbers = [card.number(one.frame) for one in seen]
        assert [one.time for one in seen] == [Fraction(n, 25) for n in numbers]
        assert len(numbers) <= count
        assert numbers == sorted(set(numbers))
        gaps = np.diff([*numbers, 24])
        assert max(gaps) <= 24 / min(count, 4)


@pytest.mark.parametrize(("room", "ahead"), [(1, 1), (2, 2), (100, 24)])
def test_the_decoder_runs_ahead_as_far_as_its_frames_may_wait(
    path: Path, card: Any, monkeypatch: pytest.MonkeyPatch, room: int, ahead: int
) -> None:
    told: list[int] = []

    def halved(number: int, frame: np.ndarray) -> np.ndarray:
        told.append(number)
        return frame[::2, ::2].copy()

    monkeypatch.setattr(stream, "_AHEAD_SMALL_BYTES", room * 64 * 48 * 3)
    with read_frames(probe(path), arrived=halved) as frames:
        assert frames.gather(lambda count: None) is (ahead == 24)
        time.sleep(0.2)
        assert told == list(range(ahead))
        seen = list(frames)
        assert [card.number(frame) for frame in seen] == list(range(24))
        assert {frame.shape for frame in seen} == {(48, 64, 3)}
        assert told == list(range(24))
        assert len(frames.times) == 24


def test_glimpses_come_from_the_pass_where_all_of_it_may_wait(
    path: Path, card: Any, no_decoder: Callable[[], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of 24 frames with four key frames."""
    with Footage(probe(path), longest=64) as clip:
        clip.begin()
        no_decoder()
        assert [card.number(frame) for frame in clip.glimpses(128)] == list(range(24))
        assert len(list(clip.look_through())) == 24
    monkeypatch.undo()
    monkeypatch.setattr(stream, "_AHEAD_SMALL_BYTES", 2 * 64 * 48 * 3)
    with Footage(probe(path), longest=64) as clip:
        clip.begin()
        seen = [card.number(frame) for frame in clip.glimpses(128)]
        assert max(seen) > 12
        assert len(list(clip.look_through())) == 24


def test_no_glimpses_are_kept_of_a_decoder_that_is_ended(
    path: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """It may have come halfway: what is kept would be taken for the whole clip at the next run."""
    facts = probe(path)
    with Footage(facts, longest=64, recall=True) as clip:
        monkeypatch.setattr(stream.Child, "finish", lambda _: -9)
        clip.begin()
        with pytest.raises(JobError, match="the decoder was ended"):
            clip.glimpses(128)
    assert not [*(tmp_path / "cache").rglob("*.*")]


def test_what_fails_on_a_frame_that_arrives_fails_the_pass(path: Path) -> None:
    def full(number: int, frame: np.ndarray) -> np.ndarray:
        raise OSError("no room")

    with read_frames(probe(path), arrived=full) as frames, pytest.raises(OSError, match="no room"):
        frames.gather(lambda count: None)


def test_of_large_pictures_glimpses_wait_for_the_pass(path: Path) -> None:
    """Key frames as few as a camera's are decoded beside it, but not by a second decoder of such pictures."""
    few = replace(probe(path), frames=300, duration_s=10.0, key_frames=10)
    assert not waits_for_pass(few)
    assert waits_for_pass(replace(few, coded_size=(3840, 2160)))


def test_glimpses_that_are_recalled_are_not_made_again(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    facts = probe(path)
    with Footage(facts, longest=64, recall=True) as first:
        first.begin()
        wanted = first.glimpses(640)
    sizes: list[tuple[int, int]] = []
    real = footage._resized

    def resized(frame: np.ndarray, size: tuple[int, int]) -> np.ndarray:
        sizes.append(size)
        return real(frame, size)

    monkeypatch.setattr(footage, "_resized", resized)
    with Footage(facts, longest=64, recall=True) as again:
        again.begin()
        assert (np.stack(again.glimpses(640)) == np.stack(wanted)).all()
        assert len(list(again.look_through())) == 24
    assert sizes == [(64, 48)] * 24
