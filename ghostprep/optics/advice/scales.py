"""Findings on the scale of the things in the box, and on how far away they look."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from ghostprep.optics.advice.draft import Draft, Offer
from ghostprep.optics.advice.words import Words, shown, the
from ghostprep.optics.bodies import thing_names
from ghostprep.optics.changes import with_one
from ghostprep.optics.plan import Plan
from ghostprep.scene.furniture import Thing

_ALIKE: Final = 0.05
"""A difference in size by one part in twenty is what careful scenery keeps to. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Seeming:
    """How a thing of known full size looks from the middle eye."""

    name: str
    thing: Thing
    scale: float
    """Its own: 1 to this."""
    due: float | None
    """What the scene's scale asks for at its depth; None where the scale has no value there."""
    away_mm: float
    """How far away it looks, full size: an eye takes a known thing to stand where its size says."""
    ghost_mm: float
    """How tall the ghost looks, full size, to an eye that takes it to stand beside the thing."""


def seemings(plan: Plan) -> Iterator[Seeming]:
    """Yield how each thing with a full-size height looks."""
    distance = plan.scene.viewer.distance
    for name, thing in zip(thing_names(plan.scene), plan.scene.thing, strict=True):
        if thing.real is None:
            continue
        try:
            due: float | None = 1 / plan.scene.scale.at(thing.at[2])
        except ValueError:
            due = None
        own, away = thing.real / thing.size[1], distance + thing.at[2]
        # the same angle at the thing's distance, in the thing's own scale
        ghost = plan.figure.height_mm / (distance + float(plan.layout.ghost[2])) * away * own
        yield Seeming(name, thing, own, due, away * own, ghost)


def findings(plan: Plan) -> Iterator[Draft]:
    """Yield what there is to say on scale."""
    words = Words(plan.scene.units)
    for own in seemings(plan):
        thing, tall = own.thing, own.thing.size[1]
        if thing.seems is not None:
            # what is far looks small: height over distance is the full size over its wished distance
            scale = thing.seems / (plan.scene.viewer.distance + thing.at[2])
            wanted = own.scale * tall / scale
            off = abs(tall / wanted - 1) > _ALIKE
            seems = f"at 1:{shown(own.scale, 3)} it looks {words.real(own.away_mm)} away"
            text = f"{seems}; wished for are {words.real(thing.seems)}"
            yield _resized(plan, own, text, wanted) if off else Draft("note", own.name, text)
        elif own.due is not None and abs(own.scale / own.due - 1) > _ALIKE:
            text = (
                f"it is 1:{shown(own.scale, 3)}, where the scene is 1:{shown(own.due, 3)}; the ghost "
                f"beside it looks {words.real(own.ghost_mm)} tall"
            )
            yield _resized(plan, own, text, own.scale * tall / own.due)


def _resized(plan: Plan, own: Seeming, text: str, wanted_mm: float) -> Draft:
    """Return the caution that a thing is of another size than is wanted, or meant to look elsewhere."""
    words, (wide, _, deep) = Words(plan.scene.units), own.thing.size
    high = words.told(wanted_mm)
    seems = "say with thing.seems how far away it is meant to look"
    if own.thing.seems is not None:
        seems = f"count on {words.real(own.away_mm)} (thing.seems)"
    size = f"{words(high)} high, 1:{shown(own.scale * own.thing.size[1] / wanted_mm, 3)}"
    remedy = f"make it {size}, where there is room for that; or {seems}"
    place = thing_names(plan.scene).index(own.name)
    offers = (
        Offer(
            f"make {the(own.name)} {size}",
            with_one(plan.scene, "thing", place, size=(wide, high, deep)),
        ),
        Offer(seems, with_one(plan.scene, "thing", place, seems=own.away_mm)),
    )
    return Draft("caution", own.name, text, remedy, offers)
