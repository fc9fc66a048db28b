"""A plan as text: what was computed, what to cut, what to change, what can hurt."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from rich.text import Text

from ghostprep.cli import show
from ghostprep.errors import printable
from ghostprep.optics.advice.scales import seemings
from ghostprep.optics.advice.words import LEAST_MM, Words, shown
from ghostprep.optics.bodies import divider_sheet, mirror_height
from ghostprep.optics.light import DARKEST
from ghostprep.optics.room import towards
from ghostprep.verdict import summary

if TYPE_CHECKING:
    from rich.console import Console

    from ghostprep.optics import Plan
    from ghostprep.scene.furniture import Divider


_TURNS: Final = (
    "",
    ", then a quarter turn clockwise",
    ", then half a turn",
    ", then a quarter turn anticlockwise",
)


def print_plan(to: Console, plan: Plan) -> None:
    """Print the whole plan in the builder's units."""
    if plan.scene.title:
        to.print(Text(printable(plan.scene.title), "bold"))
        to.print()
    for title, rows in (
        ("Ghost", _ghost(plan)),
        ("Pane", _pane(plan)),
        ("Light", _light(plan)),
        ("Room", _room(plan)),
        ("Scale", _scale(plan)),
        ("To cut", _cut_list(plan)),
    ):
        if rows:
            to.print(show.facts_table(title, rows))
            to.print()
    told = summary((), [f for f in plan.findings if f.subject != "safety"])
    words = told.text if told.level != "good" else "notes only"
    to.print(Text.assemble("Findings: ", (words, show.SUMMARY_STYLE[told.level])))
    show.print_findings(to, [f for f in plan.findings if f.subject != "safety"])
    to.print()
    to.print(Text("Safety; your local codes and licensed trades come first"))
    show.print_findings(to, [f for f in plan.findings if f.subject == "safety"])


def _ghost(plan: Plan) -> list[tuple[str, str]]:
    words, layout, mount, figure = Words(plan.scene.units), plan.layout, plan.mount, plan.figure
    left, right = float(layout.image.corners()[:, 0].min()), float(layout.image.corners()[:, 0].max())
    low, high = figure.lit_mm
    stands = f"stands on ground {words(figure.feet_mm)} above the floor"
    return [
        ("middle", f"{words.point(layout.ghost)}, {words(float(layout.ghost[2]))} behind the opening"),
        ("picture", f"{words(right - left)} wide, {words(high - low)} high"),
        ("mount", ("mirrored left to right" if mount.mirrored else "as it is") + _TURNS[mount.quarter_turns]),
        ("keystone", _keystone(mount.keystone_px)),
        ("scale", f"1:{figure.scale:.4g} where the ghost stands"),
        (
            "figure",
            f"{words(figure.height_mm)} tall, {figure.height_px:.1f} px; {stands}; "
            f"largest that fits {words(figure.largest_mm)}",
        ),
    ]


def _keystone(px: float) -> str:
    """Say how far the screen's slant bends the picture."""
    if px < 0.05:
        return "none: the screen stands square to the ghost"
    return f"{px:.1f} px: so far the screen's slant bends the picture, and make bends it back"


def _pane(plan: Plan) -> list[tuple[str, str]]:
    words, layout, pane, sheet = Words(plan.scene.units), plan.layout, plan.pane, plan.scene.pane
    doubling = plan.doubling
    return [
        ("material", f"{sheet.material}, {words(sheet.thickness)} thick, index {sheet.index:g}"),
        ("angle", f"{layout.angle_deg:.1f} degrees to the opening, through {words.point(layout.on_pane)}"),
        ("size", f"{words.size(pane.cut)} (along the slope x across it)"),
        (
            "doubling",
            f"{words(doubling.offset_mm)}, {doubling.offset_px:.1f} px, {doubling.arcminutes:.1f} arcminutes"
            f", {100 * doubling.ratio:.0f} % as bright; vanishes below {words.fine(doubling.vanishing_mm)}",
        ),
    ]


def _light(plan: Plan) -> list[tuple[str, str]]:
    light = plan.light
    turned = f"; a quarter turn round {100 * light.reflectance_other_turn:.1f} %" if light.polarised else ""
    rows = [
        ("reflected", f"{100 * light.reflectance:.1f} % of the screen's light{turned}"),
        ("let through", f"{100 * light.transmittance:.1f} % of the scenery's light"),
        ("ghost", f"{shown(light.ghost, 3)} cd/m2"),
        ("scenery", f"{shown(light.scene, 3)} cd/m2 as seen"),
    ]
    if light.scenery <= DARKEST:
        rows[-1] = ("scenery", "in the dark: no lamp or strip lights what is behind the ghost")
        return rows
    return [
        *rows,
        ("contrast", f"{light.contrast:.1f}: where the ghost is white, so many times the scenery alone"),
        (
            "black glow",
            f"{100 * light.black_glow:.1f} % of the scenery: so bright is the screen's black in the pane",
        ),
    ]


def _room(plan: Plan) -> list[tuple[str, str]]:
    words, sight, room = Words(plan.scene.units), plan.sight, plan.room
    shelf = f"{words(room.shelf.depth_needed_mm)} needed"
    if plan.scene.shelf is not None:
        shelf += f", {words(plan.scene.shelf.depth)} there"
    hole = sight.window
    across, up = f"{words(hole.left)} to {words(hole.right)}", f"{words(hole.low)} to {words(hole.high)}"
    rows = [
        ("shelf", shelf),
        ("opening", f"the ghost takes {across} across and {up} up, over the whole sway"),
    ]
    # what is in the way is told among the findings
    if sight.behind_back_mm < 0:
        rows.append(("back wall", f"{words(-sight.behind_back_mm)} behind the ghost"))
    if room.body_to_pane_mm > 0:
        rows.append(("player", f"at least {words(room.body_to_pane_mm)} clear of the pane"))
    return rows


def _scale(plan: Plan) -> list[tuple[str, str]]:
    words = Words(plan.scene.units)
    return [
        (
            own.name,
            f"1:{shown(own.scale, 3)}, looks {words.real(own.away_mm)} away; the ghost beside it looks "
            f"{words.real(own.ghost_mm)} tall",
        )
        for own in seemings(plan)
    ]


def _cut_list(plan: Plan) -> list[tuple[str, str]]:
    words, room, scene = Words(plan.scene.units), plan.room, plan.scene
    rows = [("pane", f"{words.size(plan.pane.cut)} x {words(scene.pane.thickness)} {scene.pane.material}")]
    for trim in plan.sight.trims():
        off = f", {words(trim.off_mm)} from the opening's side" if trim.off_mm else ""
        rows.append((trim.name, f"{words.cut(trim.width_mm)} wide{off}"))
    baffle = plan.sight.baffle
    if baffle is not None and baffle.clear:
        size = words.size(baffle.size)
        rows.append(
            ("baffle", f"{size}, on the {baffle.wall}, {words(baffle.depth_mm)} behind the opening, black")
        )
    rows += [_divider(plan, number, divider) for number, divider in enumerate(scene.divider, 1)]
    for number, mirror in enumerate(scene.mirror, 1):
        size = words.size((mirror.length, mirror_height(scene, mirror)))
        rows.append((f"mirror {number}", f"{size}, front-faced"))
    back = "with a back plate" if room.holder.back else "its strips stand on the wall"
    out = f"the player slides out {towards(room.out)}"
    sheet = f"of {words(room.holder.sheet)} sheet"
    rows.append(("holder", f"{words.fit(room.holder.inner)} inside, {sheet}, {back}; {out}"))
    rows.append(("its window", words.fit(room.holder.window)))
    way = next(w for w in room.ways_out if w.direction == room.out)
    if way.clear and way.surface != "opening":
        rows.append(("slot", f"{words.fit(way.slot_mm)} in the {way.surface}"))
    return rows


def _divider(plan: Plan, number: int, divider: Divider) -> tuple[str, str]:
    words = Words(plan.scene.units)
    if (found := divider_sheet(plan.scene, divider)) is None:
        return f"divider {number}", "its doorway leaves nothing of it"
    sheet, doorways = found
    wide, high, _ = (float(side) for side in 2 * sheet.half)
    told = [f"{words.size((wide, high))} x {words(divider.thickness)}"]
    if (hangs := float(sheet.centre[1]) - high / 2) > LEAST_MM:
        told.append(f"its lower edge {words(hangs)} above the floor")
    told += [
        f"doorway {words.size(d.size)}, its middle at {words(d.centre[0])}, sill {words(d.low)}"
        for d in doorways
    ]
    return f"divider {number}", "; ".join(told)
