"""From a reel to the file that is handed over, proven, with its report beside it."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from contextlib import ExitStack
from fractions import Fraction
from pathlib import Path

from ghostprep.clip import ClipFacts
from ghostprep.deliver import check_destination, whole_files
from ghostprep.digest import sha256_of
from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.loop import Schedule
from ghostprep.loop.sound import Samples
from ghostprep.player import Profile, RateControl, StreamFacts, check_limits, choose_rate, read_stream_facts
from ghostprep.player.profile import ENDINGS
from ghostprep.prepare.encode import encode
from ghostprep.prepare.finish import dark_between, finish
from ghostprep.prepare.ghost import Ghost
from ghostprep.prepare.prove import prove
from ghostprep.prepare.recipe import Recipe
from ghostprep.prepare.reel import Reel
from ghostprep.prepare.report import Output, Result, Take
from ghostprep.prepare.setup import Setup
from ghostprep.progress import Progress
from ghostprep.scratch import scratch_folder
from ghostprep.verdict import with_faults
from ghostprep.words import seconds_words


def choose_output_rate(recipe: Recipe, setup: Setup, facts: ClipFacts) -> Fraction:
    """Return the rate of the file; refuse a rate or raster before the work, not after it.

    Raises
    ------
    InputError
        The player takes no such raster or rate.
    """
    rate = recipe.fps or choose_rate(setup.profile, facts.rate, raster=setup.raster)
    RateControl(setup.profile, setup.raster, rate, 1)
    return rate


def loop_name(clip: Path, profile: Profile) -> str:
    """Return what the loop of a clip is called where nobody says."""
    return f"{clip.stem}_loop{profile.ending}"


def destination(clips: Sequence[Path], out: Path | None, profile: Profile, *, overwrite: bool) -> Path:
    """Return where the loop goes, and refuse what cannot be before any work is done."""
    path = out or Path(loop_name(clips[0], profile))
    instead = "name another file" + (", or --out-dir FOLDER for a loop of each clip" if out else "")
    both = path, path.with_suffix(".json")
    for written in both:
        if any(_same(written, clip) for clip in clips):
            raise InputError("is the clip itself", where=str(written), remedy="name another file")
    check_destination(*both, overwrite=overwrite, instead=instead)
    endings = ENDINGS[profile.container]
    if path.suffix.lower() not in endings:
        raise InputError(
            f"the ending is {path.suffix or 'missing'}, the player takes {' or '.join(endings)}",
            where=str(path),
            remedy=f"write {path.with_suffix(profile.ending).name}, or choose another --player",
        )
    return path


def _same(a: Path, b: Path) -> bool:
    with contextlib.suppress(OSError):
        return a.samefile(b)
    return False


def hand_over(
    reel: Reel,
    ghosts: Sequence[Ghost],
    out: Path,
    *,
    recipe: Recipe,
    setup: Setup,
    progress: Progress,
    notes: Sequence[Finding] = (),
    repeat_for: Fraction | None = None,
    sound: Samples | None = None,
    schedule: Schedule | None = None,
) -> Result:
    """Encode a reel, prove it, and write the file and its report, both or neither.

    Parameters
    ----------
    reel : Reel
    ghosts : sequence of Ghost
        Those that are in it.
    out : Path
    recipe : Recipe
        As resolved, for the report.
    setup : Setup
    progress : Progress
    notes : sequence of Finding
        What else is to be told.
    repeat_for : Fraction, optional
        Fill the file with repeats of the reel up to this length, seconds.
    sound : ndarray of float32 (n, channels), optional
        As long as the reel.
    schedule : Schedule, optional
        When each of several ghosts appears.

    Raises
    ------
    InputError
        ``repeat_for`` is shorter than the loop.
    JobError
        The work failed on the way. Nothing is written.
    """
    lasts = len(reel.frames) / reel.rate
    if repeat_for is not None and repeat_for < lasts:
        raise InputError(
            f"is shorter than the loop, which lasts {seconds_words(float(lasts))}",
            where="--repeat-for",
            remedy="give a longer time, or leave it out for the loop once",
        )
    both = out, out.with_suffix(".json")
    with ExitStack() as stack:
        once = stack.enter_context(scratch_folder()) / f"once{out.suffix}"
        made = encode(once, reel, setup, progress)
        proofs, found = prove(once, reel, setup, made.black)
        part, report = stack.enter_context(whole_files(both, overwrite=recipe.overwrite))
        finished = finish(once, part, made.facts, setup, repeat_for=repeat_for, sound=sound)
        facts = read_stream_facts(part)
        limits = check_limits(
            facts,
            setup.profile,
            raster=setup.raster,
            rate=reel.rate,
            frames=finished.count * len(reel.frames),
        )
        every = (*proofs, *limits)
        told = (
            *setup.findings,
            *(finding for ghost in ghosts for finding in ghost.findings),
            *made.findings,
            *found,
            *finished.findings,
            *notes,
            *([] if schedule else dark_between(reel, setup, repeat_for)),
        )
        result = Result(
            recipe=recipe,
            scene=setup.scene,
            player=setup.profile,
            units=setup.units,
            takes=tuple(_take_of(ghost) for ghost in ghosts),
            schedule=schedule,
            output=_described(facts, out, setup, reel.rate),
            proofs=every,
            findings=with_faults(every, told),
        )
        # half a character in a clip's name becomes an escape, which JSON reads back as it was
        report.write_text(result.as_json(), encoding="utf-8", errors="backslashreplace", newline="\n")
    return result


def _take_of(ghost: Ghost) -> Take:
    """Return a clip's part in the file as it stands in the report."""
    return Take(
        facts=ghost.facts,
        sha256=ghost.sha256,
        backing=ghost.backing,
        plan=ghost.plan,
        rate=ghost.rate,
        source_frames=ghost.source_frames,
        score=ghost.score,
    )


def _described(facts: StreamFacts, out: Path, setup: Setup, rate: Fraction) -> Output:
    """Return what was written, as parsed from the file."""
    return Output(
        path=out,
        frames=facts.frames,
        raster=facts.raster,
        rate=rate,
        bytes=facts.size_bytes,
        sha256=sha256_of(facts.path),
        codec=facts.codec,
        profile=facts.profile,
        level=facts.level,
        player=setup.profile.name,
    )
