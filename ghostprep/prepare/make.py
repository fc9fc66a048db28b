"""The main job: a clip becomes the loop that the player plays, proven."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from ghostprep.arguments import checked
from ghostprep.clip import probing
from ghostprep.clip.child import ffmpeg_path
from ghostprep.interrupts import undisturbed
from ghostprep.prepare.recipe import USUAL, Recipe
from ghostprep.progress import Progress, silent

if TYPE_CHECKING:
    from ghostprep.prepare.report import Result


@checked
def make(
    clip: Path | str, out: Path | str | None = None, recipe: Recipe = USUAL, progress: Progress = silent
) -> Result:
    """Turn a clip into the loop that the player plays, prove it, and write it with its report.

    Parameters
    ----------
    clip : Path or str
        A file, or numbered pictures as ``walk_%04d.png``.
    out : Path or str, optional
        The loop's file; left out: the clip's name with ``_loop`` in the current folder.
        The report is written beside it with the ending ``.json``.
    recipe : Recipe
        The options of ``ghostprep make``, by their names.
    progress : callable
        ``progress(stage, done, total)``

    Returns
    -------
    Result
        ``as_dict()`` is the report.

    Raises
    ------
    InputError
        Something that was given cannot be used. Nothing is written.
    JobError
        The work failed on the way. Nothing is written.

    Examples
    --------
    >>> import ghostprep
    >>> recipe = ghostprep.Recipe.read(scene="sample_media/scene.toml", length="2-4", gain="1.2")
    >>> recipe.length
    (2.0, 4.0)
    >>> result = ghostprep.make("sample_media/purser_green.mp4", "purser.mp4", recipe)  # doctest: +SKIP
    """
    with probing(clip, recipe.fps) as probed:
        # loaded while the clip is opened
        from ghostprep.prepare.begin import begun
        from ghostprep.prepare.setup import choose_output_rate, destination, set_up

        ffmpeg_path()
        facts = probed()
    with begun(facts, recipe, again=True) as footage:
        # the scene is planned, and what comes next is loaded, while the decoder is on its way; what is
        # interrupted there may be lost in a library's C code
        with undisturbed():
            setup = set_up(recipe)
            to = destination(
                [Path(clip)], Path(out) if out else None, setup.profile, overwrite=recipe.overwrite
            )
            rate = choose_output_rate(recipe, setup, facts)

            import av  # noqa: F401 - the finished file is read by it

            from ghostprep.prepare.ghost import prepare_ghost
            from ghostprep.prepare.write import write_loop

        with prepare_ghost(footage, recipe, setup, rate, progress) as ghost:
            return write_loop(ghost.reel(), [ghost], to, setup=setup, progress=progress)
