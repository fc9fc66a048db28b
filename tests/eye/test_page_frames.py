"""The frames that travel in the page: each is found again on its sheet, and the strip shows the join."""

from __future__ import annotations

import base64
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.eye.page.page import _strip
from ghostprep.eye.page.sheets import BYTES_PER_FRAME, LONGEST_PX, SheetWriter
from ghostprep.eye.preview import _join_words, _length, _mount_words
from ghostprep.eye.report import FileRun, Join
from ghostprep.eye.watch import Watched
from ghostprep.picture.place import Orientation


@settings(deadline=None, max_examples=25)
@given(
    raster=st.sampled_from([(320, 240), (240, 320), (1280, 720), (90, 1600), (8, 8)]),
    count=st.integers(1, 70),
)
def test_each_frame_is_found_again_on_its_sheet(raster: tuple[int, int], count: int) -> None:
    writer = SheetWriter(raster)
    levels = [60 + (37 * number) % 160 for number in range(count)]
    for level in levels:
        writer.add(np.full((raster[1], raster[0], 3), level, np.uint8))
    sheets = writer.finish()
    wide, high = sheets.size
    assert max(sheets.size) == min(max(raster), LONGEST_PX)
    assert wide / high == pytest.approx(raster[0] / raster[1], rel=0.5 / min(sheets.size) + 1e-9)
    assert sheets.frames == count
    assert len(sheets.addresses) == -(-count // sheets.per)
    # what every browser decodes, and what is full before another is begun
    assert sheets.columns * wide <= 1600
    assert sheets.per // sheets.columns * high <= 1600
    assert (sheets.columns + 1) * wide > 1600
    assert (sheets.per // sheets.columns + 1) * high > 1600
    for number, address in enumerate(sheets.addresses):
        data = base64.b64decode(address.removeprefix("data:image/webp;base64,"))
        picture = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
        here = levels[number * sheets.per : (number + 1) * sheets.per]
        assert picture.shape[1] == min(sheets.columns, len(here)) * wide
        for place, level in enumerate(here):
            row, column = divmod(place, sheets.columns)
            middle = picture[row * high + high // 2, column * wide + wide // 2]
            assert np.abs(middle.astype(int) - level).max() <= 4


def test_what_costs_much_is_kept_coarser_within_its_bytes() -> None:
    """Noise is what WebP can do least with."""
    noise = np.random.default_rng(1)
    writer = SheetWriter((200, 200))
    for _ in range(16):
        writer.add(np.repeat(noise.integers(96, 160, (200, 200, 1), np.uint8), 3, axis=2))
    (address,) = writer.finish().addresses
    assert len(base64.b64decode(address.split(",")[1])) <= 16 * BYTES_PER_FRAME


def strip_of(first: int, last: int, count: int, every: int = 1) -> list[tuple[int, str]]:
    watched = SimpleNamespace(steps=[0.0] * count, every=every, sheets=SimpleNamespace(frames=count // every))
    contents: Any = SimpleNamespace(watched=watched, join=Join((first, last), first, last))
    return [(cell["frame"], cell["kind"]) for cell in _strip(contents)]  # type: ignore[misc]


def test_the_strip_shows_four_frames_before_the_join_and_four_after() -> None:
    """The join's steps lead from frame `first` to frame `last` + 1; what lies between is mixed."""
    assert strip_of(39, 39, 40) == [
        (36, "cell"), (37, "cell"), (38, "cell"), (39, "cell"),
        (0, "after"), (1, "cell"), (2, "cell"), (3, "cell"),
    ]  # fmt: skip
    assert strip_of(10, 12, 40) == [
        (7, "cell"), (8, "cell"), (9, "cell"), (10, "cell"), (11, "inside"), (12, "inside"),
        (13, "cell"), (14, "cell"), (15, "cell"), (16, "cell"),
    ]  # fmt: skip
    long = strip_of(10, 29, 60, every=2)
    assert [frame for frame, kind in long if kind == "cell"] == [3, 4, 4, 5, 15, 15, 16, 16]
    inside = [frame for frame, kind in long if kind == "inside"]
    assert inside == [7, 9, 11, 13]  # of frames 11 to 29, evenly
    assert strip_of(4, 4, 6) == [(number, "cell") for number in range(6)]


@given(first=st.integers(0, 59), length=st.integers(1, 40))
def test_a_strip_is_in_order_and_never_leaves_the_loop(first: int, length: int) -> None:
    cells = strip_of(first, (first + length - 1) % 60, 60)
    frames = [frame for frame, _ in cells]
    steps = [(b - a) % 60 for a, b in pairwise(frames)]
    assert all(step >= 1 for step in steps)
    assert sum(steps) < 60
    inside = {(first + k) % 60 for k in range(1, length)}
    assert all((frame in inside) is (kind == "inside") for frame, kind in cells)
    assert len([1 for _, kind in cells if kind == "inside"]) == min(length - 1, 4)


def watched(*parts: FileRun, steps: tuple[float, ...] = (0.1,) * 50, frames: int = 50) -> Watched:
    facts: Any = SimpleNamespace(rate=Fraction(25), path=Path("l.mp4"))
    nothing: Any = None
    return Watched(
        facts=facts, frames=frames, every=1, parts=parts, sheets=nothing, lit=(0, 0, 1, 1), steps=steps,
        best=nothing, proofs=(), findings=(),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("output", "frames", "parts", "words"),
    [
        ({}, 50, (), "50 frames, 2.00 s"),
        ({"frames": 50}, 50, (), "50 frames, 2.00 s"),
        ({"frames": 500}, 50, (), "50 frames, 500 with its repeats, 2.00 s"),
        ({"frames": 1}, 1, (), "1 frame, 0.04 s"),
        ({"frames": 500}, 50, (FileRun(0, 50, "a"),),
         "20 s long; its ghost is shown once, without the dark between them"),
        ({"frames": "x"}, 50, (FileRun(0, 20, "a"), FileRun(30, 60, "b")),
         "each of its 2 ghosts is shown once, without the dark between them"),
    ],
)  # fmt: skip
def test_how_long_a_loop_is_in_words(
    output: dict[str, object], frames: int, parts: tuple[FileRun, ...], words: str
) -> None:
    assert _length({"output": output} if output else {}, watched(*parts, frames=frames)) == words


def test_a_join_is_told_by_its_place_and_by_how_far_it_moves() -> None:
    steps = tuple(0.2 if k in {20, 49} else 0.1 for k in range(50))
    at_end = _join_words(Join((49,), 49, 49), watched(steps=(*steps[:20], 0.1, *steps[21:])))
    assert at_end.startswith("It lies at the file's end. The largest step inside the join is 0.2000, ")
    assert "2.00 times the clip's own motion" in at_end
    assert at_end.endswith("looks for a better one.")
    inside = _join_words(Join((19, 20, 49), 19, 20), watched(steps=steps))
    assert inside.startswith("It lies at 0.84 s, frame 21.")
    calm = _join_words(Join((49,), 49, 49), watched())
    assert "1.00 times" in calm
    assert calm.endswith("The eye will not find it.")
    ghosts = _join_words(Join((49,), 49, 49), watched(FileRun(0, 50, "a")))
    assert "no join to be seen" in ghosts


@pytest.mark.parametrize(
    ("mirrored", "turns", "words"),
    [
        (False, 0, "The raster is upright, as it is seen."),
        (True, 0, "The raster is mirrored, since the pane mirrors it back."),
        (False, 1, "The raster is turned 90 degrees clockwise, as the player hangs."),
        (True, 3, "The raster is mirrored, since the pane mirrors it back; turned 270 degrees clockwise, "
                  "as the player hangs."),
    ],
)  # fmt: skip
def test_how_the_raster_is_turned_in_words(mirrored: bool, turns: int, words: str) -> None:
    mount = SimpleNamespace(bent=False)
    setting: Any = SimpleNamespace(
        orientation=Orientation(mirrored, turns), plan=SimpleNamespace(mount=mount), assumed=""
    )
    assert _mount_words(setting) == words
    mount.bent = True
    bent = "bent a little, since the screen does not stand square to the ghost."
    assert _mount_words(setting).endswith(bent)
    setting.assumed = "An ordinary box"
    assert not _mount_words(setting).endswith(bent)
