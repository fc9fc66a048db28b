"""Tells an encoder which blocks deserve more bits."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from typing import Final, TypeAlias

import numpy as np

from ghostprep.arrays import Doubles

Stretches: TypeAlias = Sequence[tuple[int, int, Doubles]]
_SCALE: Final = 51  # ffmpeg's offsets are parts of H.264's range of quantisers
_LONGEST: Final = 100_000  # Linux takes no single argument beyond 128 KiB


def regions_graph(stretches: Stretches, tail: str) -> str:
    """Return an ffmpeg filter graph, for ``-vf``, that marks each stretch of frames with its own regions.

    The stretches are as `Silhouette.offsets` returns them; `tail` are the filters that follow, and all of the
    graph where there are none. As long as it is too long for a command line, pairs of stretches share the
    lowest offsets of each block.
    """
    if not stretches:
        return tail
    graph = _graph(stretches, tail)
    while len(graph) > _LONGEST and len(stretches) > 1:
        pairs = (stretches[i : i + 2] for i in range(0, len(stretches), 2))
        stretches = [
            (pair[0][0], pair[-1][1], np.min([offsets for _, _, offsets in pair], axis=0)) for pair in pairs
        ]
        graph = _graph(stretches, tail)
    return graph


def _graph(stretches: Stretches, tail: str) -> str:
    if len(stretches) == 1:
        return ",".join([*_regions(stretches[0][2]), tail])
    count = len(stretches)
    parts = [f"split={count}" + "".join(f"[s{i}]" for i in range(count))]
    for i, (first, after, offsets) in enumerate(stretches):
        cut = f"[s{i}]trim=start_frame={first}:end_frame={after},setpts=PTS-STARTPTS"
        parts.append(",".join([cut, *_regions(offsets)]) + f"[t{i}]")
    parts.append("".join(f"[t{i}]" for i in range(count)) + f"concat=n={count},{tail}")
    return ";".join(parts)


def _regions(offsets: Doubles) -> Iterator[str]:
    """Yield one filter for each run of equal offsets in a row of blocks, or in several rows alike."""
    begun: dict[tuple[int, int, float], int] = {}
    for row, line in enumerate([*offsets, np.zeros(offsets.shape[1])]):
        edges = [0, *(np.flatnonzero(np.diff(line)) + 1).tolist(), len(line)]
        runs = {(a, b, float(line[a])) for a, b in itertools.pairwise(edges) if line[a]}
        for a, b, offset in sorted(begun.keys() - runs):
            top = begun.pop((a, b, offset))
            box = f"{a * 16}:{top * 16}:{(b - a) * 16}:{(row - top) * 16}"
            yield f"addroi={box}:{offset / _SCALE:.4f}"
        begun |= {run: row for run in runs if run not in begun}
