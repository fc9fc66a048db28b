"""Puts the page together from what was measured and its own template, style and script."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from importlib import resources
from typing import Final

import jinja2
import numpy as np
from markupsafe import Markup

from ghostprep import __version__
from ghostprep.eye.page.stage_data import photo_data, stage_data
from ghostprep.eye.paint import PAPER_FIGURE, TILE_MM
from ghostprep.eye.photo import PhotoScenery
from ghostprep.eye.report import Join
from ghostprep.eye.stage import Stage
from ghostprep.eye.watch import Watched
from ghostprep.eye.window import near_window, whole_window
from ghostprep.finding import Finding
from ghostprep.optics import Plan
from ghostprep.picture.place import Orientation
from ghostprep.scene import MM_PER, format_length
from ghostprep.verdict import Proof, summary

CAUTIONS: Final = (
    "Flashing light can cause seizures. Keep to loops that pass the flash proofs, and say so beside the box "
    "where others look at it.",
    "A lithium cell on its charger for months ages and can swell or burn. Follow the player's own papers on "
    "lasting use; where its cell can be taken out, take it out; never cover a swollen one.",
    "A player and lamps in a closed box grow warm. Leave vent holes low and high, and feel the box after an "
    "hour: too warm to hold is too warm.",
    "Use a mains adapter that is approved where you live and made for the current, out of the reach of "
    "children. Mains wiring is work for licensed hands.",
    "Cut sheet with eye protection and gloves; acrylic shatters and glass edges cut. Break all edges.",
    "Where local codes or the makers' instructions say otherwise, they are right.",
)
"""What can hurt someone, said on every page; local rules and the makers' papers go first."""
_SCRIPTS: Final = ("light.js", "view.js", "app.js")
_MOST_PX: Final = 230_000
_TALLEST_PX: Final = 720
"""The view has no more pixels, and no more rows, so that a browser traces it anew within a frame or two."""
_STRIP: Final = 4
"""Frames that are shown before the join, and as many after it."""
_MM: Final = re.compile(r"(\d+(?:\.\d+)?) mm\b")


@dataclass(frozen=True, kw_only=True, eq=False)
class PageContents:
    """All that the page shows."""

    stage: Stage
    watched: Watched
    orientation: Orientation
    """How the raster was made from the upright picture."""
    join: Join
    photo: PhotoScenery | None
    may_play: bool
    """Whether the page may start to play by itself: the flash proofs passed."""
    proofs: Sequence[Proof]
    findings: Sequence[Finding]
    texts: Mapping[str, str]
    """The template's own texts: name, title, facts, assumed, optics, mount, join_words, proofs_from, the
    command `still_command`, and as ``data:`` addresses a small `still` of one moment, and the plan's drawing,
    empty if there is none."""
    next_steps: Sequence[tuple[str, str]]
    """Why, and what to type."""


def build_page(contents: PageContents) -> str:
    """Return the whole page as HTML; every text in it is escaped."""
    files = resources.files("ghostprep.eye.page")

    def text(name: str) -> str:
        return files.joinpath(name).read_text(encoding="utf-8")

    environment = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined)
    template = environment.from_string(text("page.html.jinja"))
    c, plan, watched = contents, contents.stage.plan, contents.watched
    # past the viewer's range, so that one sees where the ghost ends
    reach = [max(round(3 * sway), round(-plan.layout.eye[2] / 2)) for sway in plan.scene.viewer.sway]
    told, ghosts, at = summary(c.proofs, c.findings), [], 0
    for part in watched.ghosts:
        ghosts.append({"name": part.name, "first": at // watched.every})
        at += part.stop - part.first
    script = "\n".join(text(name).replace('"use strict";\n', "") for name in _SCRIPTS)
    return template.render(
        **c.texts,
        version=__version__,
        style=Markup(text("style.css")),  # noqa: S704 - our own file
        script=Markup('"use strict";\n' + script),  # noqa: S704 - our own files
        data=_json(_script_data(c)),
        verdict=told.text,
        level=told.level,
        frames=watched.sheets.frames,
        distance=format_length(-float(plan.layout.eye[2]), plan.scene.units),
        reach=reach,
        room_step=f"{math.log10(c.stage.room_lux):.2f}",
        scale=f"1:{plan.figure.scale:.4g}",
        photo=c.photo is not None,
        card=bool(c.stage.world.indices(PAPER_FIGURE)),
        tile=format_length(TILE_MM / plan.figure.scale, plan.scene.units),
        baffle=bool(c.stage.world.indices("baffle")),
        ghosts=ghosts,
        may_play=c.may_play,
        strip=[] if ghosts else _strip(c),
        plot=steps_plot(watched.steps, set(c.join.steps), watched.usual(c.join.steps)),
        proofs=[_row(proof, plan.scene.units) for proof in c.proofs],
        findings=sorted(c.findings, key=lambda finding: finding.rank),
        cautions=CAUTIONS,
        steps=[{"why": why, "command": command} for why, command in c.next_steps],
    )


def _script_data(c: PageContents) -> Mapping[str, object]:
    plan, watched, sheets = c.stage.plan, c.watched, c.watched.sheets
    whole = whole_window(plan, page_rows(plan))
    wide, high = sheets.size
    return {
        "frames": sheets.frames,
        "rate": float(watched.facts.rate / watched.every),
        "sheet": {"width": wide, "height": high, "columns": sheets.columns, "per": sheets.per},
        "sheets": sheets.addresses,
        "mirrored": c.orientation.mirrored,
        "quarter_turns": c.orientation.quarter_turns,
        "every": watched.every,
        "join": [c.join.first // watched.every, c.join.last // watched.every],
        "units": {"name": plan.scene.units, "mm": MM_PER[plan.scene.units]},
        "stage": stage_data(c.stage),
        "photo": None if c.photo is None else photo_data(c.photo),
        "whole": whole.as_dict(),
        "near": near_window(plan, whole).as_dict(),
        "lit": watched.lit,
        "room_lux": c.stage.room_lux,
        "may_play": c.may_play,
    }


def page_rows(plan: Plan) -> int:
    """Return how high the view may be so that a browser follows the eye without a wait."""
    columns, rows = whole_window(plan, _TALLEST_PX).size
    return max(round(rows * min(1.0, math.sqrt(_MOST_PX / (columns * rows)))), 40)


def _json(value: Mapping[str, object]) -> Markup:
    """Return JSON that may stand in a script element: nothing in it can end the element."""
    text = json.dumps(value, separators=(",", ":"), allow_nan=False, default=np.generic.item)
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return Markup(text)  # noqa: S704 - escaped above


def _strip(c: PageContents) -> list[dict[str, object]]:
    """Return the frames about the join: some before it, some of it, some after it.

    Each has its `frame`, its `kind` for the style, and what is `told` of it to those who hear the page.
    """
    watched, all_frames = c.watched, len(c.watched.steps)
    inside = (c.join.last - c.join.first) % all_frames  # frames between the join's first and last step
    before = range(c.join.first - _STRIP + 1, c.join.first + 1)
    middle = (
        [c.join.first + round(k * (inside + 1) / 5) for k in range(1, 5)]
        if inside > 3
        else range(c.join.first + 1, c.join.first + inside + 1)
    )
    after = range(c.join.first + inside + 1, c.join.first + inside + 1 + _STRIP)
    cells = [(frame, "cell") for frame in before]
    cells += [(frame, "inside") for frame in middle if frame < after.start]
    cells += [(frame, "after" if frame == after.start and not inside else "cell") for frame in after]
    if all_frames < len(cells):
        return [{"frame": frame, "kind": "cell", "told": ""} for frame in range(watched.sheets.frames)]
    told = {"cell": "", "inside": ", blended", "after": ", the first after the join"}
    return [
        {"frame": frame % all_frames // watched.every, "kind": kind, "told": told[kind]}
        for frame, kind in cells
    ]


def _row(proof: Proof, units: str) -> dict[str, object]:
    """Return a proof as people read it, lengths in the builder's unit."""
    measured = proof.measured(partial(format_length, units=units))
    limit = _MM.sub(lambda found: format_length(float(found[1]), units), proof.limit)
    return {**proof.as_dict(), "name": proof.label, "value": measured, "limit": limit}


_WIDE: Final = 900.0
_HIGH: Final = 170.0
_LEFT: Final = 4.0
_MOST_BARS: Final = 450
"""The plot of steps: its sides and its margin, px, and bars at most: each is then two wide."""


def steps_plot(steps: Sequence[float], inside: Collection[int], usual: float) -> Markup:
    """Return an SVG of one bar a step from frame i to frame i + 1, cyclic; those `inside` the join stand out.

    `usual`, what the join is held to, is a line across. The bars of many steps are joined, each as high as
    the highest of its own.
    """
    count = len(steps)
    top = max(max(steps, default=0.0), usual, 1e-9) * 1.08
    joined = max(-(-count // _MOST_BARS), 1)
    step = (_WIDE - 2 * _LEFT) / count

    def y(value: float) -> float:
        return _HIGH - 2 - value / top * (_HIGH - 22)

    bars, marks = {False: "", True: ""}, ""
    for first in range(0, count, joined):
        some = range(first, min(first + joined, count))
        x, tall = _LEFT + first * step, max(steps[i] for i in some)
        wide = max(len(some) * step - (0.6 if step > 2 else 0), 0.6)
        joins = any(i in inside for i in some)
        bars[joins] += f"M{x:.1f} {_HIGH - 2:.1f}V{y(tall):.1f}h{wide:.1f}V{_HIGH - 2:.1f}z"
        # no eye must tell it by the colour alone
        marks += f"M{x - 4:.1f} 0H{x + wide + 4:.1f}L{x + wide / 2:.1f} 12z" if joins else ""
    largest = max((steps[i] for i in inside), default=0.0)
    words = f"Steps of {count} frames; inside the join at most {largest:.4f}, "
    words += f"95 of 100 elsewhere at most {usual:.4f}"
    return Markup(
        '<svg viewBox="0 0 {w} {h}" role="img" aria-label="{words}" preserveAspectRatio="none">'
        '<path d="{plain}" fill="var(--soft)"/><path d="{join}" fill="var(--copper)"/>'
        '<path d="{marks}" fill="var(--copper)"/>'
        '<path d="M0 {line}H{w}" stroke="var(--ink)" stroke-dasharray="6 4" fill="none" '
        'vector-effect="non-scaling-stroke"/>'
        '<path id="cursor" data-left="{left}" data-step="{step}" d="M0 12V{h}" stroke="var(--ink)" '
        'stroke-width="2" vector-effect="non-scaling-stroke"/></svg>'
    ).format(
        w=f"{_WIDE:.0f}",
        h=f"{_HIGH:.0f}",
        words=words,
        plain=bars[False],
        join=bars[True],
        marks=marks,
        line=f"{y(usual):.1f}",
        left=f"{_LEFT:.1f}",
        step=f"{step:.4f}",
    )
