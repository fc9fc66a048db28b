"""The main job: a clip becomes the loop that the player plays, proven."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path

from ghostprep.clip import probe
from ghostprep.deliver import check_destination, whole_file
from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.player import Profile, RateControl, choose_rate, read_stream_facts
from ghostprep.player.profile import ENDINGS
from ghostprep.prepare.calming import calmed
from ghostprep.prepare.encode import encode
from ghostprep.prepare.finish import finish, sound_of
from ghostprep.prepare.ghost import Ghost, prepare_ghost
from ghostprep.prepare.prove import prove, prove_limits
from ghostprep.prepare.recipe import Recipe
from ghostprep.prepare.report import Output, Result, Take, sha256_of
from ghostprep.prepare.setup import Setup, set_up
from ghostprep.progress import Progress, silent
from ghostprep.verdict import Proof


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
    out = destination(clip, out, setup.profile, overwrite=recipe.overwrite)
    rate = recipe.fps or choose_rate(setup.profile, facts.rate, raster=setup.raster)
    RateControl(setup.profile, setup.raster, rate, 1)  # refuses raster and rate before the work, not after it
    with (
        prepare_ghost(facts, recipe, setup, rate, progress) as ghost,
        calmed(ghost.shown, setup, rate, wanted=recipe.calm) as shown,
        tempfile.TemporaryDirectory(prefix="ghostprep-") as folder,
        # both files are renamed at the end of the block, the loop first
        whole_file(out.with_suffix(".json"), overwrite=recipe.overwrite) as report,
        whole_file(out, overwrite=recipe.overwrite) as part,
    ):
        sound = sound_of(ghost, setup) if recipe.sound == "keep" else None
        once = Path(folder) / f"once{out.suffix}"
        reel = ghost.reel(shown)
        made = encode(once, reel, setup, progress)
        proofs, found = prove(once, reel, setup)
        finished = finish(once, part, made, setup, repeat_for=recipe.repeat_for, sound=sound)
        proofs += prove_limits(part, setup, rate=rate, frames=finished.count * len(shown))
        result = Result(
            recipe=ghost.recipe,
            scene=setup.scene,
            takes=(take_of(ghost),),
            output=describe(part, out, setup, rate),
            proofs=tuple(proofs),
            findings=(
                *setup.findings,
                *ghost.findings,
                *found,
                *finished.findings,
                *failed_limits(proofs),
            ),
        )
        report.write_text(result.as_json(), encoding="utf-8", newline="\n")
    return result


def destination(clip: Path, out: Path | None, profile: Profile, *, overwrite: bool) -> Path:
    """Return where the loop goes, and refuse what cannot be before any work is done."""
    path = out or Path(f"{clip.stem}_loop{profile.ending}")
    endings = ENDINGS[profile.container]
    if path.suffix.lower() not in endings:
        raise InputError(
            f"the ending is {path.suffix or 'missing'}, the player takes {' or '.join(endings)}",
            where=str(path),
            remedy=f"write {path.with_suffix(profile.ending).name}, or choose another --player",
        )
    for written in (path, path.with_suffix(".json")):
        check_destination(written, overwrite=overwrite)
        if written.exists() and clip.exists() and written.samefile(clip):
            raise InputError("is the clip itself", where=str(written), remedy="name another file")
    return path


def take_of(ghost: Ghost) -> Take:
    """Return a clip's part in the file as it stands in the report."""
    path = ghost.facts.path
    return Take(
        facts=ghost.facts,
        sha256=sha256_of(path) if path.is_file() else "",
        backing=ghost.backing,
        plan=ghost.plan,
        rate=ghost.rate,
        source_frames=ghost.source_frames,
        score=ghost.score,
    )


def describe(part: Path, out: Path, setup: Setup, rate: Fraction) -> Output:
    """Return what was written, as parsed from the file."""
    made = read_stream_facts(part)
    return Output(
        path=out,
        frames=made.frames,
        raster=made.raster,
        rate=rate,
        bytes=made.size_bytes,
        sha256=sha256_of(part),
        codec=made.codec,
        profile=made.profile,
        level=made.level,
        player=setup.profile.name,
    )


def failed_limits(proofs: Iterable[Proof]) -> list[Finding]:
    """Return a fault for each limit of the player that the file breaks."""
    own = {
        "black",
        "black near",
        "black far",
        "join",
        "dip",
        "upright",
        "height",
        "flash",
        "red flash",
        "flash cd/m2",
    }
    return [
        Finding(
            "fault",
            proof.name,
            f"it is {proof.value} {proof.unit}".rstrip() + f", the player takes {proof.limit}",
            "choose another --player, or report this",
        )
        for proof in proofs
        if not proof.passed and proof.name not in own
    ]
