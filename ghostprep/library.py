"""What a script calls: the commands as functions, with the same names, defaults and frames.

Nothing here prints. Progress goes to a callback ``progress(stage, done, total)``; what is wrong comes as
`GhostprepError`, whose ``one_line()`` is what the command line would say.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from ghostprep.prepare.recipe import Recipe
from ghostprep.progress import Progress, silent

if TYPE_CHECKING:
    from ghostprep.eye.preview import Shown
    from ghostprep.optics import Plan
    from ghostprep.player import Profile
    from ghostprep.prepare.inspect import Inspection
    from ghostprep.prepare.report import Result
    from ghostprep.scene import Scene

_USUAL = Recipe()


def load_scene(path: str | Path) -> Scene:
    """Read a scene file.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    Scene
        All that the builder measured, in millimetres and degrees, defaults filled in.

    Raises
    ------
    InputError
        The file cannot be read, or a key or value in it is wrong; the error names its line.

    Examples
    --------
    >>> import ghostprep
    >>> ghostprep.load_scene("sample_media/scene.toml").box.depth
    200.0
    """
    from ghostprep.scene import load_scene as load

    return load(path)


def plan(scene: Scene | str | Path) -> Plan:
    """Compute the optics of a scene, as ``ghostprep plan`` does.

    Parameters
    ----------
    scene : Scene, or str or Path of a scene file

    Returns
    -------
    Plan
        ``as_dict()`` is what ``plan --json`` prints; ``findings`` what should be changed.

    Raises
    ------
    InputError
        The scene cannot be read, or nothing can be planned with it.

    Examples
    --------
    >>> import ghostprep
    >>> [f.subject for f in ghostprep.plan("sample_media/scene.toml").findings if f.level == "fault"]
    []
    """
    from ghostprep.optics import make_plan

    return make_plan(load_scene(scene) if isinstance(scene, str | Path) else scene)


def inspect(clip: str | Path, recipe: Recipe = _USUAL, *, progress: Progress = silent) -> Inspection:
    """Look at a clip: what is behind the figure, where it is, how it could loop.

    Parameters
    ----------
    clip : str or Path
        A clip, or numbered pictures as ``walk_%04d.png``.
    recipe : Recipe
        Of which ``start``, ``end``, ``length``, ``backing``, ``plate`` and ``cache`` count.
    progress : callable

    Returns
    -------
    Inspection

    Raises
    ------
    InputError
        The clip cannot be used.
    """
    from ghostprep.prepare.inspect import inspect as look

    return look(Path(clip), recipe, progress)


def make(
    clip: str | Path,
    out: str | Path | None = None,
    recipe: Recipe = _USUAL,
    *,
    progress: Progress = silent,
) -> Result:
    """Turn a clip into the loop that the player plays, prove it, and write it with its report.

    Parameters
    ----------
    clip : str or Path
    out : str or Path, optional
        The loop's file; the report stands beside it with the ending ``.json``. Left out: the clip's name
        with ``_loop`` in the current folder.
    recipe : Recipe
        The options of ``ghostprep make``, by their names.
    progress : callable

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
    from ghostprep.prepare.make import make as work

    return work(Path(clip), None if out is None else Path(out), recipe, progress)


def preview(
    loop: str | Path,
    out: str | Path | None = None,
    *,
    scene: str | Path | None = None,
    photo: str | Path | None = None,
    corners: Sequence[tuple[float, float]] | None = None,
    overwrite: bool = False,
    progress: Progress = silent,
) -> Shown:
    """Show a loop as the eye will see it, in one page or one picture; nothing is opened.

    Parameters
    ----------
    loop : str or Path
    out : str or Path, optional
        The page's file, or a picture's (``.png``, ``.webp``). Left out: the loop's name with ``.html``.
    scene : str or Path, optional
        A scene file; left out: the one the loop was made for.
    photo : str or Path, optional
        A photograph of the box, from the front.
    corners : sequence of four (x, y), optional
        Where the opening's corners lie in the photograph, pixels, clockwise from the top left.
    overwrite : bool
    progress : callable

    Returns
    -------
    Shown

    Raises
    ------
    InputError
        The loop, scene, photograph or destination cannot be used.
    JobError
        The decoder failed or the file could not be written.
    """
    from ghostprep.eye.preview import Ask, write_page, write_still

    ask = Ask(
        loop=Path(loop),
        scene=None if scene is None else Path(scene),
        photo=None if photo is None else Path(photo),
        corners=corners,
        overwrite=overwrite,
    )
    if out is not None and Path(out).suffix.lower() in {".png", ".webp"}:
        return write_still(ask, Path(out), progress)
    return write_page(ask, None if out is None else Path(out), progress)


def players() -> list[Profile]:
    """Return the known player profiles.

    Examples
    --------
    >>> import ghostprep
    >>> [one.name for one in ghostprep.players()][:2]
    ['h264-annexb', 'h264-baseline-qvga']
    """
    from ghostprep.player import all_profiles

    return all_profiles()
