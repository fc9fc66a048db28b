"""What the key of the drawing says of each thing."""

from __future__ import annotations

from ghostprep.optics import Plan
from ghostprep.optics.advice.words import Words
from ghostprep.paper.drawing_furniture import enter_furniture
from ghostprep.paper.look import BLACKED, BODY, CORD, DASHED, GHOST, LAMP, PANE, RAY, RAY_PALE, SCREEN
from ghostprep.paper.tags import Entry, Tags


def enter(plan: Plan, tags: Tags) -> None:
    """Enter everything that the drawing tags, and its kinds of lines, into the key."""
    words, scene, layout = Words(plan.scene.units), plan.scene, plan.layout
    screen = scene.screen
    entries = tags.entries
    corners = layout.image.corners()
    wide, high = (float(side) for side in corners[:, :2].max(axis=0) - corners[:, :2].min(axis=0))
    entries.append(
        Entry("ghost", GHOST, f"middle at {words.point(layout.ghost)}, picture {words(wide)} x {words(high)}")
    )
    entries.append(
        Entry(
            "figure",
            GHOST,
            f"{words(plan.figure.height_mm)} tall, on ground {words(plan.figure.feet_mm)} above the floor",
        )
    )
    entries.append(
        Entry(
            "pane",
            PANE,
            f"{scene.pane.material} {words.size(plan.pane.cut)} x {words(scene.pane.thickness)}, "
            f"{layout.angle_deg:.1f}° to the opening, front face through {words.point(layout.on_pane)}",
        )
    )
    entries.append(
        Entry(
            "screen",
            SCREEN,
            f"lit {words(screen.active[0])} x {words(screen.active[1])}, on the {screen.wall}, "
            f"middle at {words.point(layout.screen.centre)}; the picture's top points {_towards(screen.top)}",
        )
    )
    entries.append(Entry("player", BODY, " x ".join(words(side) for side in screen.body)))
    enter_furniture(plan, words, entries)
    _boards(plan, words, entries)
    if scene.light.lamps:
        count = len(scene.light.lamps)
        entries.append(Entry("lamp", LAMP, f"{count} in the box" if count > 1 else "one in the box"))
    cord = scene.shelf.cord if scene.shelf else plan.room.shelf.depth_needed_mm - _box_deep(plan)
    entries.append(Entry("cord", CORD, f"{words(cord)} kept free for plug and cord"))
    across, up = scene.viewer.sway
    tags.lines += [
        (RAY, (), f"seen from the middle eye, {words(scene.viewer.distance)} before the opening"),
        (RAY_PALE, (), f"from the ends of its range, {words(across)} aside, {words(up)} up and down"),
        (RAY, DASHED, "where the light seems to come from"),
    ]


def _boards(plan: Plan, words: Words, entries: list[Entry]) -> None:
    baffle = plan.sight.baffle
    if baffle is not None:
        entries.append(
            Entry(
                "baffle",
                BLACKED,
                f"black, on the {baffle.wall}, {words(baffle.depth_mm)} behind the opening, "
                f"stands out {words.cut(baffle.reach_mm)}, from {words(baffle.low_mm)} "
                f"to {words(baffle.high_mm)}" + ("" if baffle.clear else "; it would cut the ghost"),
            )
        )
    for side, width in plan.sight.trims().items():
        entries.append(
            Entry(f"trim, {side}", BLACKED, f"black, {words.cut(width)} wide, hides the pane's edge")
        )


def _towards(top: str) -> str:
    return {"front": "to the front", "back": "to the back", "left": "left", "right": "right"}.get(top, top)


def _box_deep(plan: Plan) -> float:
    box = plan.scene.box
    return box.depth + (box.wall if box.open_front else 2 * box.wall)
