"""Findings on where the ghost stands and how tall its figure is."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from ghostprep.finding import Finding
from ghostprep.optics.advice.words import Words, listed
from ghostprep.optics.plan import Plan
from ghostprep.optics.vectors import AXES, unit, vector

_OFF_MM: Final = 0.5
_LEAN_DEG: Final = 0.5
_SLANT_DEG: Final = 30.0
"""Beyond this many panels lose contrast. Common practice, no source."""
KEYSTONE_PX: Final = 0.5
"""A picture that is off by less than half a pixel is not resampled."""
_LENGTHLESS: Final = {"index", "angle", "swivel", "luminance", "contrast", "lumens", "reflectance", "raster"}


def findings(plan: Plan) -> Iterator[Finding]:
    """Yield what there is to say on the geometry."""
    yield from _defaults(plan)
    yield from _place(plan)
    yield from _lean(plan)
    yield from _figure(plan)


def _defaults(plan: Plan) -> Iterator[Finding]:
    words = Words(plan.scene.units)
    taken = []
    for key, value in plan.scene.defaults():
        name = key.rsplit(".", 1)[-1]
        if value is None or value == () or key in {"title", "units", "scale"}:
            continue
        if isinstance(value, str) or name in _LENGTHLESS:
            taken.append(f"{key} {value:g}" if isinstance(value, float) else f"{key} {value}")
        elif key == "ghost.figure":
            taken.append(f"{key} {words.real(value)}")
        elif isinstance(value, float):
            taken.append(f"{key} {words(value)}")
        elif isinstance(value, tuple):
            taken.append(f"{key} {listed([words(v) for v in value])}")
    if "scale" not in plan.scene.model_fields_set:
        taken.insert(0, "scale 1:24")
    if taken:
        yield Finding("note", "scene", "left out and therefore taken: " + "; ".join(taken))


def _place(plan: Plan) -> Iterator[Finding]:
    words, layout, box = Words(plan.scene.units), plan.layout, plan.scene.box
    if layout.wanted is not None and float(np.abs(layout.ghost - layout.wanted).max()) > _OFF_MM:
        middle = (layout.screen.centre + layout.wanted) / 2
        yield Finding(
            "caution",
            "ghost",
            f"the pane puts the ghost {words.offset(layout.ghost - layout.wanted)} from where it is wanted",
            f"leave pane.through and pane.angle out and the pane is computed; it would pass through "
            f"{words.point(middle)}",
        )
    behind = plan.sight.behind_back_mm
    if behind > _OFF_MM:
        yield Finding(
            "fault",
            "ghost",
            f"it reaches {words(behind)} behind the back wall, so it cannot seem to stand in the scene",
            f"move the screen {words.cut(behind)} nearer to the opening, or deepen the box",
        )
    beyond = abs(float(layout.ghost[0])) - box.width / 2
    if beyond > _OFF_MM:
        side = "right" if layout.ghost[0] > 0 else "left"
        yield Finding(
            "fault",
            "ghost",
            f"the ghost's middle stands {words(beyond)} beyond the {side} wall",
            "move the pane towards the screen",
        )


def _lean(plan: Plan) -> Iterator[Finding]:
    layout, scene = plan.layout, plan.scene
    upright = vector(AXES["up" if scene.screen.wall in {"left", "right"} else "right"])
    twist = abs(float(np.degrees(np.arcsin(layout.pane_normal @ upright))))
    if twist > _LEAN_DEG:
        axis, word = (1, "as high as") if scene.screen.wall in {"left", "right"} else (0, "as far across as")
        off = float(layout.ghost[axis] - layout.screen.centre[axis])
        yield Finding(
            "caution",
            "pane",
            f"the pane leans two ways, {layout.angle_deg:.1f} and {twist:.1f} degrees, because the ghost is "
            f"wanted {Words(scene.units)(abs(off))} off the screen's middle: hard to build",
            f"want the ghost {word} the screen's middle",
        )
    to_eye = unit(layout.eye - layout.ghost)
    slant = float(np.degrees(np.arccos(np.clip(to_eye @ layout.image.normal, -1, 1))))
    if slant > _SLANT_DEG:
        yield Finding(
            "caution",
            "screen",
            f"the eye looks at it {slant:.0f} degrees aslant, where small screens fade and change colour",
            "turn screen and pane so that the ghost faces the eye",
        )
    px = plan.mount.keystone_px
    if px > KEYSTONE_PX:
        best = 2 * layout.angle_deg - 90
        turn = (
            f"a swivel of {best:.1f} degrees with this pane, or a pane at "
            f"{45 + scene.screen.swivel / 2:.1f} degrees with this swivel, sets it square"
            if twist <= _LEAN_DEG
            else ""
        )
        yield Finding(
            "note",
            "keystone",
            f"the ghost does not stand square to the eye: its picture is off by up to {px:.1f} px; "
            "make --scene straightens it",
            turn,
        )


def _figure(plan: Plan) -> Iterator[Finding]:
    words, figure, ghost = Words(plan.scene.units), plan.figure, plan.scene.ghost
    low, high = figure.lit_mm
    if figure.feet_mm < low - 1e-6:
        gap = low - figure.feet_mm
        yield Finding(
            "fault",
            "figure",
            f"the ground under its feet lies {words(gap)} below the ghost's picture: it cannot stand there",
            f"{_lowered(plan, gap)}, or raise the ground to {words.cut(low)} (ghost.feet)",
        )
    elif figure.feet_mm >= high:
        yield Finding(
            "fault",
            "figure",
            f"the ground under its feet lies {words(figure.feet_mm - high)} above the ghost's picture",
            "raise the screen, or lower the ground (ghost.feet)",
        )
    if figure.height_mm > figure.largest_mm + 1e-6:
        remedies = [
            f"a scale of 1:{figure.fitting_scale(ghost.figure):.1f}",
            f"a figure of {words.real(figure.largest_mm * figure.scale)}",
            f"a screen that is lit {words.cut(figure.height_mm)} high",
        ]
        if max(plan.scene.screen.active) >= figure.height_mm > figure.largest_mm and _lies(plan):
            remedies.append("this player turned a quarter (screen.top)")
        yield Finding(
            "fault",
            "figure",
            f"it is {words(figure.height_mm)} ({figure.height_px:.0f} px) tall, but the screen can show "
            f"{words(figure.largest_mm)} at most",
            f"what would fit: {listed(remedies)}",
        )


def _lowered(plan: Plan, by_mm: float) -> str:
    """Return how to lower the ghost's picture."""
    words, scene = Words(plan.scene.units), plan.scene
    if scene.screen.wall in {"left", "right"}:
        return f"lower the screen by {words.cut(by_mm)}"
    if scene.pane.through is None:
        lower = plan.layout.ghost - vector((0.0, by_mm, 0.0))
        return f"want the ghost's middle at {words.point(lower)} (ghost.at)"
    way = "deeper" if scene.screen.wall == "floor" else "nearer to the opening"
    return f"move the screen about {words.cut(by_mm)} {way}"


def _lies(plan: Plan) -> bool:
    """Return whether the lit area's longer side lies across the figure's height."""
    high = plan.figure.lit_mm[1] - plan.figure.lit_mm[0]
    return high < 0.9 * max(plan.scene.screen.active)
