"""Puts the page together from what was measured and its own template, style and script."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from importlib import resources
from typing import Final

import jinja2
import numpy as np
from markupsafe import Markup

from ghostprep import __version__
from ghostprep.eye.join import Join
from ghostprep.eye.page.plot import steps_plot
from ghostprep.eye.page.sheets import Sheets
from ghostprep.eye.page.stage_data import photo_data, stage_data
from ghostprep.eye.paint import PAPER_FIGURE, TILE_MM
from ghostprep.eye.photo import PhotoScenery
from ghostprep.eye.stage import ROOM_LUX, Stage
from ghostprep.eye.window import near_window, whole_window
from ghostprep.finding import Finding
from ghostprep.optics import Plan
from ghostprep.scene import format_length
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
_STRIP: Final = 4
_MM: Final = re.compile(r"(\d+(?:\.\d+)?) mm\b")


@dataclass(frozen=True, kw_only=True, eq=False)
class PageContents:
    """All that the page shows.

    Attributes
    ----------
    name : str
        Of the loop's file.
    title : str
        Of the scene.
    facts : str
        One line: raster, rate, frames, length.
    rate : float
        Frames a second as played in the page.
    mirrored, quarter_turns : bool, int
        How the raster was made from the upright picture.
    lit : tuple of float
        The part of the raster that is ever lit, as shares: left, top, right, bottom.
    steps : sequence of float
        RMS steps, cyclic.
    every : int
        Only every so-manyth of the frames that the steps tell of is in the page.
    ghosts : sequence of (str, int)
        Name and first frame in the page of each of several ghosts; empty for one loop.
    usual : float
        95th percentile of the steps elsewhere.
    scale : str
        As in "1:24", at the ghost.
    assumed : str
        What was taken for want of a scene; empty if nothing.
    optics : str
        One sentence on reflectance and doubling.
    mount : str
        How the raster lies, in words.
    may_play : bool
        Whether the page may start to play by itself: the flash proofs passed.
    drawing : str
        The plan's drawing as a ``data:`` address; empty if there is none.
    next_steps : sequence of (str, str)
        Why, and what to type.
    """

    name: str
    title: str
    facts: str
    rate: float
    raster: tuple[int, int]
    mirrored: bool
    quarter_turns: int
    sheets: Sheets
    lit: tuple[float, float, float, float]
    steps: Sequence[float]
    join: Join
    every: int
    ghosts: Sequence[tuple[str, int]]
    usual: float
    join_words: str
    stage: Stage
    photo: PhotoScenery | None
    scale: str
    assumed: str = ""
    optics: str = ""
    mount: str = ""
    may_play: bool = True
    proofs: Sequence[Proof] = ()
    proofs_from: str = ""
    findings: Sequence[Finding] = ()
    drawing: str = ""
    next_steps: Sequence[tuple[str, str]] = field(default_factory=tuple)


def build_page(contents: PageContents) -> str:
    """Return the whole page as HTML; every text in it is escaped."""
    files = resources.files("ghostprep.eye.page")

    def text(name: str) -> str:
        return files.joinpath(name).read_text(encoding="utf-8")

    environment = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined)
    template = environment.from_string(text("page.html.jinja"))
    c, frames = contents, contents.sheets.frames
    # past the viewer's range, so that one sees where the ghost ends
    plan = c.stage.plan
    reach = [max(round(3 * sway), round(-plan.layout.eye[2] / 2)) for sway in plan.scene.viewer.sway]
    told = summary(c.proofs, c.findings)
    script = "\n".join(text(name).replace('"use strict";\n', "") for name in _SCRIPTS)
    return template.render(
        version=__version__,
        style=Markup(text("style.css")),  # noqa: S704 - our own file
        script=Markup('"use strict";\n' + script),  # noqa: S704 - our own files
        data=_json(_script_data(c)),
        name=c.name,
        title=c.title or "A ghost in a box",
        facts=c.facts,
        verdict=told.text,
        level=told.level,
        frames=frames,
        distance=format_length(-float(plan.layout.eye[2]), plan.scene.units),
        reach=reach,
        scenery=c.stage.scenery,
        room=ROOM_LUX,
        room_step=f"{math.log10(ROOM_LUX):.2f}",
        scale=c.scale,
        photo=c.photo is not None,
        card=bool(c.stage.world.indices(PAPER_FIGURE)),
        tile=format_length(TILE_MM / plan.figure.scale, plan.scene.units),
        baffle=bool(c.stage.world.indices("baffle")),
        ghosts=[{"name": name, "first": first} for name, first in c.ghosts],
        assumed=c.assumed,
        optics=c.optics,
        mount=c.mount,
        may_play=c.may_play,
        join_words=c.join_words,
        strip=[] if c.ghosts else _strip(c),
        plot=steps_plot(c.steps, set(c.join.steps), c.usual),
        drawing=c.drawing,
        proofs=[_row(proof, plan.scene.units) for proof in c.proofs],
        proofs_from=c.proofs_from,
        findings=_sorted(c.findings),
        cautions=CAUTIONS,
        steps=[{"why": why, "command": command} for why, command in c.next_steps],
    )


def _script_data(c: PageContents) -> Mapping[str, object]:
    sheets = c.sheets
    whole = whole_window(c.stage.plan, _rows(c.stage.plan))
    per = {"mm": 1.0, "cm": 10.0, "in": 25.4}[c.stage.plan.scene.units]
    return {
        "frames": sheets.frames,
        "rate": c.rate,
        "sheet": {
            "width": sheets.size[0],
            "height": sheets.size[1],
            "columns": sheets.columns,
            "per": sheets.per,
        },
        "sheets": sheets.addresses,
        "mirrored": c.mirrored,
        "quarter_turns": c.quarter_turns,
        "every": c.every,
        "join": [c.join.first // c.every, c.join.last // c.every],
        "units": {"name": c.stage.plan.scene.units, "mm": per},
        "stage": stage_data(c.stage),
        "photo": None if c.photo is None else photo_data(c.photo),
        "whole": whole.as_dict(),
        "near": near_window(c.stage.plan, whole).as_dict(),
        "lit": c.lit,
        "room_lux": ROOM_LUX,
        "may_play": c.may_play,
    }


def _rows(plan: Plan) -> int:
    """Return how high the view may be so that a browser follows the eye without a wait."""
    columns, rows = whole_window(plan, _TALLEST_PX).size
    return max(round(rows * min(1.0, math.sqrt(_MOST_PX / (columns * rows)))), 40)


def _json(value: Mapping[str, object]) -> Markup:
    """Return JSON that may stand in a script element: nothing in it can end the element."""
    text = json.dumps(value, separators=(",", ":"), allow_nan=False, default=_plain)
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return Markup(text)  # noqa: S704 - escaped above


def _plain(value: object) -> object:
    if isinstance(value, np.generic):
        return value.item()
    raise TypeError(f"{type(value)} cannot stand in the page")


def _strip(c: PageContents) -> list[dict[str, object]]:
    """Return the frames about the join: some before it, some of it, some after it."""
    count, all_frames = c.sheets.frames, len(c.steps)
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
        return [{"frame": frame, "kind": "cell"} for frame in range(count)]
    return [{"frame": frame % all_frames // c.every, "kind": kind} for frame, kind in cells]


def _row(proof: Proof, units: str) -> dict[str, object]:
    """Return a proof as people read it, lengths in the builder's unit."""
    measured = proof.measured(partial(format_length, units=units))
    limit = _MM.sub(lambda found: format_length(float(found[1]), units), proof.limit)
    return {**proof.as_dict(), "name": proof.label, "value": measured, "limit": limit}


def _sorted(findings: Sequence[Finding]) -> list[Finding]:
    order = ("fault", "caution", "note")
    return sorted(findings, key=lambda finding: order.index(finding.level))
