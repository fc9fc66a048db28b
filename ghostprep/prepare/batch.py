"""Many clips, one loop each, over all cores; one failure does not stop the rest."""

from __future__ import annotations

import os
import threading
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from ghostprep.errors import GhostprepError, InputError, JobError, reason
from ghostprep.prepare.make import make
from ghostprep.prepare.recipe import Recipe
from ghostprep.prepare.report import Result
from ghostprep.prepare.setup import loop_name, set_up
from ghostprep.progress import Progress, silent


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one clip: a result, or the error that stopped it."""

    clip: Path
    result: Result | None
    error: GhostprepError | None


class _Stopped(Exception):  # noqa: N818 - not an error of ours or of the user
    """Raised inside the work when the whole batch is given up."""


def make_all(
    clips: Sequence[Path], folder: Path, recipe: Recipe, *, progress: Progress = silent
) -> list[Outcome]:
    """Make a loop of each clip into a folder; return what became of them, in their order.

    Parameters
    ----------
    folder : Path
        Must exist. Each loop gets its clip's name with ``_loop``.
    recipe : Recipe
        For all of them.
    progress : Progress
        One line a clip, by its name.

    Raises
    ------
    InputError
        The folder is missing, or two clips would write the same file.
    """
    if recipe.matte is not None and len(clips) > 1:
        raise InputError("belongs to one clip only", where="--matte", remedy="make that clip by itself")
    if not folder.is_dir():
        raise InputError("the folder does not exist", where=str(folder), remedy="make it first")
    profile = set_up(recipe).profile
    outs = [folder / loop_name(clip, profile) for clip in clips]
    twice = {out.name for out in outs if [other.name.lower() for other in outs].count(out.name.lower()) > 1}
    if twice:
        raise InputError(f"two clips would both become {min(twice)}", where=str(folder), remedy="rename one")
    stop = threading.Event()
    lock = threading.Lock()

    def work(clip: Path, out: Path) -> Outcome:
        def note(stage: str, done: int, total: int | None) -> None:
            if stop.is_set():
                raise _Stopped
            with lock:
                progress(f"{clip.name}: {stage}", done, total)

        try:
            return Outcome(clip, make(clip, out, recipe, note), None)
        except GhostprepError as error:
            return Outcome(clip, None, error.of(str(clip)))
        except OSError as error:
            where = str(error.filename or clip)
            return Outcome(clip, None, JobError(reason(error), where=where))

    # each clip keeps a decoder and an encoder busy beside our own threads
    workers = max((os.cpu_count() or 2) // 2, 1)
    with ThreadPoolExecutor(workers, thread_name_prefix="clip") as pool:
        try:
            jobs = [pool.submit(work, clip, out) for clip, out in zip(clips, outs, strict=True)]
            return [job.result() for job in jobs]
        except BaseException:
            stop.set()
            pool.shutdown(cancel_futures=True)
            raise
