"""The main job: a clip becomes the loop that the player plays, proven."""

from __future__ import annotations

from pathlib import Path

from ghostprep.clip import probe
from ghostprep.prepare.ghost import prepare_ghost
from ghostprep.prepare.recipe import Recipe
from ghostprep.prepare.report import Result
from ghostprep.prepare.setup import choose_output_rate, destination, set_up
from ghostprep.prepare.write import write_loop
from ghostprep.progress import Progress, silent


def make(clip: Path, out: Path | None, recipe: Recipe, progress: Progress = silent) -> Result:
    """Make a loop from a clip, prove it, and write it with its report.

    Parameters
    ----------
    clip : Path
    out : Path or None
        The loop's file; None: the clip's name with ``_loop`` in the current folder.
        The report is written beside it with the ending ``.json``.
    recipe : Recipe
    progress : Progress

    Returns
    -------
    Result

    Raises
    ------
    InputError
        Something that was given cannot be used. Nothing is written.
    JobError
        The work failed on the way. Nothing is written.
    """
    setup = set_up(recipe)
    facts = probe(clip)
    out = destination([clip], out, setup.profile, overwrite=recipe.overwrite)
    rate = choose_output_rate(recipe, setup, facts)
    with prepare_ghost(facts, recipe, setup, rate, progress) as ghost:
        return write_loop(
            ghost.reel(),
            [ghost],
            out,
            recipe=ghost.recipe,
            setup=setup,
            progress=progress,
            repeat_for=recipe.repeat_for,
        )
