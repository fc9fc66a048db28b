"""From a reel to the file that is handed over, proven, with its report beside it."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from typing import Final

from ghostprep.deliver import whole_files
from ghostprep.digest import sha256_of
from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.loop import Schedule
from ghostprep.player.limits import check_limits
from ghostprep.player.read import read_stream_facts
from ghostprep.player.words import about_screen
from ghostprep.prepare.encode import encode
from ghostprep.prepare.ghost import PreparedGhost
from ghostprep.prepare.prove import prove
from ghostprep.prepare.render import Reel
from ghostprep.prepare.repeats import dark_between, repeat_with_sound, sound_of
from ghostprep.prepare.report import Output, Result
from ghostprep.prepare.setup import Setup
from ghostprep.progress import Progress
from ghostprep.scratch import scratch_folder
from ghostprep.verdict import with_faults
from ghostprep.words import seconds_words

NOT_NEEDED: Final = Finding(
    "note",
    "flash",
    "--calm changed nothing: the loop flashes within the limits by itself",
    "leave --calm out",
)


def write_loop(
    reel: Reel,
    ghosts: Sequence[PreparedGhost],
    out: Path,
    *,
    setup: Setup,
    progress: Progress,
    schedule: Schedule | None = None,
) -> Result:
    """Encode a reel, prove it, and write the file and its report, both or neither.

    Parameters
    ----------
    ghosts : sequence of PreparedGhost
        Those that are in it, all made by the same recipe.
    schedule : Schedule, optional
        When each of several ghosts appears: the reel then is as long as the file is to be.

    Raises
    ------
    InputError
        The recipe's ``repeat_for`` is shorter than the loop.
    JobError
        The work failed on the way. Nothing is written.
    """
    recipe = ghosts[0].recipe
    repeat_for = recipe.repeat_for if schedule is None else None
    lasts = len(reel.frames) / reel.rate
    if repeat_for is not None and repeat_for < lasts:
        raise InputError(
            f"is shorter than the loop, which lasts {seconds_words(float(lasts))}",
            where="--repeat-for",
            remedy="give a longer time, or leave it out for the loop once",
        )
    sound = sound_of(ghosts[0], setup) if recipe.sound == "keep" else None
    both = out, out.with_suffix(".json")
    with ExitStack() as stack:
        once = stack.enter_context(scratch_folder()) / f"once{out.suffix}"
        made = encode(once, reel, setup, progress)
        proofs, found = prove(once, reel, setup, made.black)
        part, report = stack.enter_context(whole_files(both, overwrite=recipe.overwrite))
        # bare pictures tell no rate: they play at the one that they were made for
        coded = made.facts if made.facts.rate else replace(made.facts, rate=reel.rate)
        count, repeated = repeat_with_sound(once, part, coded, setup, repeat_for=repeat_for, sound=sound)
        facts = read_stream_facts(part)
        limits = check_limits(
            facts, setup.profile, raster=setup.raster, rate=reel.rate, frames=count * len(reel.frames)
        )
        every = (*proofs, *limits)
        told = (
            *setup.findings,
            *about_screen(setup.raster),
            *(finding for ghost in ghosts for finding in ghost.findings),
            *made.findings,
            *found,
            *repeated,
            *([NOT_NEEDED] if recipe.calm and not any(ghost.calmed for ghost in ghosts) else []),
            *dark_between(reel, setup, recipe),
        )
        result = Result(
            recipe=recipe,
            scene=setup.scene,
            player=setup.profile,
            units=setup.units,
            takes=tuple(ghost.take for ghost in ghosts),
            schedule=schedule,
            output=Output(
                path=out,
                frames=facts.frames,
                raster=facts.raster,
                rate=reel.rate,
                bytes=facts.size_bytes,
                sha256=sha256_of(part),
                codec=facts.codec,
                profile=facts.profile,
                level=facts.level,
                player=setup.profile.name,
            ),
            proofs=every,
            findings=with_faults(every, told),
        )
        # half a character in a clip's name becomes an escape, which JSON reads back as it was
        report.write_text(result.as_json(), encoding="utf-8", errors="backslashreplace", newline="\n")
    return result
