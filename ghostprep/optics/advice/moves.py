"""Moves and cuts of what stands in the box, as remedies: just far enough, told in marks on the ruler."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any, Final

import numpy as np

from ghostprep.optics import changes
from ghostprep.optics.advice.draft import Offer
from ghostprep.optics.advice.words import Words, listed, the
from ghostprep.optics.bodies import divider_height, divider_names, mirror_height, thing_names
from ghostprep.optics.changes import Offset
from ghostprep.optics.collisions import KIT
from ghostprep.optics.plan import Plan
from ghostprep.optics.solids import Block, Bundle, pane_block, way_out
from ghostprep.optics.vectors import AXES
from ghostprep.scene import Scene, rounded_up
from ghostprep.scene.furniture import Divider, Mirror

SPARE_MM: Final = 1.0
"""Room that a remedy leaves over."""
WAYS: Final = tuple(AXES[way] for way in ("left", "right", "back", "front", "down", "up"))
"""Of two steps of one length, the one that is offered first."""
_FARTHEST_MM: Final = 60.0
"""Steps out of the way that are looked for are no longer."""
_LEAST_LEFT_MM: Final = 10.0
"""What a remedy leaves of a mirror or a divider is no smaller."""
_DEEPER: Final = (0.1, 0.2)
"""Shares of the box's depth by which all that makes the ghost is tried deeper in the box."""
_CALMER: Final = (0.5, 0.25)
"""Shares of the viewer's sway that are tried."""
_MIRROR_MM: Final = 0.02
"""A mirror as a body."""


def moves(plan: Plan, name: str, other: str) -> Iterator[Offer]:
    """Yield the shortest moves of one thing away from another."""
    yield from steps_out(plan, name, blocks_of(plan, other), _FARTHEST_MM, WAYS)


def steps_out(
    plan: Plan, name: str, others: Sequence[Block | Bundle], most_mm: float, ways: Sequence[Offset]
) -> Iterator[Offer]:
    """Yield the three shortest moves by which one thing is out of others, up to a mark on the ruler."""
    ours, found = blocks_of(plan, name), []
    for way in ways:
        far = max((way_out(a, b, np.array(way)) for a in ours for b in others), default=0.0)
        if 0 < far < most_mm:
            found.append((far, way))
    for far, (x, y, z) in sorted(found, key=lambda pair: pair[0])[:3]:
        step = rounded_up(far + SPARE_MM, plan.scene.units)
        yield from moved(plan, name, (x * step, y * step, z * step))


def blocks_of(plan: Plan, name: str) -> list[Block]:
    """Return what a thing, the pane or a mirror takes in the box; player and holder go together."""
    if name == "pane":
        return [pane_block(plan.scene, plan.layout, plan.pane)]
    names = KIT if name in KIT else {name}
    found = [body.block for body in plan.world.bodies if body.name in names]
    return found + [mirror.block(_MIRROR_MM) for mirror in plan.world.mirrors if mirror.name == name]


def moved(plan: Plan, name: str, step: Offset) -> Iterator[Offer]:
    """Yield the offer to move one thing; none if it cannot go that way."""
    scene, words = plan.scene, Words(plan.scene.units)
    if name in KIT:
        yield _screen_moved(plan, step)
        return
    made = None
    if name in thing_names(scene):
        made = changes.with_thing(scene, thing_names(scene).index(name), step)
    elif name in divider_names(scene) and step[0] == step[1] == 0:
        made = changes.with_divider_moved(scene, divider_names(scene).index(name) + 1, step[2])
    elif name.startswith("mirror ") and step[1] == 0:
        made = changes.with_mirror_moved(scene, int(name.split()[1]), step)
    if made is not None:
        yield Offer(f"move {the(name)} {words.offset(step)}", made)


def _screen_moved(plan: Plan, step: Offset) -> Offer:
    """Return the offer to move the screen alone; a place that followed from the rest is told."""
    scene, words = plan.scene, Words(plan.scene.units)
    x, y, z = (float(v) for v in plan.layout.screen.centre + step)
    text = f"move the screen with its player {words.offset(step)}"
    if scene.screen.centre is None:
        x, y, z = (words.told(v) for v in (x, y, z))
        text = f"set the screen's middle at {words.point((x, y, z))} (screen.centre)"
    return Offer(text, changes.with_keys(scene, "screen", centre=(x, y, z)))


def deeper(plan: Plan) -> Iterator[Offer]:
    """Yield all that makes the ghost a tenth and a fifth of the box's depth deeper."""
    for share in _DEEPER:
        offer = all_moved(plan, rounded_up(share * plan.scene.box.depth, plan.scene.units))
        yield replace(offer, farther=share > _DEEPER[0])


def calmer(plan: Plan) -> Iterator[Offer]:
    """Yield viewers who move half as far, and a quarter."""
    for share in _CALMER:
        made = changes.with_sway(plan.scene, share)
        if max(made.viewer.sway) < max(plan.scene.viewer.sway):
            text = f"count on a viewer.sway of {Words(plan.scene.units).point(made.viewer.sway)}"
            yield Offer(text, made, farther=share < _CALMER[0])


def all_moved(plan: Plan, deeper_mm: float) -> Offer:
    """Return the offer to move the screen, and with it pane and ghost, deeper in the box."""
    scene, words, step = plan.scene, Words(plan.scene.units), (0.0, 0.0, deeper_mm)
    offer, given = _screen_moved(plan, step), []
    made = offer.scene
    for table, key in (("pane", "through"), ("ghost", "at")):
        if (point := getattr(getattr(scene, table), key)) is not None:
            made = changes.with_keys(made, table, **{key: tuple(np.add(point, step).tolist())})
            given.append(f"{table}.{key}")
    if not given:
        return offer
    if scene.screen.centre is None:
        return Offer(f"{offer.text}, and move {' and '.join(given)} {words.offset(step)}", made)
    return Offer(f"move {listed(['screen.centre', *given])} {words.offset(step)}", made)


def cut_back(plan: Plan, name: str, along: tuple[float, float], up: tuple[float, float]) -> Iterator[Offer]:
    """Yield a mirror or divider less a part of it, the largest remainder first.

    Parameters
    ----------
    along, up : tuple of float
        From where to where the part reaches along the line from its `from`, and above the floor, mm; what is
        left keeps clear of both.
    """
    scene, words = plan.scene, Words(plan.scene.units)
    table, number = name.split(maxsplit=1)[0], int(name.rsplit(maxsplit=1)[-1])
    old: Divider | Mirror = getattr(scene, table)[number - 1]
    for keys in remainders(scene, old, along, up):
        made = changes.with_one(scene, table, number - 1, **keys)
        new = getattr(made, table)[number - 1]
        text = f"shorten {name}: from {words.point(new.start)} to {words.point(new.end)}"
        if isinstance(new, Divider) and "height" in keys:
            text = f"make {name} {words(keys['height'])} high"
        elif isinstance(new, Divider) and new.doorways:
            doors = "doorway" if len(new.doorways) == 1 else "doorways"
            text += f", its {doors} at {listed([words(d.at) for d in new.doorways])} along it"
        elif new.height is not None and isinstance(new, Mirror):
            text += f", {words(new.height)} high from {words(new.sill)} above the floor"
        yield Offer(text, made)


def remainders(
    scene: Scene, old: Divider | Mirror, along: tuple[float, float], up: tuple[float, float]
) -> list[dict[str, Any]]:
    """Return the keys of what is left without a part, as `cut_back` says it."""
    start, direction = np.array(old.start), np.subtract(old.end, old.start) / old.length
    mirror = isinstance(old, Mirror)
    sill = old.sill if isinstance(old, Mirror) else 0.0
    top = sill + (mirror_height(scene, old) if isinstance(old, Mirror) else divider_height(scene, old))
    found: list[tuple[float, dict[str, Any]]] = []
    for a, b in ((0.0, along[0]), (along[1], old.length)):
        if b - a > _LEAST_LEFT_MM and b - a < old.length:
            ends: dict[str, Any] = {
                "start": tuple((start + a * direction).tolist()),
                "end": tuple((start + b * direction).tolist()),
            }
            if isinstance(old, Divider):
                doors = [d for d in old.doorways if d.at + d.width / 2 > a and d.at - d.width / 2 < b]
                if any(d.at - d.width / 2 < a or d.at + d.width / 2 > b for d in doors):
                    continue  # it would end in a doorway
                ends["doorways"] = tuple(d.model_copy(update={"at": d.at - a}) for d in doors)
            found.append(((b - a) * (top - sill), ends))
    for a, b in ((sill, up[0]), *(((up[1], top),) if mirror else ())):
        # what is left is told to marks on the ruler
        low, height = rounded_up(a, scene.units), -rounded_up(a - b, scene.units)
        if _LEAST_LEFT_MM < height < top - sill:
            found.append((height * old.length, {"height": height} | ({"sill": low} if mirror else {})))
    return [keys for _, keys in sorted(found, key=lambda pair: -pair[0])]


def cut_clear(plan: Plan, name: str, other: str) -> Iterator[Offer]:
    """Yield a mirror without the part that something else stands in."""
    if not name.startswith("mirror "):
        return
    old = plan.scene.mirror[int(name.split()[1]) - 1]
    start, along = np.array(old.start), np.subtract(old.end, old.start) / old.length
    corners = np.vstack([block.corners() for block in blocks_of(plan, other)])
    u, v = (corners[:, [0, 2]] - start) @ along, corners[:, 1]
    yield from cut_back(
        plan,
        name,
        (float(u.min()) - SPARE_MM, float(u.max()) + SPARE_MM),
        (float(v.min()) - SPARE_MM, float(v.max()) + SPARE_MM),
    )
