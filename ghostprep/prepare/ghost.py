"""From a clip to the frames that the raster shows: all of the main job but the file."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial
from typing import Final

import numpy as np

from ghostprep.arrays import Frame
from ghostprep.box import Box, small_size
from ghostprep.clip import Footage, FrameStore, check_room
from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.heap import give_back
from ghostprep.picture import Backing, Key
from ghostprep.picture.dither import dithered
from ghostprep.picture.learn.remarks import DARK_FIGURE
from ghostprep.picture.tone import Tone
from ghostprep.prepare.begin import SEEN_PX, begun
from ghostprep.prepare.choose import choose, drift_of
from ghostprep.prepare.figure import FigureExtent, measured, whole_picture
from ghostprep.prepare.fit import Fit, fit_to_raster, fit_to_scene, tone_for
from ghostprep.prepare.learn import learn
from ghostprep.prepare.matte import with_matte
from ghostprep.prepare.presence import presence_findings, presence_of, refuse_beyond, refuse_nothing
from ghostprep.prepare.recipe import Recipe, colour_codes
from ghostprep.prepare.remarks import figure_findings, fit_findings, pictures_findings
from ghostprep.prepare.render import FIGURE_BYTES, Reel, calmed, key_stretch, raster_frames
from ghostprep.prepare.report import Take
from ghostprep.prepare.setup import Setup
from ghostprep.prepare.survey import Survey, survey
from ghostprep.progress import Progress
from ghostprep.transfer import rounded, to_linear

_LOOKS: Final = 4
"""So many frames of a loop, about, tell how bright the figure is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PreparedGhost:
    """A clip's loop as the raster shows it, before it is a file."""

    take: Take
    """What the report tells of it."""
    recipe: Recipe
    """As resolved: what was chosen stands where the option was left out."""
    clock: Fraction
    """Source frames a second, as the plan counts them; the loop's rate or within 0.1 % of it."""
    begins: Fraction
    """Time of the plan's frame 0 in the clip, seconds."""
    shown: FrameStore
    """The raster frames, in play order."""
    calmed: bool
    """Whether flashes were taken out of them."""
    as_shot: Callable[[int], Frame]
    """From a frame's number in the loop to its keyed figure, upright, not yet placed."""
    findings: tuple[Finding, ...]

    def reel(self) -> Reel:
        """Return what goes into the file."""
        plan = self.take.plan
        return Reel(
            frames=self.shown,
            rate=self.take.rate,
            keyed=self.take.backing.kind != "none",
            join_steps=plan.join_steps,
            blend_frames=plan.blend_frames,
            as_shot=self.as_shot,
        )


@contextmanager
def prepare_ghost(
    footage: Footage, recipe: Recipe, setup: Setup, rate: Fraction, progress: Progress
) -> Iterator[PreparedGhost]:
    """Take a clip through survey, choice and render; its frames lie on the disk while the block runs.

    The footage is closed as soon as nothing more is read from it.
    """
    if recipe.matte is None:
        with _prepared(footage, recipe, setup, rate, progress) as ghost:
            yield ghost
        return
    facts, alone = footage.facts, replace(recipe, matte=None)
    with (
        with_matte(facts, recipe.matte, progress) as joined,
        _prepared(begun(joined, alone, again=True), recipe, setup, rate, progress) as ghost,
    ):
        # the report is about the builder's own clip, not the one joined with its matte
        take = replace(
            ghost.take,
            facts=replace(facts, frames=ghost.take.facts.frames),
            sha256=footage.sha256,
            backing=replace(ghost.take.backing, reason=f"the matte {recipe.matte.name}"),
        )
        yield replace(ghost, take=take)


@contextmanager
def _prepared(
    footage: Footage, recipe: Recipe, setup: Setup, rate: Fraction, progress: Progress
) -> Iterator[PreparedGhost]:
    """Take a clip, or one with its matte laid beside it, through the line of steps."""
    facts = footage.facts
    with footage:
        footage.shown_at(setup.picture)
        if isinstance(recipe.crop, Box):
            refuse_beyond(recipe.crop, facts.size)
        key = learn(footage, recipe, progress)
        keyed = key.backing.kind != "none"
        if recipe.fill is not None:
            key = filled(key, recipe.fill)
        seen = survey(footage, key, rate, progress)
        choice = choose(seen, recipe)
        give_back()
        plan = choice.plan
        first, stop = plan.span
        found = seen.body(first, stop - 1)
        body = found or whole_picture(facts.size)
        fit = fit_clip(facts.size, body, recipe, setup, keyed=keyed, grid=footage.grid, room=plan.drift)
        presence = presence_of(seen.figure.reach[[mix.a for mix in plan.steps]], fit.crop, facts.size)
        if keyed and found is not None and isinstance(recipe.crop, Box):
            refuse_nothing(presence, found.reach, recipe.crop)
        tone = tone_for(
            fit,
            body,
            float(to_linear(np.array(brightest(footage, seen, range(first, stop))))),
            # a colour named with --fill is meant as bright as it is
            gain=1.0 if recipe.gain == "auto" and (recipe.fill or not keyed) else recipe.gain,
            edge=recipe.edge,
            tint=colour_codes(recipe.tint) if recipe.tint else None,
        )
        if plan.drift:
            fit = fit.drifting()
        check_room(len(plan), setup.raster, 3 + (FIGURE_BYTES if recipe.calm else 0))
        stretch = key_stretch(footage, seen, plan, fit, progress)
    give_back()
    with ExitStack() as held:
        held.enter_context(stretch)
        shown = held.enter_context(FrameStore(setup.raster))
        flash = setup.flash_proof(rate)
        render = partial(raster_frames, stretch, plan, fit, tone, progress)
        frames = render(finish=rounded)
        if recipe.calm:
            frames = map(rounded, calmed(render(finish=lambda figure: figure), setup.raster, flash, rate))
        for frame in frames:
            # last of all, since whatever came after would undo it
            shown.append(dithered(frame) if setup.profile.colour.panel == "565" else frame)
        del frame  # else the last one is held until the file is written
        take = Take(
            facts=seen.facts,
            lasts_s=seen.lasts_s,
            sha256=footage.sha256,
            backing=key.backing,
            plan=plan,
            rate=rate,
            source_frames=(int(seen.source[plan.first]), int(seen.source[plan.last])),
            score=choice.score,
        )
        yield PreparedGhost(
            take=take,
            recipe=_resolved(recipe, setup, take, seen, fit=fit, tone=tone),
            clock=seen.rate,
            begins=seen.times[int(seen.source[0])],
            shown=shown,
            calmed=recipe.calm and not flash.passed(),
            as_shot=lambda number: rounded(stretch(plan.steps[number].a)),
            findings=(
                *key.remarks,
                *choice.findings,
                *pictures_findings(facts, recipe),
                *figure_findings(seen, found, all_the_time=not presence.comes),
                *fit_findings(fit, keyed=keyed),
                *(presence_findings(presence, remedy=_more_room(recipe, setup)) if keyed and found else ()),
            ),
        )


def _resolved(recipe: Recipe, setup: Setup, take: Take, seen: Survey, *, fit: Fit, tone: Tone) -> Recipe:
    """Return the recipe with what was chosen where its options leave that open."""
    return replace(
        recipe,
        raster=setup.raster,
        player=setup.profile.name,
        backing=_named(take.backing) if recipe.matte is None else recipe.backing,
        mix=take.backing.mix or "auto",
        crop=fit.crop,
        gain=round(tone.gain, 4),
        edge=tone.edge,
        fps=take.rate,
        drift=100 * drift_of(recipe) if len(seen.source) == 1 else None,
        crossfade=None if recipe.join == "none" else float(take.plan.blend / seen.rate),
        pick=recipe.pick or ("best" if recipe.join == "search" else None),
        reflections=None if recipe.scene else recipe.mirrors,
        turn=None if recipe.scene else recipe.turn or 0,
    )


def brightest(footage: Footage, seen: Survey, ticks: range) -> float:
    """Return the code, 0..1, of the figure's bright parts in its brightest moment.

    The survey's key takes what a figure has of the backing's hue for the backing's light: a few small frames
    are keyed as they will be shown.
    """
    rough = seen.figure.bright[ticks.start : ticks.stop]
    if not footage.keeps_small or not len(rough):
        return float(rough.max(initial=0.0))
    full = footage.facts.size
    keyer = seen.key.at(None, full, small_size(full, SEEN_PX))
    places = {int(rough.argmax()), *range(0, len(rough), max(len(rough) // _LOOKS, 1))}
    shown = (keyer(footage.small(int(seen.source[ticks[place]]))) for place in places)
    return max(float(rough.max()), *(float(measured(keyed, full)[8]) for keyed in shown))


def _named(backing: Backing) -> str:
    """Return a backing as --backing takes it."""
    return backing.colour if backing.kind == "colour" and backing.colour else backing.kind


def filled(key: Key, colour: str) -> Key:
    """Return a key that paints the figure in light of a colour; InputError: no backing, so no shape."""
    if key.backing.kind == "none":
        raise InputError(
            "paints the figure's shape, and nothing was found behind the figure that could be taken away",
            where="--fill",
            remedy="name the backing with --backing, or give a --plate or a --matte",
        )
    # it is painted in light: how dark it was filmed no longer matters
    remarks = tuple(remark for remark in key.remarks if remark.subject != DARK_FIGURE)
    return replace(key, fill=colour_codes(colour), remarks=remarks)


def _more_room(recipe: Recipe, setup: Setup) -> str:
    """Return what would show more of the figure."""
    if isinstance(recipe.crop, Box):
        return "make --crop larger, or leave it out"
    return "move the ghost or make the figure smaller in the scene file" if setup.mount else ""


def fit_clip(
    source: tuple[int, int],
    body: FigureExtent,
    recipe: Recipe,
    setup: Setup,
    *,
    keyed: bool,
    grid: int,
    room: float = 0.0,
) -> Fit:
    """Return which part of the clip is shown, how large and where; `room`: see `fit_to_raster`."""
    if setup.mount is not None:
        crop = "none" if recipe.crop == "auto" and not keyed else recipe.crop
        return fit_to_scene(source, body, crop, setup.raster, setup.mount, grid=grid)
    return fit_to_raster(source, body, recipe.crop, setup.raster, setup.orientation, grid=grid, room=room)
