"""Findings on what the eye sees from everywhere."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

from ghostprep.finding import Finding
from ghostprep.optics.advice.words import Words, listed
from ghostprep.optics.panefit import MARGIN_MM, on_face, pane_hits
from ghostprep.optics.sightlines import bounds

if TYPE_CHECKING:
    from ghostprep.optics.edges import Edge
    from ghostprep.optics.mirrored import Patch
    from ghostprep.optics.plan import Plan

_LEAST_MM: Final = 0.05
_WALLS: Final = {"left": "left wall", "right": "right wall", "floor": "floor", "ceiling": "ceiling"}


def findings(plan: Plan) -> Iterator[Finding]:
    """Yield what there is to say on the sightlines."""
    yield from _opening(plan)
    yield from _pane(plan)
    for edge in plan.sight.edges:
        yield from _edge(plan, edge)
    yield from _baffle(plan)
    yield from _lamps(plan)
    yield from _mirrored(plan)


def _sides(words: Words, over: dict[str, float]) -> str:
    where = {side: f"at the {side}" for side in over}
    return listed([f"{words(mm)} {where[side]}" for side, mm in over.items() if mm > _LEAST_MM])


def _opening(plan: Plan) -> Iterator[Finding]:
    words, sight = Words(plan.scene.units), plan.sight
    if max(sight.cut_off_middle.values()) > _LEAST_MM:
        yield Finding(
            "fault",
            "opening",
            f"it cuts the ghost's picture off even for the middle eye: {_sides(words, sight.cut_off_middle)}",
            "widen the opening there, or move screen and pane so that the ghost stands behind its middle",
        )
    elif max(sight.cut_off.values()) > _LEAST_MM:
        yield Finding(
            "caution",
            "opening",
            f"from the outermost eye positions it cuts the ghost's picture off by up to "
            f"{_sides(words, sight.cut_off)}",
            "widen the opening by as much, bring the ghost nearer to it, or count on a smaller viewer.sway",
        )


def _pane(plan: Plan) -> Iterator[Finding]:
    words, pane = Words(plan.scene.units), plan.pane
    if pane.outside:
        over = listed([f"{words(mm)} through the {face}" for face, mm in pane.outside.items()])
        size = "of the scene file" if pane.given else "that shows the ghost from everywhere"
        yield Finding(
            "fault",
            "pane",
            f"the size {size} does not go into the box: it reaches {over}",
            "make the pane smaller (pane.size), the sway smaller, or move screen and pane from that surface",
        )
    if pane.covers:
        return
    layout = plan.layout
    middle = bounds(on_face(layout, pane_hits(layout, layout.eye[None, :], layout.image.corners())))
    whole = max(pane.place.excess(middle).values()) <= 1e-6
    needed = [side + 2 * MARGIN_MM for side in pane.needed]
    yield Finding(
        "caution" if whole else "fault",
        "pane",
        f"{words.size(pane.cut)} is too small: the ghost's picture is cut off "
        + ("from the outermost eye positions" if whole else "even for the middle eye"),
        f"cut it {words.size(needed)} (along the slope x across it), or leave pane.size out",
    )


def _edge(plan: Plan, edge: Edge) -> Iterator[Finding]:
    if not edge.seen:
        return
    words, viewer = Words(plan.scene.units), plan.scene.viewer
    sway = viewer.sway[0 if edge.towards in {"left", "right"} else 1]
    if edge.from_mm <= -sway + _LEAST_MM:
        eyes = "from everywhere"
    elif edge.from_mm < 0:
        eyes = "from the middle and most eye positions"
    else:
        way = f"to the {edge.towards}" if edge.towards in {"left", "right"} else edge.towards
        eyes = f"from eye positions more than {words(edge.from_mm)} {way}"
    place = f"at the {edge.seen_at}"
    if edge.to_wall_mm is None:
        or_longer, remedy = "", "move the pane deeper into the box there, or count on a smaller viewer.sway"
    else:
        size = plan.pane.place.size[0 if edge.name in {"front", "back"} else 1] + edge.to_wall_mm
        or_longer = f"; so does a pane {words(edge.to_wall_mm)} longer there, which stands against the box"
        remedy = (
            f"lengthen the pane by {words(edge.to_wall_mm)} to {words(size)} there, so that the edge stands "
            "against the box"
        )
    shows = f"the pane's {edge.name} edge shows {place} {eyes}"
    if edge.trim is not None and edge.trim.clear:
        strip = f"a trim {words.cut(edge.trim.width_mm)} wide along the opening's {edge.trim.side}"
        yield Finding("caution", "pane", shows, f"{strip} hides it{or_longer}")
    else:
        yield Finding("fault", "pane", f"{shows}, and a trim that hides it would cut the ghost off", remedy)


def _baffle(plan: Plan) -> Iterator[Finding]:
    baffle = plan.sight.baffle
    if baffle is None:
        return
    words, upright = Words(plan.scene.units), plan.scene.screen.wall in {"left", "right"}
    board = (
        f"a baffle on the {_WALLS[baffle.wall]}, {words(baffle.depth_mm)} behind the opening, that stands "
        f"out {words.cut(baffle.reach_mm)}"
    )
    along = (
        f"from {words(baffle.low_mm)} to {words(baffle.high_mm)} above the floor"
        if upright
        else f"from {words.offset((baffle.low_mm, 0, 0))} to {words.offset((baffle.high_mm, 0, 0))}"
    )
    if baffle.clear:
        yield Finding(
            "caution",
            "screen",
            "the screen itself is seen through the opening",
            f"{board}, {along}, hides it",
        )
        return
    yield Finding(
        "fault",
        "screen",
        f"the screen itself is seen, and {board} would cut the ghost off by {words(-baffle.clearance_mm)}",
        "set the screen deeper in the box or nearer to its wall, make the opening narrower on that side, or "
        "count on a smaller viewer.sway",
    )


def _lamps(plan: Plan) -> Iterator[Finding]:
    for lamp in plan.sight.lamps:
        name = lamp.name
        if lamp.in_the_way:
            yield Finding(
                "fault",
                "lamp",
                f"{name} stands in the light's way from the screen to the eye",
                "move it out of the way; the drawing shows where the sightlines run",
            )
        if lamp.mirrored:
            yield Finding(
                "caution",
                "lamp",
                f"{name} is seen mirrored in the pane",
                "shade it towards the pane, or move it behind the pane's plane",
            )
        if lamp.direct:
            yield Finding(
                "caution",
                "lamp",
                f"{name} is seen directly through the opening",
                "hide it behind a lintel, or give it a shade towards the eye",
            )


def _mirrored(plan: Plan) -> Iterator[Finding]:
    words = Words(plan.scene.units)
    dark = [_patch(words, p) for p in plan.sight.patches if p.surface != "opening"]
    if dark:
        yield Finding(
            "note",
            "pane",
            f"it also mirrors these parts of the box: {listed(dark)}",
            "paint them and all that stands there matt black, or hang black flock; keep light off them",
        )
    if any(p.surface == "opening" for p in plan.sight.patches):
        yield Finding(
            "caution",
            "pane",
            "parts of it mirror the room before the box, so bright things there show in the scene",
            "take a larger pane.angle with the swivel to match, end the pane deeper in the box, or keep the "
            "room dark on the screen's side",
        )


def _patch(words: Words, patch: Patch) -> str:
    # no need to paint to the hair
    (x0, y0, z0), (x1, y1, z1) = ([v if abs(v) >= 1 else 0.0 for v in p] for p in (patch.low, patch.high))
    deep = f"from {words(z0)} to {words(z1)} deep"
    high = f"{words(y0)} to {words(y1)} high"
    across = f"x {words(x0)} to {words(x1)}"
    parts = {"left wall": (deep, high), "right wall": (deep, high), "back wall": (across, high)}
    return f"the {patch.surface} " + ", ".join(parts.get(patch.surface, (deep, across)))
