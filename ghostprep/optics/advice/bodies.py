"""Findings on what stands in the box: in the ghost's light, in each other's way, in a mirror."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

import numpy as np

from ghostprep.finding import Finding
from ghostprep.optics.advice import changes
from ghostprep.optics.advice.draft import NO_ROOM, PANE_OUTSIDE, Draft, Offer, said
from ghostprep.optics.advice.words import Words, listed
from ghostprep.optics.bodies import divider_height, thing_names
from ghostprep.optics.collide import Collision
from ghostprep.optics.mirrored import ScreenInMirror
from ghostprep.optics.place import light_through
from ghostprep.optics.plan import Plan
from ghostprep.optics.sight import Blocked, ghost_bundles
from ghostprep.optics.sightlines import bounds, eye_corners
from ghostprep.optics.solids import Block, pane_block, player_block, way_out
from ghostprep.scene import Scene
from ghostprep.scene.furniture import Doorway, Mirror

_SPARE_MM: Final = 1.0
_LEAST_MIRROR_MM: Final = 10.0
_FARTHEST_MM: Final = 60.0
_WAYS: Final = (
    ("to the left", (-1.0, 0.0, 0.0)),
    ("to the right", (1.0, 0.0, 0.0)),
    ("deeper", (0.0, 0.0, 1.0)),
    ("nearer to the opening", (0.0, 0.0, -1.0)),
    ("down", (0.0, -1.0, 0.0)),
    ("up", (0.0, 1.0, 0.0)),
)


def findings(plan: Plan) -> Iterator[Finding | Draft]:
    """Yield what there is to say on the bodies."""
    for blocked in plan.sight.blocked:
        yield _blocked(plan, blocked)
    for seen in plan.sight.in_mirrors:
        yield _in_mirror(plan, seen)
    for pair in plan.collisions:
        # a baffle that runs into something is told with what it should hide
        if "baffle" not in {pair.first, pair.second}:
            yield _collision(plan, pair)
    yield from _no_room(plan)
    for reach in plan.reaches:
        if reach.first != "baffle":
            yield _reach(plan, reach)


def _blocked(plan: Plan, blocked: Blocked) -> Draft:
    words = Words(plan.scene.units)
    place = "between eye and pane" if blocked.before_pane else "between pane and screen"
    eyes = "even for the middle eye" if blocked.middle else "from the outermost eye positions"
    return Draft(
        Finding(
            "fault" if blocked.middle else "caution",
            blocked.name,
            f"it reaches {words(blocked.overlap_mm)} into the ghost's light, {place}, and cuts its picture "
            f"off {eyes}",
            "move it out of the light, or count on a smaller viewer.sway",
        ),
        _out_of_light(plan, blocked),
    )


def _out_of_light(plan: Plan, blocked: Blocked) -> Iterator[Offer]:
    scene, words, name = plan.scene, Words(plan.scene.units), blocked.name
    if name.startswith("divider ") and name[8:].isdigit():
        number = int(name[8:])
        yield from _doorway_offers(plan, number)
        for way in _steps(plan, name, ((0.0, 0.0, 1.0), (0.0, 0.0, -1.0))):
            text = (
                f"move {name} {words.cut(abs(way[2]))} {'deeper' if way[2] > 0 else 'nearer to the opening'}"
            )
            yield said(text, changes.with_divider_moved(scene, number, way[2]))
    elif name in thing_names(scene):
        place = thing_names(scene).index(name)
        for way in _steps(plan, name, [direction for _, direction in _WAYS]):
            yield said(f"move the {name} {_way(words, way)}", changes.with_thing(scene, place, way))


def _way(words: Words, way: tuple[float, float, float]) -> str:
    for name, direction in _WAYS:
        along = sum(a * b for a, b in zip(way, direction, strict=True))
        if along > 0:
            return f"{words.cut(along)} {name}"
    return ""


def _steps(
    plan: Plan, name: str, directions: Iterable[tuple[float, float, float]]
) -> list[tuple[float, float, float]]:
    """Return by how much a body must move to leave the ghost's light, the shortest way first."""
    eyes = eye_corners(plan.scene)
    legs = ghost_bundles(plan.layout, eyes)
    blocks = [body.block for body in plan.world.bodies if body.name == name]
    found = []
    for direction in directions:
        way = np.array(direction)
        far = max(leg.way_out(block, way) for leg in legs for block in blocks)
        if 0 < far < 0.4 * max(plan.scene.box.width, plan.scene.box.depth):
            x, y, z = ((far + _SPARE_MM) * way).tolist()
            found.append((x, y, z))
    return sorted(found, key=lambda v: float(np.linalg.norm(v)))[:3]


def _doorway_offers(plan: Plan, number: int) -> Iterator[Offer]:
    """Yield the doorway that lets all of the ghost's light through, made of the nearest one."""
    scene, words = plan.scene, Words(plan.scene.units)
    divider = scene.divider[number - 1]
    height = divider_height(scene, divider)
    places = light_through(scene, plan.layout, divider)
    if places is None:
        return
    need = bounds(places)
    left, right = need.left - _SPARE_MM, need.right + _SPARE_MM
    low, high = max(need.low - _SPARE_MM, 0.0), need.high + _SPARE_MM
    if left < 0 or right > divider.length or high > height:
        return
    near = [
        (abs(d.at - (left + right) / 2), n)
        for n, d in enumerate(divider.doorways)
        if d.at - d.width / 2 < right and d.at + d.width / 2 > left
    ]
    if not near:
        door = Doorway(at=(left + right) / 2, width=right - left, height=high - low, sill=low)
        text = (
            f"cut a doorway {words.size((door.width, door.height))} into divider {number}, its middle at "
            f"{words(door.at)} and its sill {words(low)} above the floor"
        )
        yield said(text, changes.with_doorway(scene, number, None, door))
        return
    place = min(near)[1]
    old = divider.doorways[place]
    left, right = min(left, old.at - old.width / 2), max(right, old.at + old.width / 2)
    low, high = min(low, old.sill), max(high, old.sill + old.height)
    door = Doorway(at=(left + right) / 2, width=right - left, height=high - low, sill=low)
    text = (
        f"make its doorway {words.size((door.width, door.height))} (width x height), its middle at "
        f"{words(door.at)} along the divider, its sill {words(low)} above the floor"
    )
    yield said(text, changes.with_doorway(scene, number, place, door))


def _in_mirror(plan: Plan, seen: ScreenInMirror) -> Draft:
    words = Words(plan.scene.units)
    if "pane" in seen.via:
        how = "off the pane's back face" if seen.via[0] != "pane" else "after the pane's front face"
        text = f"the lit screen is seen in it, {how}"
    else:
        others = [name for name in seen.via if name != seen.mirror]
        over = f" and {listed(others)}" if others else ""
        text = f"the lit screen is seen in it{over}{', through the pane' if seen.through_pane else ''}"
    offers = []
    number = int(seen.mirror.split()[1])
    for new in _shortened(plan, number, seen):
        tall = (
            "" if new.height is None else f", {words(new.height)} high from {words(new.sill)} above the floor"
        )
        text_of = f"shorten it: from {words.point(new.start)} to {words.point(new.end)}{tall}"
        offers.append(said(text_of, changes.with_mirror(plan.scene, number, new)))
    remedy = "hide the screen from it with a divider, hang it elsewhere, or leave it out"
    return Draft(Finding("fault", seen.mirror, text, remedy), tuple(offers))


def _shortened(plan: Plan, number: int, seen: ScreenInMirror) -> list[Mirror]:
    """Return the mirror without the part in which the screen shows, the largest remainder first."""
    old, height = plan.scene.mirror[number - 1], plan.scene.box.height
    start, end = np.array(old.start), np.array(old.end)
    along = (end - start) / old.length
    u, v = (seen.places[:, [0, 2]] - start) @ along, seen.places[:, 1]
    # the net of lines is this coarse
    spare_u, spare_v = (float(np.ptp(w)) / 8 + 2 * _SPARE_MM for w in (u, v))
    top = height if old.height is None else old.sill + old.height
    found: list[tuple[float, Mirror]] = []
    for a, b in ((0.0, float(u.min()) - spare_u), (float(u.max()) + spare_u, old.length)):
        if b - a > _LEAST_MIRROR_MM:
            ends = {"start": tuple(start + a * along), "end": tuple(start + b * along)}
            found.append(((b - a) * (top - old.sill), old.model_copy(update=ends)))
    for a, b in ((old.sill, float(v.min()) - spare_v), (float(v.max()) + spare_v, top)):
        if b - a > _LEAST_MIRROR_MM:
            found.append(((b - a) * old.length, old.model_copy(update={"sill": a, "height": b - a})))
    return [mirror for _, mirror in sorted(found, key=lambda pair: -pair[0])]


def _collision(plan: Plan, pair: Collision) -> Draft:
    words = Words(plan.scene.units)
    return Draft(
        Finding(
            "fault",
            pair.first,
            f"it and the {pair.second} run {words(pair.overlap_mm)} into each other",
            f"move one of them by {words.cut(pair.overlap_mm)} or more",
        ),
        _apart(plan, pair),
        follows=(PANE_OUTSIDE,) if "pane" in {pair.first, pair.second} else (),
    )


def _apart(plan: Plan, pair: Collision) -> Iterator[Offer]:
    scene, names = plan.scene, {pair.first, pair.second}
    if "pane" in names and scene.pane.size is not None:
        yield Offer(
            lambda after: f"cut the pane {Words(scene.units).size(after.pane.cut)}",
            changes.with_pane(scene, size=None),
        )
    if "holder" in names:
        for way in plan.room.ways_out:
            if way.clear and way.direction != plan.room.out:
                text = (
                    f"let the player slide out {way.direction} (holder.out), where the holder needs no strip"
                )
                yield said(text, changes.with_out(scene, way.direction))
    for name, other in ((pair.second, pair.first), (pair.first, pair.second)):
        yield from _moves(plan, name, other)


def _moves(plan: Plan, name: str, other: str) -> Iterator[Offer]:
    """Yield the shortest moves of one thing away from another."""
    scene, words = plan.scene, Words(plan.scene.units)
    ours, theirs = _blocks(plan, name), _blocks(plan, other)
    ways = []
    for _, direction in _WAYS:
        way = np.array(direction)
        far = max((way_out(a, b, way) for a in ours for b in theirs), default=0.0)
        if 0 < far < _FARTHEST_MM:
            x, y, z = ((far + _SPARE_MM) * way).tolist()
            ways.append((x, y, z))
    for step in sorted(ways, key=lambda v: max(map(abs, v)))[:3]:
        made = moved(scene, name, step)
        if made is not None:
            what = "screen with its player" if name in {"player", "holder"} else name
            yield said(f"move the {what} {_way(words, step)}", made)


def _blocks(plan: Plan, name: str) -> list[Block]:
    if name == "pane":
        return [pane_block(plan.scene, plan.layout, plan.pane)]
    return [body.block for body in plan.world.bodies if body.name == name]


def moved(scene: Scene, name: str, step: tuple[float, float, float]) -> Scene | None:
    """Return the scene with one thing moved; None if it cannot go that way."""
    if name in {"player", "holder"}:
        return changes.with_screen(scene, step)
    if name in thing_names(scene):
        return changes.with_thing(scene, thing_names(scene).index(name), step)
    if name.startswith("divider ") and step[0] == step[1] == 0:
        return changes.with_divider_moved(scene, int(name[8:]), step[2])
    return None


def _no_room(plan: Plan) -> Iterator[Draft]:
    """Yield that the player is larger than the box, one way or another."""
    words, box = Words(plan.scene.units), plan.scene.box
    met = {reach.second for reach in plan.reaches if reach.first == "player"}
    size = np.ptp(player_block(plan.layout.screen, plan.scene.screen.body).corners(), axis=0)
    for axis, (first, second), room in (
        (0, ("left wall", "right wall"), box.width),
        (1, ("floor", "ceiling"), box.height),
        (2, ("opening", "back wall"), box.depth),
    ):
        if {first, second} <= met:
            text = (
                f"as it is mounted it takes {words(float(size[axis]))} between {first} and {second}, "
                f"where there are {words(room)}"
            )
            remedy = "turn it (screen.top), hang it on another side (screen.wall), or take a larger box"
            yield Draft(Finding("fault", "player", text, remedy), cause=NO_ROOM)


def _reach(plan: Plan, reach: Collision) -> Draft:
    words, scene, face, mm = Words(plan.scene.units), plan.scene, reach.second, reach.overlap_mm
    back = {"left wall": 1, "right wall": 0, "floor": 5, "ceiling": 4, "opening": 2, "back wall": 3}[face]
    x, y, z = _WAYS[back][1]
    step: tuple[float, float, float] = (x * mm, y * mm, z * mm)
    made = moved(scene, reach.first, step)
    what = "screen with its player" if reach.first in {"player", "holder"} else reach.first
    offers = () if made is None else (said(f"move the {what} {_way(words, step)}", made),)
    if face == "opening":
        text = f"it reaches {words(mm)} out of the opening"
        return Draft(Finding("fault", reach.first, text, "set it deeper in the box"), offers)
    if reach.first == "player":
        wall = scene.box.wall
        beyond = f" and {words(mm - wall)} out of it" if mm > wall + 1e-6 else ""
        remedy = f"cut the {face} out there, or move the screen {words.cut(mm)} away from it"
        return Draft(
            Finding("caution", "player", f"its body reaches {words(mm)} into the {face}{beyond}", remedy),
            cause=f"player in {face}",
        )
    remedy = f"make it {words.cut(mm)} shorter there, or move it"
    text = f"it reaches {words(mm)} through the {face}"
    # the holder goes with the player
    follows = (f"player in {face}",) if reach.first == "holder" else ()
    return Draft(Finding("fault", reach.first, text, remedy), offers, follows=follows)
