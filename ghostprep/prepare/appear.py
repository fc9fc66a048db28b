"""One file in which several ghosts come out of the dark in turn, at uneven intervals."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path

import numpy as np

from ghostprep.arrays import Frame
from ghostprep.clip import Frames, probe
from ghostprep.errors import InputError
from ghostprep.loop import Schedule, plan_appearances, show
from ghostprep.prepare.ghost import PreparedGhost, prepare_ghost
from ghostprep.prepare.recipe import Recipe
from ghostprep.prepare.render import Reel
from ghostprep.prepare.report import Result
from ghostprep.prepare.setup import choose_output_rate, destination, set_up
from ghostprep.prepare.write import write_loop
from ghostprep.progress import Progress, silent


class Scheduled:
    """The frames of a schedule, made as they are asked for, so that a long file takes no more room.

    Parameters
    ----------
    schedule : Schedule
    ghosts : sequence of Frames
        Each ghost's raster frames.
    raster : tuple of int
        Width and height.
    """

    def __init__(self, schedule: Schedule, ghosts: Sequence[Frames], raster: tuple[int, int]) -> None:
        self._schedule = schedule
        self._ghosts = ghosts
        self._shape = (raster[1], raster[0], 3)
        self._shown = list(schedule)

    def __len__(self) -> int:
        return len(self._shown)

    def __iter__(self) -> Iterator[Frame]:
        return show(self._schedule, lambda ghost, place: self._ghosts[ghost][place], self._shape)

    def __getitem__(self, place: int) -> Frame:
        what = self._shown[place]
        return np.zeros(self._shape, np.uint8) if what is None else self._ghosts[what[0]][what[1]]

    def which(self, place: int) -> tuple[int, int] | None:
        """Return the ghost and its frame at a place of the file; None for black."""
        return self._shown[place]


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
    progress : Progress

    Raises
    ------
    InputError
        Something that was given cannot be used, or the ghosts do not fit the length.
    JobError
        The work failed on the way.
    """
    if recipe.repeat_for is None:
        raise InputError("says how often, not how long", where="--appear", remedy="add --repeat-for 10:00")
    if recipe.matte is not None:
        raise InputError("belongs to one clip only", where="--matte", remedy="leave it out")
    if recipe.sound != "none":
        raise InputError("goes with a single clip only", where="--sound", remedy="leave it out")
    setup = set_up(recipe)
    facts = [probe(clip) for clip in clips]
    out = destination(clips, out, setup.profile, overwrite=recipe.overwrite)
    rate = choose_output_rate(recipe, setup, facts[0])
    each = replace(recipe, join="fades" if recipe.join == "search" else recipe.join)
    with ExitStack() as stack:
        ghosts: list[PreparedGhost] = []
        shown: list[Frames] = []
        for number, clip in enumerate(facts, 1):

            def named(stage: str, done: int, total: int | None, number: int = number) -> None:
                progress(f"{stage} {number}", done, total)

            ghosts.append(stack.enter_context(prepare_ghost(clip, each, setup, rate, named)))
            shown.append(ghosts[-1].shown)
        schedule = plan_appearances(
            [len(frames) for frames in shown],
            rate,
            every_s=every_s,
            total_s=float(recipe.repeat_for),
            seed=seed,
        )
        frames = Scheduled(schedule, shown, setup.raster)

        def as_shot(place: int) -> Frame | None:
            what = frames.which(place)
            return None if what is None else ghosts[what[0]].as_shot(what[1])

        return write_loop(
            Reel(frames=frames, rate=rate, keyed=True, as_shot=as_shot),
            ghosts,
            out,
            recipe=replace(ghosts[0].recipe, repeat_for=recipe.repeat_for),
            setup=setup,
            progress=progress,
            schedule=schedule,
        )
