"""Schedules and searches beside kept ones: with the same clip, settings and seed they are the same again.

What a loop must be is held by the other tests; here is held that it stays so. After a change on purpose, make
them anew and read what has changed:

    python tests/loop/test_kept.py
"""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest

from ghostprep.loop import (
    ThumbnailStrip,
    better_method,
    join_at,
    plan_appearances,
    plan_loop,
    quietest,
    search,
)
from ghostprep.loop.candidate import LoopCandidate
from ghostprep.loop.refine import rank

KEPT = Path(__file__).parent / "kept.json"
RATE = Fraction(25)
CLIPS = {
    "swing": {"count": 190, "turns": (37.0, 37.0), "drift": 0.0},
    "walk": {"count": 260, "turns": (83.0, 61.0), "drift": 1.0},
    "short": {"count": 66, "turns": (90.0, 47.0), "drift": 2.0},
}


def clip(count: int, turns: tuple[float, float], drift: float) -> list[np.ndarray]:
    """Return frames of a lantern that swings before a soft body that sways and drifts."""
    y, x = np.mgrid[:72, :96].astype(np.float32)
    frames = []
    for n in range(count):
        a, b = 2 * np.pi * n / turns[0], 2 * np.pi * n / turns[1]
        left = 48 + 12 * np.sin(a) + drift * 5 * np.sin(n / 60)
        top = 36 + 3 * np.cos(a)
        body = np.clip(1.6 - np.hypot((x - left) / 11, (y - top) / 20), 0, 1)
        body *= 0.7 + 0.3 * np.sin((y - top) / 3)
        lantern = np.clip(2.0 - np.hypot(x - left - 18 - 6 * np.sin(b), y - top - 4 * np.cos(b)) / 3, 0, 1)
        light = np.stack(
            [150 * body + 105 * lantern, 140 * body + 90 * lantern, 120 * body + 30 * lantern], -1
        )
        frames.append(np.clip(np.rint(light), 0, 255).astype(np.uint8))
    if drift == 1.0:
        frames[40] = np.full_like(frames[40], 210)  # a flash
        frames[150:] = [cv2.flip(frame, 1) // 2 for frame in frames[150:]]  # and a cut
    return frames


def searches() -> dict[str, Any]:
    """Return the joins that are found in each clip, on thumbnails and on frames, and what is made of them."""
    found: dict[str, Any] = {}
    for name, how in CLIPS.items():
        frames = clip(**how)
        strip = ThumbnailStrip()
        for frame in frames:
            strip.add(frame)
        found[f"{name}, thumbnails"] = [c.as_dict() for c in search(strip, RATE)[:6]]
        found[f"{name}, frames"] = [
            c.as_dict() for c in search(strip, RATE, fetch=frames.__getitem__, length_s=(1, 4))[:3]
        ]
        found[f"{name}, named"] = join_at(20, 60, strip, frames.__getitem__, RATE).as_dict()
        for join in ("ends", "there-and-back", "fades"):
            plan, measured = better_method(
                plan_loop(join, len(frames), RATE), strip, frames.__getitem__, RATE
            )
            found[f"{name}, {join}"] = [
                plan.method,
                measured.as_dict() if measured else None,
                quietest(plan, strip),
                [[m.a, m.b, m.weight, m.gain] for m in plan.steps if m.b is not None or m.gain < 1],
            ]
    return found


def schedules() -> dict[str, Any]:
    """Return schedules of one, two and several ghosts."""
    return {
        f"{lengths}, {every} s, {total} s, seed {seed}": [
            [a.ghost, a.start, a.stop] for a in plan.appearances
        ]
        + [plan.frames, list(plan.intervals)]
        for lengths, every, total, seed in (
            ([60], (4, 9), 60, 0),
            ([60, 90], (5, 12), 90, 3),
            ([40, 75, 110], (6, 15), 120, 7),
            ([25, 30, 35, 200], (2, 20), 45, 11),
            ([50, 60, 200], (3, 10), 8, 2),
        )
        for plan in [plan_appearances(lengths, RATE, every_s=every, total_s=total, seed=seed)]
    }


def ranks() -> dict[str, str]:
    """Return how joins are ordered: by what is seen first, then by length, sharpness and blend."""
    made = {
        "all unseen": LoopCandidate(0, 99, 0, "cut", 0.3, step=0.3),
        "long, soft": LoopCandidate(40, 239, 20, "crossfade", 0.7, step=0.7, jerk=1.1, double=0.6, dip=0.9),
        "a wide double image": LoopCandidate(40, 139, 10, "flow", 2.1, step=0.7, jerk=0.4, double=9.0),
        "seen, short": LoopCandidate(40, 79, 4, "flow", 1.3, step=1.3, jerk=2.4, double=0.2, dip=0.97),
    }
    return {name: f"{rank(one, RATE):.5f}" for name, one in made.items()}


def differences(kept: Any, made: Any, where: str = "") -> list[str]:
    """Return where two results differ; measures may by a fiftieth, since they come of found motion."""
    if isinstance(kept, dict) and isinstance(made, dict) and kept.keys() == made.keys():
        return [line for key in kept for line in differences(kept[key], made[key], f"{where}/{key}")]
    if isinstance(kept, list) and isinstance(made, list) and len(kept) == len(made):
        pairs = enumerate(zip(kept, made, strict=True))
        return [line for n, (a, b) in pairs for line in differences(a, b, f"{where}/{n}")]
    same = kept == made
    if isinstance(kept, float) and isinstance(made, float):
        same = abs(kept - made) <= 0.02 * max(abs(kept), 0.1)
    return [] if same else [f"{where}: kept {kept!r}, now {made!r}"]


@pytest.mark.parametrize("make", [searches, schedules, ranks])
def test_what_is_found_is_what_was_found(make: Any) -> None:
    kept = json.loads(KEPT.read_text(encoding="utf-8"))[make.__name__]
    assert differences(kept, make())[:5] == []


if __name__ == "__main__":
    made = json.dumps({make.__name__: make() for make in (searches, schedules, ranks)})
    KEPT.write_text(
        made.replace('], "', '],\n"').replace('}, "', '},\n"') + "\n", encoding="utf-8", newline="\n"
    )
