"""The main job: a clip becomes the loop that the player plays, proven."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Final

from ghostprep.box import Box
from ghostprep.clip import ClipFacts, probe
from ghostprep.deliver import check_destination, whole_file
from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.loop import LoopPlan
from ghostprep.picture.tone import Tone, auto_gain
from ghostprep.player import Profile, RateControl, StreamFacts, choose_rate
from ghostprep.player.profile import ENDINGS
from ghostprep.prepare.choose import choose
from ghostprep.prepare.encode import encode
from ghostprep.prepare.fit import Body, Fit, fit_to_raster, fit_to_scene
from ghostprep.prepare.look import look, look_at_fit
from ghostprep.prepare.prove import prove
from ghostprep.prepare.recipe import Recipe, colour_codes
from ghostprep.prepare.render import key_stretch, raster_frames
from ghostprep.prepare.report import Output, Result, sha256_of
from ghostprep.prepare.setup import Setup, set_up
from ghostprep.prepare.store import FrameStore, check_room
from ghostprep.prepare.survey import Survey, learn, survey
from ghostprep.prepare.timeline import clock_rate
from ghostprep.progress import Progress, silent
from ghostprep.transfer import to_linear
from ghostprep.verdict import Proof

EDGE_SHARE: Final = 0.04
"""Softness of a cut edge, as a share of the picture's smaller side."""


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
    rate = recipe.fps or choose_rate(setup.profile, facts.rate)
    RateControl(setup.profile, setup.raster, rate, 1)  # refuses raster and rate before the work, not after it
    key = learn(facts, recipe)
    with survey(facts, key, clock_rate(facts.rate, rate), recipe, progress) as seen:
        choice = choose(seen, recipe)
    facts = seen.facts
    keyed = key.backing.kind != "none"
    first, stop = choice.plan.span
    figure = seen.body(first, stop - 1)
    body = figure or whole_picture(facts)
    fit = fit_clip(facts, body, recipe, setup, keyed=keyed)
    tone = choose_tone(seen, choice.plan, fit, body, recipe, keyed=keyed)
    check_room(len(choice.plan), setup.raster)
    recipe = replace(
        recipe,
        raster=setup.raster,
        player=setup.profile.name,
        backing=key.backing.colour
        if key.backing.kind == "colour" and key.backing.colour
        else key.backing.kind,
        crop=fit.crop,
        gain=round(tone.gain, 4),
        edge=tone.edge,
        fps=rate,
        crossfade=float(choice.plan.blend / seen.rate),
    )
    with FrameStore(setup.raster) as shown:
        stretch = key_stretch(seen, choice.plan, fit, progress)
        with stretch.store:
            plan = choice.plan
            for frame in raster_frames(stretch, plan, fit, tone, progress):
                shown.append(frame)
            with whole_file(out.with_suffix(".json"), overwrite=recipe.overwrite) as report:
                with whole_file(out, overwrite=recipe.overwrite) as part:
                    made = encode(
                        part,
                        shown,
                        setup.profile,
                        raster=setup.raster,
                        rate=rate,
                        key=keyed,
                        progress=progress,
                    )
                    proofs, found = prove(part, shown, stretch, plan, setup, rate=rate, key=keyed)
                    output = describe(part, out, made, setup, rate)
                findings = [
                    *setup.findings,
                    *key.findings(),
                    *choice.findings,
                    *look(seen, figure),
                    *look_at_fit(fit, keyed=keyed),
                    *found,
                    *failed_limits(proofs),
                ]
                result = Result(
                    facts=facts,
                    source_sha256=sha256_of(clip) if clip.is_file() else "",
                    recipe=recipe,
                    scene=setup.scene,
                    backing=key.backing,
                    plan=plan,
                    loop_rate=rate,
                    source_frames=(int(seen.source[plan.first]), int(seen.source[plan.last])),
                    score=choice.score,
                    output=output,
                    proofs=tuple(proofs),
                    findings=tuple(findings),
                )
                report.write_text(result.as_json(), encoding="utf-8", newline="\n")
    return result


def whole_picture(facts: ClipFacts) -> Body:
    """Return the measures of a clip in which all of the picture is the figure."""
    width, height = facts.size
    return Body(Box(0, 0, width, height), float(height), (width / 2, float(height)))


def fit_clip(facts: ClipFacts, body: Body, recipe: Recipe, setup: Setup, *, keyed: bool) -> Fit:
    """Return which part of the clip is shown, how large and where."""
    if setup.mount is not None:
        return fit_to_scene(facts.size, body, setup.raster, setup.mount, whole=not keyed)
    return fit_to_raster(facts.size, body, recipe.crop, setup.raster, setup.orientation)


def choose_tone(seen: Survey, plan: LoopPlan, fit: Fit, body: Body, recipe: Recipe, *, keyed: bool) -> Tone:
    """Return brightness, colour and edge as asked, or as the figure needs them."""
    if recipe.gain == "auto":
        first, stop = plan.span
        # the brightest moment sets the gain, so that it holds for all others
        bright = float(to_linear(seen.bright[first:stop]).max(initial=0.0))
        gain = auto_gain(bright) if keyed else 1.0
    else:
        gain = float(recipe.gain)
    if recipe.edge == "auto":
        crop, reach = fit.crop, body.reach
        inside = (
            reach.x > crop.x and reach.y > crop.y and reach.right < crop.right and reach.bottom < crop.bottom
        )
        edge = 0 if inside else max(round(EDGE_SHARE * min(fit.size)), 1)
    else:
        edge = int(recipe.edge)
    return Tone(gain=gain, tint=colour_codes(recipe.tint) if recipe.tint else None, edge=edge)


def describe(part: Path, out: Path, made: StreamFacts, setup: Setup, rate: Fraction) -> Output:
    """Return what was written, as parsed from the file."""
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
