"""Findings on what stands in the box: in the ghost's light, in each other's way, in a mirror."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ghostprep.finding import Level
from ghostprep.optics import changes
from ghostprep.optics.advice.draft import IN_A_WALL, NO_ROOM, PANE_OUTSIDE, Draft, Offer
from ghostprep.optics.advice.moves import SPARE_MM, WAYS, cut_back, cut_clear, deeper, moved, moves, steps_out
from ghostprep.optics.advice.words import Words, listed, the
from ghostprep.optics.bodies import divider_height, divider_names, thing_names
from ghostprep.optics.collisions import Collision
from ghostprep.optics.panefit import box_faces
from ghostprep.optics.plan import Plan
from ghostprep.optics.sight import Blocked, ghost_bundles
from ghostprep.optics.sightlines import bounds, eye_corners
from ghostprep.optics.solids import player_block
from ghostprep.optics.trial import light_through
from ghostprep.optics.vectors import AXES
from ghostprep.optics.visible import ScreenInMirror
from ghostprep.scene import rounded_up
from ghostprep.scene.furniture import Doorway


def findings(plan: Plan) -> Iterator[Draft]:
    """Yield what there is to say on the bodies."""
    for blocked in plan.sight.blocked:
        yield _blocked(plan, blocked)
    for seen in plan.sight.in_mirrors:
        yield _in_mirror(plan, seen)
    for pair in plan.collisions:
        # a baffle's collision is told in the finding on what it should hide
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
    far = words(blocked.overlap_mm)
    text = f"it reaches {far} into the ghost's light, {place}, and cuts its picture off {eyes}"
    remedy = "" if blocked.middle else "move it out of the light, or count on a smaller viewer.sway"
    level: Level = "fault" if blocked.middle else "caution"
    return Draft(level, blocked.name, text, remedy, _out_of_light(plan, blocked), by_mm=blocked.overlap_mm)


def _out_of_light(plan: Plan, blocked: Blocked) -> Iterator[Offer]:
    scene, name = plan.scene, blocked.name
    legs, most = ghost_bundles(plan.layout, eye_corners(scene)), 0.4 * max(scene.box.width, scene.box.depth)
    if name in divider_names(scene):
        number = divider_names(scene).index(name) + 1
        yield from _doorway_offers(plan, number)
        yield from steps_out(plan, name, legs, most, (AXES["back"], AXES["front"]))
        yield from _out_of_the_lights_way(plan, number)
    elif name in thing_names(scene):
        yield from steps_out(plan, name, legs, most, WAYS)
    else:
        yield from _other_ways_out(plan) if name == "holder" else ()
        yield from deeper(plan)


def _doorway_offers(plan: Plan, number: int) -> Iterator[Offer]:
    """Yield the doorway that lets all of the ghost's light through, made of those that lie in it."""
    scene, words = plan.scene, Words(plan.scene.units)
    divider = scene.divider[number - 1]
    height = divider_height(scene, divider)
    places = light_through(scene, plan.layout, divider)
    if places is None:
        return
    need = bounds(places)
    left, right = need.left - SPARE_MM, need.right + SPARE_MM
    low, high = max(need.low - SPARE_MM, 0.0), need.high + SPARE_MM
    if left < 0 or right > divider.length or high > height:
        return
    taken: list[Doorway] = []
    while new := [d for d in divider.doorways if d not in taken and _meet(d, left, right)]:
        taken += new
        left = min(left, *(d.at - d.width / 2 for d in new))
        right = max(right, *(d.at + d.width / 2 for d in new))
        low, high = min(low, *(d.sill for d in new)), max(high, *(d.sill + d.height for d in new))
    door = _door(words, (left, right), (low, high))
    rest = tuple(d for d in divider.doorways if d not in taken)
    first, last = door.at - door.width / 2, door.at + door.width / 2
    if first < -1e-6 or last > divider.length + 1e-6 or any(_meet(d, first, last) for d in rest):
        return  # rounded up, it has no room
    ats = listed([words(d.at) for d in taken])
    what = {
        0: f"cut a doorway into divider {number}:",
        1: f"enlarge divider {number}'s doorway{f' at {ats}' if rest else ''} to",
    }.get(len(taken), f"join the doorways of divider {number} at {ats} to one of")
    text = (
        f"{what} {words.size((door.width, door.height))} (width x height), its middle at "
        f"{words(door.at)} along the divider, its sill {words(low)} above the floor"
    )
    yield Offer(text, changes.with_one(scene, "divider", number - 1, doorways=(*rest, door)))


def _out_of_the_lights_way(plan: Plan, number: int) -> Iterator[Offer]:
    """Yield the divider that ends before the ghost's light, to one side or below."""
    places = light_through(plan.scene, plan.layout, plan.scene.divider[number - 1])
    if places is not None:
        need = bounds(places)
        along, up = (need.left - SPARE_MM, need.right + SPARE_MM), (need.low - SPARE_MM, need.high + SPARE_MM)
        yield from cut_back(plan, f"divider {number}", along, up)


def _meet(door: Doorway, left: float, right: float) -> bool:
    """Return whether a doorway lies within, or reaches into, a part of its divider."""
    return door.at - door.width / 2 < right - 1e-6 and door.at + door.width / 2 > left + 1e-6


def _door(words: Words, across: tuple[float, float], up: tuple[float, float]) -> Doorway:
    """Return a doorway of what it must leave open, in measures as they are told."""
    width, height = (rounded_up(high - low, words.units) for low, high in (across, up))
    return Doorway(at=words.told(sum(across) / 2), width=width, height=height, sill=words.told(up[0]))


def _in_mirror(plan: Plan, seen: ScreenInMirror) -> Draft:
    if "pane" in seen.via:
        how = "off the pane's back face" if seen.via[0] != "pane" else "after the pane's front face"
        text = f"the lit screen is seen in it, {how}"
    else:
        others = [name for name in seen.via if name != seen.mirror]
        over = f" and {listed(others)}" if others else ""
        text = f"the lit screen is seen in it{over}{', through the pane' if seen.through_pane else ''}"
    remedy = "hide the screen from it with a divider, hang it elsewhere, or leave it out"
    return Draft("fault", seen.mirror, text, remedy, _less_of(plan, seen))


def _less_of(plan: Plan, seen: ScreenInMirror) -> Iterator[Offer]:
    """Yield the mirror less the part in which the screen shows."""
    old = plan.scene.mirror[int(seen.mirror.split()[1]) - 1]
    start, direction = np.array(old.start), np.subtract(old.end, old.start) / old.length
    u, v = (seen.places[:, [0, 2]] - start) @ direction, seen.places[:, 1]
    # the lines lie an eighth of their spread apart, so as much more may be seen
    along, up = (
        (float(w.min() - spare), float(w.max() + spare))
        for w in (u, v)
        for spare in [np.ptp(w) / 8 + 2 * SPARE_MM]
    )
    yield from cut_back(plan, seen.mirror, along, up)


def _collision(plan: Plan, pair: Collision) -> Draft:
    words = Words(plan.scene.units)
    text = f"it and {the(pair.second)} run {words(pair.overlap_mm)} into each other"
    names = {pair.first, pair.second}
    follows = [PANE_OUTSIDE] if "pane" in names else []
    # the holder goes with the player
    of_player = f"player in {listed(sorted(names - {'player', 'holder'}))}"
    if "holder" in names:
        follows.append(of_player)
    cause = of_player if "player" in names else ""
    return Draft("fault", pair.first, text, "", _apart(plan, pair), cause, tuple(follows), pair.overlap_mm)


def _apart(plan: Plan, pair: Collision) -> Iterator[Offer]:
    scene, names = plan.scene, {pair.first, pair.second}
    if "pane" in names and scene.pane.size is not None:
        yield Offer(
            lambda after: f"leave pane.size out and cut it {Words(scene.units).size(after.pane.cut)}",
            changes.with_keys(scene, "pane", size=None),
        )
    if "holder" in names:
        yield from _other_ways_out(plan)
    for name, other in ((pair.second, pair.first), (pair.first, pair.second)):
        yield from moves(plan, name, other)
        yield from cut_clear(plan, name, other)


def _other_ways_out(plan: Plan) -> Iterator[Offer]:
    for way in (w.direction for w in plan.room.ways_out if w.clear and w.direction != plan.room.out):
        text = f"let the player slide out {way} (holder.out), where the holder needs no strip"
        yield Offer(text, changes.with_keys(plan.scene, "holder", out=way))


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
        # set against one of the two it only meets the other; a recess there is no deeper than the wall
        pair = {first, second}
        if pair <= met or (pair & met and size[axis] > room + box.wall + 1e-6):
            text = (
                f"as it is mounted it takes {words(float(size[axis]))} between {first} and {second}, "
                f"where there are {words(room)}"
            )
            remedy = "turn it (screen.top), hang it on another side (screen.wall), or take a larger box"
            yield Draft("fault", "player", text, remedy, cause=NO_ROOM)


def _reach(plan: Plan, reach: Collision) -> Draft:
    words, scene, face, mm = Words(plan.scene.units), plan.scene, reach.second, reach.overlap_mm
    outwards = next(normal for name, normal, _ in box_faces(scene) if name == face)
    x, y, z = (-rounded_up(mm, scene.units) * outwards).tolist()
    offers = tuple(moved(plan, reach.first, (x, y, z)))
    # the holder goes with the player
    where = f"{IN_A_WALL}{face}"
    cause, follows = (where if reach.first == "player" else ""), (where,) if reach.first == "holder" else ()
    if face == "opening":
        text = f"it reaches {words(mm)} out of the opening"
        return Draft("fault", reach.first, text, "", offers, cause, follows, mm)
    if reach.first == "player":
        beyond = f" and {words(mm - scene.box.wall)} out of it" if mm > scene.box.wall + 1e-6 else ""
        remedy = f"cut the {face} out there, or move the screen {words.cut(mm)} away from it"
        text = f"its body reaches {words(mm)} into the {face}{beyond}"
        return Draft("caution", "player", text, remedy, cause=cause, by_mm=mm)
    text, remedy = f"it reaches {words(mm)} through the {face}", f"make it {words.cut(mm)} shorter there"
    return Draft("fault", reach.first, text, remedy, offers, follows=follows, by_mm=mm)
