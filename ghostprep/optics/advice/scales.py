"""Findings on the scale of the things in the box, and on how far away they look."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from ghostprep.finding import Finding
from ghostprep.optics.advice.words import Words
from ghostprep.optics.bodies import thing_names
from ghostprep.optics.plan import Plan
from ghostprep.scene.furniture import Thing

_ALIKE: Final = 0.05
"""A difference in size by one part in twenty is what careful scenery keeps to. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Seeming:
    """How a thing of known full size looks from the middle eye.

    Attributes
    ----------
    scale : float
        Its own: 1 to this.
    due : float or None
        What the scene's scale asks for at its depth; None where the scale has no value there.
    away_mm : float
        How far away it looks, full size: an eye takes a known thing to stand where its size says.
    ghost_mm : float
        How tall the ghost looks, full size, to an eye that takes it to stand beside the thing.
    """

    name: str
    scale: float
    due: float | None
    away_mm: float
    ghost_mm: float


def seemings(plan: Plan) -> list[Seeming]:
    """Return how each thing with a full-size height looks."""
    return [
        _seeming(plan, name, thing, thing.real)
        for name, thing in zip(thing_names(plan.scene), plan.scene.thing, strict=True)
        if thing.real is not None
    ]


def _seeming(plan: Plan, name: str, thing: Thing, real: float) -> Seeming:
    distance = plan.scene.viewer.distance
    try:
        due: float | None = 1 / plan.scene.scale.at(thing.at[2])
    except ValueError:
        due = None
    own = real / thing.size[1]
    away = distance + thing.at[2]
    # the same angle at the thing's distance, in the thing's own scale
    ghost = plan.figure.height_mm / (distance + float(plan.layout.ghost[2])) * away * own
    return Seeming(name, own, due, away * own, ghost)


def findings(plan: Plan) -> Iterator[Finding]:
    """Yield what there is to say on scale."""
    words, distance = Words(plan.scene.units), plan.scene.viewer.distance
    known = {s.name: s for s in seemings(plan)}
    for name, thing in zip(thing_names(plan.scene), plan.scene.thing, strict=True):
        if name not in known:
            continue
        own = known[name]
        if thing.seems is not None:
            # what is far looks small: height over distance is the full size over its wished distance
            scale = thing.seems / (distance + thing.at[2])
            height = own.scale * thing.size[1] / scale
            off = abs(thing.size[1] / height - 1) > _ALIKE
            yield Finding(
                "caution" if off else "note",
                name,
                f"at 1:{own.scale:.3g} it looks {words.real(own.away_mm)} away; wished for are "
                f"{words.real(thing.seems)}",
                f"make it 1:{scale:.3g}, {words(height)} high, where it stands" if off else "",
            )
        elif own.due is not None and abs(own.scale / own.due - 1) > _ALIKE:
            yield Finding(
                "caution",
                name,
                f"it is 1:{own.scale:.3g}, where the scene is 1:{own.due:.3g}; the ghost beside it looks "
                f"{words.real(own.ghost_mm)} tall",
                f"make it {words(own.scale * thing.size[1] / own.due)} high, or say with thing.seems how "
                "far away it is meant to look",
            )
