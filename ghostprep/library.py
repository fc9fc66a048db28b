"""What a script calls beside the functions of the rooms: a plan by its scene's file, a preview in one call.

Nothing here prints. Progress goes to a callback ``progress(stage, done, total)``; what is wrong comes as
`GhostprepError`, whose ``one_line()`` is what the command line would say.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from ghostprep.arguments import checked
from ghostprep.progress import Progress, silent

if TYPE_CHECKING:
    from ghostprep.eye.preview import Shown
    from ghostprep.optics import Plan
    from ghostprep.scene import Scene


@checked
def plan(scene: Scene | str | Path) -> Plan:
    """Compute the optics of a scene, as ``ghostprep plan`` does.

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
    from ghostprep.prepare.player_of import plan_with_player
    from ghostprep.scene import load_scene

    return plan_with_player(load_scene(scene) if isinstance(scene, str | Path) else scene)


@checked
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
    out : str or Path, optional
        The page's file, or a picture's (``.png``, ``.webp``). Left out: the loop's name with ``.html``.
    scene : str or Path, optional
        A scene file; left out: the one the loop was made for.
    photo : str or Path, optional
        A photograph of the box, from the front.
    corners : sequence of four (x, y), optional
        Where the opening's corners lie in the photograph, pixels, clockwise from the top left.

    Raises
    ------
    InputError
        The loop, scene, photograph or destination cannot be used.
    JobError
        The decoder failed or the file could not be written.
    """
    from ghostprep.eye.preview import STILL_ENDINGS, Ask, write_page, write_still

    ask = Ask(
        loop=Path(loop),
        scene=None if scene is None else Path(scene),
        photo=None if photo is None else Path(photo),
        corners=corners,
        overwrite=overwrite,
    )
    if out is not None and Path(out).suffix.lower() in STILL_ENDINGS:
        return write_still(ask, Path(out), progress)
    return write_page(ask, None if out is None else Path(out), progress)
