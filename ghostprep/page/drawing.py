"""The drawing of a plan, to scale: from above, from the side, and as the eye sees it."""

from __future__ import annotations

from pathlib import Path

from ghostprep.optics import Plan
from ghostprep.optics.advice.words import Words
from ghostprep.page.drawing_eye import draw_eye
from ghostprep.page.drawing_views import draw_above, draw_side
from ghostprep.page.frame import MARGIN_MM, Arrangement, arrange, scale_words
from ghostprep.page.look import BLACKED, BODY, GHOST, PANE, RAY, RAY_PALE, SCREEN
from ghostprep.page.sheet import INK, Sheet
from ghostprep.page.tags import Tags
from ghostprep.scene import MM_PER, Scene


def draw_plan(plan: Plan, path: Path, *, overwrite: bool = False) -> None:
    """Draw a plan to scale and write it.

    Parameters
    ----------
    plan : Plan
    path : Path
        Where to write; .svg, .pdf or .png.
    overwrite : bool
        Whether a file that is there may be replaced.

    Raises
    ------
    InputError
        The ending is another one, or the file exists.
    """
    compose(plan).save(path, overwrite=overwrite)


def compose(plan: Plan) -> Sheet:
    """Return the drawing as a sheet."""
    scene = plan.scene
    frame = arrange(scene)
    sheet = Sheet(frame.size)
    tags = Tags(sheet)
    numbers = _enter(plan, tags)
    _head(sheet, scene, frame)
    # all measures first: tags then look for the room that is left
    marks = [
        *draw_eye(sheet, frame.front, plan, numbers),
        *draw_side(sheet, frame.side, plan, numbers),
        *draw_above(sheet, frame.above, plan, numbers),
    ]
    left, low, high = frame.key
    end = tags.key(left, high, frame.size[0] - MARGIN_MM)
    _legend(sheet, plan, left, min(end, high))
    for number, at, away in marks:
        tags.put(number, at, away=away)
    return sheet


def _enter(plan: Plan, tags: Tags) -> dict[str, int]:
    """Enter all things into the key and return their numbers."""
    words, scene, layout = Words(plan.scene.units), plan.scene, plan.layout
    corners = layout.image.corners()
    picture = f"{words(float(_span(corners[:, 0])))} x {words(float(_span(corners[:, 1])))}"
    baffle = plan.sight.baffle
    numbers = {
        "ghost": tags.number(GHOST, "ghost", f"middle {words.point(layout.ghost)}, picture {picture}"),
        "figure": tags.number(
            GHOST,
            "figure",
            f"{words(plan.figure.height_mm)} tall on ground {words(plan.figure.feet_mm)} above the floor",
        ),
        "pane": tags.number(
            PANE,
            "pane",
            f"{scene.pane.material}, {words.size(plan.pane.cut)} x {words(scene.pane.thickness)}, "
            f"{layout.angle_deg:.1f}° to the opening, through {words.point(layout.on_pane)}",
        ),
        "screen": tags.number(
            SCREEN,
            "screen",
            f"lit {words(scene.screen.active[0])} x {words(scene.screen.active[1])} on the {scene.screen.wall}, "
            f"middle {words.point(layout.screen.centre)}, the picture's top to the {scene.screen.top}",
        ),
        "body": tags.number(BODY, "player", f"body {' x '.join(words(side) for side in scene.screen.body)}"),
    }
    if baffle is not None:
        numbers["baffle"] = tags.number(
            BLACKED,
            "baffle",
            f"black, on the {baffle.wall}, {words(baffle.depth_mm)} behind the opening, "
            f"stands out {words.cut(baffle.reach_mm)}, from {words(baffle.low_mm)} to {words(baffle.high_mm)}"
            + ("" if baffle.clear else "; cuts the ghost"),
        )
    for side, width in plan.sight.trims().items():
        numbers[f"trim {side}"] = tags.number(
            BLACKED, f"trim, {side}", f"{words.cut(width)} wide, hides the pane's edge"
        )
    if scene.light.lamps:
        numbers["lamp"] = tags.number("#b5502a", "lamp", f"{len(scene.light.lamps)} in the box")
    return numbers


def _span(values: object) -> float:
    import numpy as np

    return float(np.ptp(np.asarray(values)))


def _head(sheet: Sheet, scene: Scene, frame: Arrangement) -> None:
    w, h = frame.size
    y = h - MARGIN_MM
    title = scene.title or "Scene"
    while sheet.width_of(title, 11) > w - 2 * MARGIN_MM - 62:
        title = title[:-2].rstrip() + "…"
    sheet.text(MARGIN_MM, y - 2, title, size_pt=11, weight="bold")
    scale = f"drawn {scale_words(frame.scale)} on {frame.paper.upper() if frame.paper[0] == 'a' else frame.paper.title()}"
    sheet.text(w - MARGIN_MM, y - 2, scale, size_pt=8, ha="right")
    sheet.line([(MARGIN_MM, y - 6), (w - MARGIN_MM, y - 6)], INK, 0.3)
    _scale_bar(sheet, scene, frame, y - 9.5)


def _scale_bar(sheet: Sheet, scene: Scene, frame: Arrangement, y: float) -> None:
    """Draw a bar of a round length, so that a print at another size can be told."""
    inches = scene.units == "in"
    unit = MM_PER["in"] if inches else 10.0
    k = float(frame.scale)
    steps = [n for n in (1, 2, 5, 10, 20, 50, 100) if n * unit * k <= 50] or [1]
    long = steps[-1] * unit * k
    right = frame.size[0] - MARGIN_MM
    left = right - long
    for part in range(2):
        a, b = left + part * long / 2, left + (part + 1) * long / 2
        sheet.area(
            [(a, y - 0.6), (b, y - 0.6), (b, y + 0.6), (a, y + 0.6)], INK if part == 0 else "white", INK, 0.15
        )
    words = f"{steps[-1]} in" if inches else f"{steps[-1] * 10} mm"
    sheet.text(left - 1.5, y, words, size_pt=6.5, ha="right")


def _legend(sheet: Sheet, plan: Plan, left: float, y: float) -> None:
    words, viewer = Words(plan.scene.units), plan.scene.viewer
    rows = (
        (RAY, "-", f"seen from the middle eye, {words(viewer.distance)} before the opening"),
        (
            RAY_PALE,
            "-",
            f"from the ends of its range, {words(viewer.sway[0])} aside, {words(viewer.sway[1])} up and down",
        ),
        (RAY, "--", "where the light seems to come from"),
    )
    for colour, style, text in rows:
        sheet.line([(left, y), (left + 4.6, y)], colour, 0.35, linestyle=style)
        sheet.text(left + 6.5, y, text, size_pt=6.3, colour=INK, va="center_baseline")
        y -= 3.8
