"""Findings on where the ghost stands and how tall its figure is."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np

from ghostprep.errors import InputError
from ghostprep.optics import changes
from ghostprep.optics.advice.draft import Draft, Offer
from ghostprep.optics.advice.moves import all_moved
from ghostprep.optics.advice.words import Words, listed
from ghostprep.optics.layout import lay_out
from ghostprep.optics.mount import find_figure
from ghostprep.optics.plan import Plan
from ghostprep.optics.vectors import AXES, unit, vector
from ghostprep.scene import Scene, rounded_up

_OFF_MM: Final = 0.5
_LEAN_DEG: Final = 0.5
"""What nobody sees of a place and of a lean (common practice, no source)."""
_STEPS: Final = 5
"""Steps at most to find the measure of a move that changes a slope too."""
_SLANT_DEG: Final = 30.0
"""Beyond this many panels lose contrast. Common practice, no source."""
_LENGTHLESS: Final = {"index", "angle", "swivel", "luminance", "contrast", "lumens", "reflectance", "raster"}


def findings(plan: Plan) -> Iterator[Draft]:
    """Yield what there is to say on the geometry."""
    yield from _defaults(plan)
    yield from _place(plan)
    yield from _lean(plan)
    yield from _figure(plan)


def _defaults(plan: Plan) -> Iterator[Draft]:
    words = Words(plan.scene.units)
    taken = [] if "scale" in plan.scene.model_fields_set else ["scale 1:24"]
    # screen and ghost set the pane
    computed = {"pane.angle"} if plan.scene.pane.through is None and plan.scene.ghost.at else set()
    for key, value in plan.scene.defaults():
        name = key.rsplit(".", 1)[-1]
        if value is None or value == () or key in {"title", "units", "scale"} | computed:
            continue
        if isinstance(value, str) or name in _LENGTHLESS:
            taken.append(f"{key} {value:g}" if isinstance(value, float) else f"{key} {value}")
        elif key == "ghost.figure":
            taken.append(f"{key} {words.real(value)}")
        elif isinstance(value, float):
            taken.append(f"{key} {words(value)}")
        elif isinstance(value, tuple):
            taken.append(f"{key} {listed([words(v) for v in value])}")
    if taken:
        yield Draft("note", "scene", "left out and therefore taken: " + "; ".join(taken))


def _place(plan: Plan) -> Iterator[Draft]:
    words, layout = Words(plan.scene.units), plan.layout
    if layout.wanted is not None and float(np.abs(layout.ghost - layout.wanted).max()) > _OFF_MM:
        text = f"the pane puts the ghost {words.offset(layout.ghost - layout.wanted)} from where it is wanted"
        middle = words.point((layout.screen.centre + layout.wanted) / 2)
        remedy = (
            f"leave pane.through and pane.angle out and the pane is computed; it would pass through {middle}"
        )
        yield Draft("caution", "ghost", text, remedy)
    if (behind := plan.sight.behind_back_mm) > _OFF_MM:
        text = f"it reaches {words(behind)} behind the back wall, so it cannot seem to stand in the scene"
        yield Draft("fault", "ghost", text, "", _before_the_back(plan, behind), by_mm=behind)
    if (beyond := abs(float(layout.ghost[0])) - plan.scene.box.width / 2) > _OFF_MM:
        side = "right" if layout.ghost[0] > 0 else "left"
        text = f"the ghost's middle stands {words(beyond)} beyond the {side} wall"
        yield Draft("fault", "ghost", text, "move the pane towards the screen", by_mm=beyond)


def _before_the_back(plan: Plan, behind_mm: float) -> Iterator[Offer]:
    """Yield a ghost before the back wall: all of it nearer to the opening, a shorter throw, a deeper box."""
    scene, words, layout = plan.scene, Words(plan.scene.units), plan.layout
    step = rounded_up(behind_mm, scene.units)
    yield all_moved(plan, -step)
    if scene.screen.upright and scene.pane.through is None and "angle" not in scene.pane.model_fields_set:
        # of a pane at 45 degrees: as much nearer to the screen's wall
        aside = math.copysign(step, layout.screen.centre[0] - layout.ghost[0])
        x, y, z = (words.told(float(v)) for v in layout.ghost + vector((aside, 0.0, -step)))
        centre = tuple(words.told(float(v)) for v in layout.screen.centre)
        text = f"want the ghost at {words.point((x, y, z))} (ghost.at)"
        made = changes.with_keys(scene, "ghost", at=(x, y, z))
        if scene.screen.centre is None:
            text += f", with the screen's middle at {words.point(centre)} (screen.centre)"
            made = changes.with_keys(made, "screen", centre=centre)
        yield Offer(text, made)
    depth = rounded_up(scene.box.depth + behind_mm, scene.units)
    text = f"make the box {words(depth)} deep (box.depth)"
    yield Offer(text, changes.with_keys(scene, "box", depth=depth))


def _lean(plan: Plan) -> Iterator[Draft]:
    layout, scene, upright = plan.layout, plan.scene, plan.scene.screen.upright
    axis = vector(AXES["up" if upright else "right"])
    twist = abs(float(np.degrees(np.arcsin(layout.pane_normal @ axis))))
    if twist > _LEAN_DEG:
        off = Words(scene.units)(abs(float((layout.ghost - layout.screen.centre) @ axis)))
        text = (
            f"the pane leans two ways, {layout.angle_deg:.1f} and {twist:.1f} degrees, because the ghost is "
            f"wanted {off} off the screen's middle: hard to build"
        )
        word = "as high as" if upright else "as far across as"
        yield Draft("caution", "pane", text, f"want the ghost {word} the screen's middle")
    to_eye = unit(layout.eye - layout.ghost)
    slant = float(np.degrees(np.arccos(np.clip(to_eye @ layout.image.normal, -1, 1))))
    if slant > _SLANT_DEG:
        text = f"the eye looks at it {slant:.0f} degrees aslant, where small screens fade and change colour"
        yield Draft("caution", "screen", text, "turn screen and pane so that the ghost faces the eye")
    if plan.mount.bent:
        text = (
            "the ghost does not stand square to the eye: its picture is off by up to "
            f"{plan.mount.keystone_px:.1f} px; make --scene straightens it"
        )
        yield Draft("note", "keystone", text, "", _squared(plan) if twist <= _LEAN_DEG else ())


def _squared(plan: Plan) -> Iterator[Offer]:
    """Yield the swivel, and the pane's angle, that would set the ghost square."""
    scene = plan.scene
    swivel = round(2 * plan.layout.angle_deg - 90, 1)
    text = f"a swivel of {swivel:.1f} degrees with this pane sets it square"
    yield Offer(text, changes.with_keys(scene, "screen", swivel=swivel))
    # where the ghost's place is given alone, it sets the pane
    if scene.pane.through is not None or scene.ghost.at is None:
        angle = round(45 + scene.screen.swivel / 2, 1)
        text = f"a pane at {angle:.1f} degrees with this swivel sets it square"
        yield Offer(text, changes.with_keys(scene, "pane", angle=angle))


def _figure(plan: Plan) -> Iterator[Draft]:
    words, figure = Words(plan.scene.units), plan.figure
    low, high = figure.lit_mm
    if figure.feet_mm < low - 1e-6:
        gap = low - figure.feet_mm
        text = f"the ground under its feet lies {words(gap)} below the ghost's picture: it cannot stand there"
        ground = rounded_up(low, words.units)
        raised = changes.with_keys(plan.scene, "ghost", feet=ground)
        offers = (*_lowered(plan), Offer(f"raise the ground to {words(ground)} (ghost.feet)", raised))
        yield Draft("fault", "figure", text, "", offers, by_mm=gap)
    elif figure.feet_mm >= high:
        gap = figure.feet_mm - high
        text = f"the ground under its feet lies {words(gap)} above the ghost's picture"
        yield Draft("fault", "figure", text, "", _lowered(plan), by_mm=gap)
    if figure.height_mm > figure.largest_mm + 1e-6:
        remedies = [
            f"a scale of 1:{math.ceil(10 * plan.scene.ghost.figure / figure.largest_mm) / 10:g}",
            f"a figure of {words.real_at_most(figure.largest_mm * figure.scale)}",
            f"a screen that is lit {words.cut(figure.height_mm)} high",
        ]
        longer = max(plan.scene.screen.active)
        if longer >= figure.height_mm and high - low < 0.9 * longer:
            remedies.append("this player turned a quarter (screen.top)")
        text = (
            f"it is {words(figure.height_mm)} ({figure.height_px:.0f} px) tall, but the screen can show "
            f"{words(figure.largest_mm)} at most"
        )
        over = figure.height_mm - figure.largest_mm
        yield Draft("fault", "figure", text, f"what would fit: {listed(remedies, 'or')}", by_mm=over)


def _lowered(plan: Plan) -> Iterator[Offer]:
    """Yield how to lower the ghost's picture, or raise it, until it begins at the figure's ground."""
    by, text, scene = 0.0, "", plan.scene
    for _ in range(_STEPS):
        try:
            figure = find_figure(scene, lay_out(scene))[0]
        except InputError:
            return
        low, high = figure.lit_mm
        if low <= figure.feet_mm + 1e-6 and figure.feet_mm < high:
            yield Offer(text, scene)
            return
        by = rounded_up(by + low - figure.feet_mm, scene.units)
        text, scene = _lowered_by(plan, by)


def _lowered_by(plan: Plan, by_mm: float) -> tuple[str, Scene]:
    """Return what lowers the ghost's picture by about `by_mm` (raises it below 0), and the scene of then."""
    scene, words, at = plan.scene, Words(plan.scene.units), plan.scene.ghost.at
    verb, far = "lower" if by_mm > 0 else "raise", words(abs(by_mm))
    wanted = scene if at is None else changes.with_keys(scene, "ghost", at=(at[0], at[1] - by_mm, at[2]))
    # the screen follows from pane and ghost, or the pane from screen and ghost
    follows = at is not None and scene.screen.centre is None and scene.pane.through is not None
    if follows or (scene.pane.through is None and not scene.screen.upright):
        return f"{verb} ghost.at by {far}", wanted
    x, y, z = (float(v) for v in plan.layout.screen.centre)
    both = ""
    if scene.screen.upright:
        y -= by_mm
        if at is not None and scene.pane.through is None:
            both = " and ghost.at"
        text = f"{verb} the screen{both} by {far}"
    else:
        deeper = by_mm if scene.screen.wall == "floor" else -by_mm
        z += deeper
        text = f"move the screen {far} {'deeper' if deeper > 0 else 'nearer to the opening'}"
    if scene.screen.centre is None:
        text = f"set the screen's middle at {words.point((x, y, z))} (screen.centre)"
        text += f", and {verb} ghost.at by {far}" if both else ""
    return text, changes.with_keys(wanted if both else scene, "screen", centre=(x, y, z))
