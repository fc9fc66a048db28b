"""One file in which several ghosts come out of the dark in turn, at uneven intervals."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path

import numpy as np

from ghostprep.arguments import check_times
from ghostprep.arrays import Frame
from ghostprep.clip import probe
from ghostprep.errors import GhostprepError, InputError
from ghostprep.loop import Schedule, plan_appearances
from ghostprep.prepare.begin import begun
from ghostprep.prepare.ghost import PreparedGhost, prepare_ghost
from ghostprep.prepare.recipe import Recipe
from ghostprep.prepare.render import Reel
from ghostprep.prepare.report import Result
from ghostprep.prepare.setup import choose_output_rate, destination, set_up
from ghostprep.prepare.write import write_loop
from ghostprep.progress import Progress, silent


class Scheduled:
    """A schedule's frames on a raster (width, height), made as they are asked for: they take no more room."""

    def __init__(self, schedule: Schedule, ghosts: Sequence[PreparedGhost], raster: tuple[int, int]) -> None:
        self._ghosts = ghosts
        self._shown = list(schedule)
        self._black = np.zeros((raster[1], raster[0], 3), np.uint8)
        self._black.setflags(write=False)  # the same one between all ghosts

    def __len__(self) -> int:
        return len(self._shown)

    def __iter__(self) -> Iterator[Frame]:
        return (self[place] for place in range(len(self)))

    def __getitem__(self, place: int) -> Frame:
        what = self._shown[place]
        return self._black if what is None else self._ghosts[what[0]].shown[what[1]]

    def as_shot(self, place: int) -> Frame | None:
        """Return the keyed figure of a frame, upright, not yet placed; None where it is dark."""
        what = self._shown[place]
        return None if what is None else self._ghosts[what[0]].as_shot(what[1])


def make_appearances(
    clips: Sequence[Path],
    out: Path | None,
    recipe: Recipe,
    every_s: tuple[float, float],
    *,
    seed: int = 0,
    progress: Progress = silent,
) -> Result:
    """Let the ghosts of several clips appear in turn in one file.

    Parameters
    ----------
    clips : sequence of Path
        One ghost each; a single one appears again and again.
    out : Path or None
        The file; None: the first clip's name with ``_loop`` in the current folder.
    recipe : Recipe
        For every clip; ``repeat_for`` is the length of the file, needed. ``join`` "search"
        becomes "fades": ghosts come out of the dark.
    every_s : tuple of float
        Shortest and longest time from one appearance to the next, seconds.
    seed : int
        Chooses among the schedules that fit; the same seed gives the same file.

    Raises
    ------
    InputError
        Something that was given cannot be used, or the ghosts do not fit the length.
    """
    check_times(every_s, "--appear")  # before all the work
    if recipe.repeat_for is None:
        raise InputError("says how often, not how long", where="--appear", remedy="add --repeat-for 10:00")
    if recipe.matte is not None:
        raise InputError("belongs to one clip only", where="--matte", remedy="leave it out")
    if recipe.sound != "none":
        raise InputError("goes with a single clip only", where="--sound", remedy="leave it out")
    setup = set_up(recipe)
    facts = [probe(clip, recipe.fps) for clip in clips]
    out = destination(clips, out, setup.profile, overwrite=recipe.overwrite)
    rate = choose_output_rate(recipe, setup, facts[0])
    each = replace(recipe, join="fades" if recipe.join == "search" else recipe.join)
    with ExitStack() as stack:
        ghosts: list[PreparedGhost] = []
        for number, clip in enumerate(facts, 1):

            def named(stage: str, done: int, total: int | None, number: int = number) -> None:
                progress(f"{stage} {number}", done, total)

            footage = begun(clip, each, again=True)
            try:
                ghosts.append(stack.enter_context(prepare_ghost(footage, each, setup, rate, named)))
            except GhostprepError as error:
                raise error.of(str(clip.path)) from None
        schedule = plan_appearances(
            [len(ghost.shown) for ghost in ghosts],
            rate,
            every_s=every_s,
            total_s=float(recipe.repeat_for),
            seed=seed,
        )
        frames = Scheduled(schedule, ghosts, setup.raster)
        reel = Reel(frames=frames, rate=rate, keyed=True, as_shot=frames.as_shot)
        return write_loop(reel, ghosts, out, setup=setup, progress=progress, schedule=schedule)
