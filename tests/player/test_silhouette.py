"""Where the rim runs: against plain loops over blocks and pixels."""

from __future__ import annotations

import itertools
import re

import numpy as np
import pytest

from ghostprep.player.encode.regions import regions_graph
from ghostprep.player.silhouette import Silhouette

Frame = np.ndarray


def blob(x: int, y: int, *, size: tuple[int, int] = (96, 64), side: int = 20) -> Frame:
    frame = np.zeros((size[1], size[0], 3), np.uint8)
    frame[y : y + side, x : x + side] = (180, 120, 60)
    return frame


def test_offsets_by_brute_force() -> None:
    frames = [blob(30, 20), blob(31, 20)]
    map_ = Silhouette((96, 64), 2)
    map_.add(frames)
    ((first, after, offsets),) = map_.offsets(rim=-20.0, share=1.0, rest=-5.0)
    assert (first, after) == (0, 2)
    for row in range(4):
        for column in range(6):
            near = figure = 0
            for frame in frames:
                lit = np.argwhere(frame.any(axis=-1))
                for y in range(row * 16, row * 16 + 16):
                    for x in range(column * 16, column * 16 + 16):
                        away = np.abs(lit - (y, x)).max(axis=1).min()
                        near += 1 <= away <= 4
                        figure += away == 0
            expected = 0.0 if figure and not near else -20.0
            assert offsets[row, column] == expected, (row, column)


def test_dear_blocks_are_left_out_first() -> None:
    rng = np.random.default_rng(0)
    frame = np.zeros((64, 128, 3), np.uint8)
    frame[20:44, 10:34] = 100  # smooth: cheap
    frame[20:44, 80:104] = rng.integers(1, 256, (24, 24, 3))  # noise: dear
    map_ = Silhouette((128, 64), 1)
    map_.add([frame])
    ((_, _, offsets),) = map_.offsets(rim=-20.0, share=0.7, rest=-5.0)
    assert -5.0 in offsets[:, 4:]
    assert -5.0 not in offsets[:, :3]


def test_memory_does_not_grow_with_length() -> None:
    map_ = Silhouette((32, 32), 1)
    map_.add(blob(4, 4, size=(32, 32), side=8) for _ in range(500))
    stretches = map_.offsets(rim=-10.0, share=1.0, rest=0.0)
    assert len(stretches) <= 48
    assert stretches[0][0] == 0
    assert stretches[-1][1] == map_.frames == 500
    assert all(one[1] == two[0] for one, two in itertools.pairwise(stretches))


@pytest.mark.parametrize(("frames", "stretch"), [(144, 3), (145, 6), (288, 6), (289, 12)])
def test_stretches_grow_only_where_48_do_not_suffice(frames: int, stretch: int) -> None:
    """A figure that jumps to the other side every six frames: what is folded tells of the right frames."""
    map_ = Silhouette((64, 32), 3)
    blobs = [blob(4 + 40 * (n // 6 % 2), 4, size=(64, 32), side=8) for n in range(frames)]
    # the figure jumps between the two parts as well: what is added goes on from what was
    map_.add(blobs[:6])
    map_.add(blobs[6:])
    stretches = map_.offsets(rim=-10.0, share=1.0, rest=0.0)
    assert map_.stretch == stretch
    assert [(first, after) for first, after, _ in stretches] == [
        (first, min(first + stretch, frames)) for first in range(0, frames, stretch)
    ]
    if stretch <= 6:
        for first, _, _ in stretches:
            near = map_._near[first // stretch]
            # up to 4 px beside the figure: in the left third, or in the right one
            assert (near[:, 0].sum() > 0) == (first // 6 % 2 == 0)


def test_the_graph_names_each_run_once() -> None:
    offsets = np.array([[0.0, -10.2, -10.2], [-5.1, 0.0, 0.0]])
    graph = regions_graph([(0, 5, offsets), (5, 8, offsets)], "null")
    assert re.findall(r"addroi=([\d:]+):(-[\d.]+)", graph) == 2 * [
        ("16:0:32:16", "-0.2000"),
        ("0:16:16:16", "-0.1000"),
    ]
    assert "trim=start_frame=0:end_frame=5" in graph
    assert "trim=start_frame=5:end_frame=8" in graph
    assert regions_graph([(0, 5, offsets)], "null").endswith(",null")


def test_alike_rows_are_one_region() -> None:
    offsets = np.array([[0.0, -10.2], [0.0, -10.2], [-5.1, -10.2], [-5.1, 0.0]])
    graph = regions_graph([(0, 5, offsets)], "null")
    assert graph == "addroi=16:0:16:48:-0.2000,addroi=0:32:16:32:-0.1000,null"


def test_a_graph_too_long_for_a_command_line_is_joined() -> None:
    rng = np.random.default_rng(1)
    stretches = [(i, i + 1, rng.choice([-10.0, -20.0], (68, 120), p=[0.9, 0.1])) for i in range(48)]
    graph = regions_graph(stretches, "null")
    assert len(graph) < 130_000
    spans = [tuple(map(int, span)) for span in re.findall(r"start_frame=(\d+):end_frame=(\d+)", graph)]
    assert 1 < len(spans) < 48
    assert [frame for first, after in spans for frame in range(first, after)] == list(range(48))


def test_joined_stretches_take_the_lowest_offsets(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ghostprep.player.encode.regions._LONGEST", 300)
    stretches = [
        (i, i + 1, np.where(np.arange(8160) % 48 == i, -20.0, -10.0).reshape(68, 120)) for i in range(48)
    ]
    graph = regions_graph(stretches, "null")
    assert graph == "addroi=0:0:1920:1088:-0.3922,null"


@pytest.mark.parametrize("frames", [0, 1])
def test_few_frames(frames: int) -> None:
    map_ = Silhouette((32, 32), 10)
    map_.add(frames * [np.zeros((32, 32, 3), np.uint8)])
    stretches = map_.offsets(rim=-3.0, share=0.5, rest=0.0)
    assert len(stretches) == frames
    assert all((offsets == -3.0).all() for _, _, offsets in stretches)
