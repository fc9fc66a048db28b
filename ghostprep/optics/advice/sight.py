"""Findings on what the eye sees from everywhere."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain
from typing import Final

import numpy as np

from ghostprep.finding import Level
from ghostprep.optics import changes
from ghostprep.optics.advice.draft import PANE_OUTSIDE, PANE_SMALL, Draft, Offer
from ghostprep.optics.advice.moves import calmer, cut_clear, deeper, moves
from ghostprep.optics.advice.words import LEAST_MM, Words, listed, the
from ghostprep.optics.baffle import Baffle
from ghostprep.optics.edges import Edge, Trim
from ghostprep.optics.panefit import on_face, pane_hits
from ghostprep.optics.plan import Plan
from ghostprep.optics.sightlines import bounds
from ghostprep.optics.visible import Lines, Patch
from ghostprep.scene import rounded_up

_FROM_MIDDLE: Final = "also from the middle"
_BEHIND_CURTAIN_MM: Final = 3.0
"""What a curtain hides more where it takes the pane's place: twice its thickness and a mark on the ruler."""
_WALLS: Final = {"left": "left wall", "right": "right wall", "floor": "floor", "ceiling": "ceiling"}


def findings(plan: Plan) -> Iterator[Draft]:
    """Yield what there is to say on the sightlines."""
    yield from _opening(plan)
    yield from _pane(plan)
    for edge in plan.sight.edges:
        yield from _edge(plan, edge)
    yield from _hidden(plan)
    yield from _lamps(plan)
    yield from _mirrored(plan)


def _sides(words: Words, over: dict[str, float]) -> str:
    return listed([f"{words(mm)} at the {side}" for side, mm in over.items() if mm > LEAST_MM])


def _opening(plan: Plan) -> Iterator[Draft]:
    words, sight = Words(plan.scene.units), plan.sight
    over = sight.cut_off
    if max(over.values()) <= LEAST_MM:
        return
    # the opening stays in the middle of the front; out to marks on the ruler
    old, units = plan.scene.box.opening, plan.scene.units
    wide = rounded_up(old.width + 2 * max(over["left"], over["right"]), units)
    sill = -rounded_up(over["bottom"] - old.sill, units)
    high = rounded_up(old.sill + old.height + over["top"] - sill, units)
    made = changes.with_opening(plan.scene, wide, high, sill)
    offers: tuple[Offer, ...] = ()
    if made is not None:
        o = made.box.opening
        size = f"{words.size((o.width, o.height))} with its sill at {words(o.sill)}"
        offers = (Offer(f"widen the opening to {size}", made),)
    level: Level
    if max(sight.cut_off_middle.values()) > LEAST_MM:
        level, eyes, cut = "fault", "even for the middle eye", sight.cut_off_middle
        remedy = ""
    else:
        level, eyes, cut = "caution", "from the outermost eye positions", over
        remedy = "bring the ghost nearer to the opening, or count on a smaller viewer.sway"
    text = f"it cuts the ghost's picture off {eyes}, by up to {_sides(words, cut)}"
    yield Draft(level, "opening", text, remedy, offers, by_mm=max(cut.values()))


def _narrower(plan: Plan) -> Iterator[Offer]:
    """Yield an opening that shows the ghost from everywhere and little beside it, to marks on the ruler."""
    old, need, units = plan.scene.box.opening, plan.sight.window, plan.scene.units
    wide = min(rounded_up(2 * max(-need.left, need.right), units), old.width)
    sill = max(-rounded_up(-need.low, units), old.sill)
    high = min(rounded_up(need.high - sill, units), old.sill + old.height - sill)
    # nobody builds a scene to look at it through a keyhole
    if wide < old.width / 2 or high < old.height / 2:
        return
    if (made := changes.with_opening(plan.scene, wide, high, sill)) is not None:
        words = Words(units)
        size = f"{words.size((wide, high))} (width x height)"
        yield Offer(f"make the opening {size} with its sill at {words(sill)}", made)


def _recut(plan: Plan) -> tuple[Offer, ...]:
    """Return the offer of a pane of the size that the rest of the scene asks for."""
    if not plan.pane.given:
        return ()

    def text(after: Plan) -> str:
        size = Words(plan.scene.units).size(after.pane.cut)
        return f"leave pane.size out and cut it {size} (along the slope x across it)"

    return (Offer(text, changes.with_keys(plan.scene, "pane", size=None)),)


def _pane(plan: Plan) -> Iterator[Draft]:
    words, pane, layout = Words(plan.scene.units), plan.pane, plan.layout
    if pane.outside:
        over = listed([f"{words(mm)} through the {face}" for face, mm in pane.outside.items()])
        size = "of the scene file" if pane.given else "that shows the ghost from everywhere"
        text = f"the size {size} does not go into the box: it reaches {over}"
        offers = chain(_recut(plan), () if pane.given else calmer(plan))
        most = max(pane.outside.values())
        yield Draft("fault", "pane", text, "", offers, PANE_OUTSIDE, by_mm=most)
    if pane.covers:
        return
    middle = bounds(on_face(layout, pane_hits(layout, layout.eye[None, :], layout.image.corners())))
    whole = max(pane.place.excess(middle).values()) <= 1e-6
    remedy = "count on a smaller viewer.sway" if whole else ""
    level: Level = "caution" if whole else "fault"
    eyes = "from the outermost eye positions" if whole else "even for the middle eye"
    text = f"{words.size(pane.cut)} is too small: the ghost's picture is cut off {eyes}"
    offers = chain(_recut(plan), deeper(plan))
    lacks = max(pane.place.excess(pane.needed_place).values())
    yield Draft(level, "pane", text, remedy, offers, PANE_SMALL, (PANE_OUTSIDE,), lacks)


def _edge(plan: Plan, edge: Edge) -> Iterator[Draft]:
    if not edge.seen:
        return
    words, viewer = Words(plan.scene.units), plan.scene.viewer
    aside = edge.towards in {"left", "right"}
    sway = viewer.sway[0 if aside else 1]
    if edge.from_mm <= -sway + LEAST_MM:
        eyes = "from everywhere"
    elif edge.from_mm < 0:
        eyes = "from the middle and most eye positions"
    else:
        way = f"to the {edge.towards}" if aside else edge.towards
        eyes = f"from eye positions more than {words(edge.from_mm)} {way}"
    shows = f"the pane's {edge.name} edge shows at the {edge.seen_at} {eyes}"
    follows = (PANE_OUTSIDE, PANE_SMALL)
    if edge.trim is not None and edge.trim.clear:
        remedy = f"{_strip(words, edge.trim, edge.trim.width_mm)} hides it"
        yield Draft("caution", "pane", shows, remedy, _curtain(plan, edge, edge.trim), follows=follows)
    else:
        text = f"{shows}, and a trim that hides it would cut the ghost off"
        offers = chain(_recut(plan), deeper(plan), _narrower(plan), calmer(plan))
        yield Draft("fault", "pane", text, "", offers, follows=follows)


def _curtain(plan: Plan, edge: Edge, trim: Trim) -> Iterator[Offer]:
    if trim.width_mm > 0:
        # a pane that reaches the opening ends behind the curtain, where its edge shows farther in
        more = _BEHIND_CURTAIN_MM if float(edge.ends[:, 2].min()) < _BEHIND_CURTAIN_MM else 0.0
        wide = rounded_up(trim.width_mm + more, plan.scene.units)
        made = changes.with_curtain(plan.scene, trim.side, wide, trim.off_mm)
        yield Offer(f"{_strip(Words(plan.scene.units), trim, wide)} hides it", made)
    yield from _recut(plan)


def _strip(words: Words, trim: Trim, wide_mm: float) -> str:
    if trim.off_mm:
        off = f"{words(trim.off_mm)} from its {trim.side} side"
        return f"a post {words.cut(wide_mm)} wide in the opening, {off},"
    return f"a curtain or trim {words.cut(wide_mm)} wide along the opening's {trim.side}"


def _hidden(plan: Plan) -> Iterator[Draft]:
    """Yield what there is to say where screen, player or holder is in view."""
    sight, baffle = plan.sight, plan.sight.baffle
    in_view = (
        ("screen", "the screen itself", sight.screen),
        ("player", "the player's body", sight.player),
        ("holder", "the player's holder", sight.holder),
    )
    subject, what, lines = next((part for part in in_view if part[2]), in_view[-1])
    if not lines:
        return
    way = "past all that stands before it" if plan.scene.divider else "through the opening"
    eyes = _eyes(plan, lines)
    text = f"{what} is seen {way}, {eyes}"
    if baffle is None:
        # the player reaches out of the opening, and a finding of its own says so
        yield Draft("fault", subject, text, "", deeper(plan))
        return
    board = _board(plan, baffle)
    met = [n for pair in plan.collisions if "baffle" in (n := (pair.first, pair.second))]
    if baffle.clear and not met:
        yield Draft("caution", subject, text, f"{board}, hides it")
        return
    offers = chain(deeper(plan), _narrower(plan), calmer(plan))
    if met:
        thing = next(name for name in met[0] if name != "baffle")
        why = f"would run into {the(thing)}"
        offers = chain(moves(plan, thing, "baffle"), cut_clear(plan, thing, "baffle"), offers)
    else:
        why = f"would cut the ghost off by {Words(plan.scene.units)(-baffle.clearance_mm)}"
    cut = max(-baffle.clearance_mm, 0.0)
    yield Draft("fault", subject, f"{text}, and {board} {why}", "", offers, by_mm=cut)


def _eyes(plan: Plan, lines: Lines) -> str:
    """Return from which eye positions lines come."""
    across = lines.eyes[:, 0] - plan.scene.eye[0]
    sway = plan.scene.viewer.sway[0]
    if across.min() <= 0.2 * sway and across.max() >= -0.2 * sway:
        return _FROM_MIDDLE
    return "from the right" if across.min() > 0 else "from the left"


def _board(plan: Plan, baffle: Baffle) -> str:
    words = Words(plan.scene.units)
    if plan.scene.screen.upright:
        along = f"from {words(baffle.low_mm)} to {words(baffle.high_mm)} above the floor"
    else:
        along = f"from {words.offset((baffle.low_mm, 0, 0))} to {words.offset((baffle.high_mm, 0, 0))}"
    return (
        f"a baffle on the {_WALLS[baffle.wall]}, {words(baffle.depth_mm)} behind the opening, that stands "
        f"out {words(baffle.reach_mm)}, {along}"
    )


def _lamps(plan: Plan) -> Iterator[Draft]:
    for lamp in plan.sight.lamps:
        if lamp.in_the_way:
            text = f"{lamp.name} stands in the light's way from the screen to the eye"
            remedy = "move it out of the way; the drawing shows where the sightlines run"
            yield Draft("fault", "lamp", text, remedy)
        for seen, how, remedy in (
            (
                lamp.mirrored,
                "mirrored in the pane",
                "shade it towards the pane, or move it behind the pane's plane",
            ),
            (lamp.by_mirror, f"in {lamp.by_mirror}", "shade it towards the mirror"),
            (
                lamp.direct,
                "directly through the opening",
                "hide it behind a lintel, or give it a shade towards the eye",
            ),
        ):
            if seen:
                yield Draft("caution", "lamp", f"{lamp.name} is seen {how}", remedy)


def _mirrored(plan: Plan) -> Iterator[Draft]:
    words, patches = Words(plan.scene.units), plan.sight.patches
    # a part of less than a millimetre needs no paint
    dark = [
        _patch(words, p) for p in patches if p.surface != "opening" and max(np.subtract(p.high, p.low)) >= 1
    ]
    if dark:
        remedy = "paint them and all that stands there matt black, or hang black flock; keep light off them"
        yield Draft("note", "pane", f"it also mirrors these parts of the box: {listed(dark)}", remedy)
    if any(p.surface == "opening" for p in patches):
        text = "parts of it mirror the room before the box, so bright things there show in the scene"
        remedy = (
            "take a larger pane.angle with the swivel to match, end the pane deeper in the box, or keep the "
            "room dark on the screen's side"
        )
        yield Draft("caution", "pane", text, remedy)


def _patch(words: Words, patch: Patch) -> str:
    # below a millimetre 0 is near enough: this is for paint
    (x0, y0, z0), (x1, y1, z1) = ([v if abs(v) >= 1 else 0.0 for v in p] for p in (patch.low, patch.high))

    def span(low: float, high: float) -> str:
        # a thin wall's two faces read alike in inches
        return words(low) if words(low) == words(high) else f"{words(low)} to {words(high)}"

    deep = f"{'at' if words(z0) == words(z1) else 'from'} {span(z0, z1)} deep"
    high, across = f"{span(y0, y1)} high", f"x {span(x0, x1)}"
    parts = {"left wall": (deep, high), "right wall": (deep, high), "back wall": (across, high)}
    return f"{the(patch.surface)} " + ", ".join(parts.get(patch.surface, (deep, across)))
