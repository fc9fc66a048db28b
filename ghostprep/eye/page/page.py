"""Puts the page together from what was measured and its own template, style and script."""

from __future__ import annotations

import json
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from importlib import resources
from typing import Final

import jinja2
import numpy as np
from markupsafe import Markup

from ghostprep import __version__
from ghostprep.eye.page.cautions import CAUTIONS
from ghostprep.eye.page.plot import steps_plot
from ghostprep.eye.page.scenery_data import card_data, scenery_data
from ghostprep.eye.page.sheets import Sheets
from ghostprep.eye.photo import PhotoScenery
from ghostprep.eye.rays import Window, near_window, window_for
from ghostprep.eye.stage import Stage
from ghostprep.eye.view import ROOM_LUX, DrawnScenery
from ghostprep.finding import Finding
from ghostprep.verdict import Proof

_SCRIPTS: Final = ("light.js", "view.js", "app.js")
_MOST_PX: Final = 230_000
_TALLEST_PX: Final = 720
_STRIP: Final = 4


@dataclass(frozen=True, kw_only=True, eq=False)
class Contents:
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
    raster : tuple of int
    mirrored, quarter_turns : bool, int
        How the raster was made from the upright picture.
    sheets : Sheets
    lit : tuple of float
        The part of the raster that is ever lit, as shares: left, top, right, bottom.
    steps : sequence of float
        RMS steps, cyclic.
    join_steps : collection of int
    usual : float
        95th percentile of the steps elsewhere.
    join_words : str
    stage : Stage
    scenery : DrawnScenery or PhotoScenery
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
    proofs, proofs_from : sequence of Proof, str
    findings : sequence of Finding
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
    join_steps: Collection[int]
    usual: float
    join_words: str
    stage: Stage
    scenery: DrawnScenery | PhotoScenery
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


def build_page(contents: Contents) -> str:
    """Return the whole page as HTML; every text in it is escaped."""
    files = resources.files("ghostprep.eye.page")

    def text(name: str) -> str:
        return files.joinpath(name).read_text(encoding="utf-8")

    environment = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined)
    template = environment.from_string(text("page.html.jinja"))
    c, frames = contents, contents.sheets.frames
    failed = sum(not proof.passed for proof in c.proofs)
    verdict = f"{failed} of {len(c.proofs)} proofs FAILED" if failed else f"all {len(c.proofs)} proofs passed"
    # past the viewer's range, so that one sees where the ghost ends
    reach = [max(round(3 * sway), round(-c.stage.eye[2] / 2)) for sway in c.stage.sway]
    script = "\n".join(text(name).replace('"use strict";\n', "") for name in _SCRIPTS)
    return template.render(
        version=__version__,
        style=Markup(text("style.css")),  # noqa: S704 - our own file
        script=Markup('"use strict";\n' + script),  # noqa: S704 - our own files
        data=_json(_script_data(c)),
        name=c.name,
        title=c.title or "A ghost in a box",
        facts=c.facts,
        verdict=verdict if c.proofs else "",
        all_passed=not failed,
        frames=frames,
        distance=-float(c.stage.eye[2]),
        reach=reach,
        scenery=c.stage.scenery,
        room=ROOM_LUX,
        room_step=f"{math.log10(ROOM_LUX):.2f}",
        scale=c.scale,
        photo=isinstance(c.scenery, PhotoScenery),
        baffle=c.stage.baffle is not None,
        assumed=c.assumed,
        optics=c.optics,
        mount=c.mount,
        may_play=c.may_play,
        join_words=c.join_words,
        strip=_strip(frames),
        plot=steps_plot(c.steps, set(c.join_steps), c.usual),
        drawing=c.drawing,
        proofs=[{**proof.as_dict(), "value": _value(proof)} for proof in c.proofs],
        proofs_from=c.proofs_from,
        findings=_sorted(c.findings),
        cautions=CAUTIONS,
        steps=[{"why": why, "command": command} for why, command in c.next_steps],
    )


def _script_data(c: Contents) -> Mapping[str, object]:
    sheets = c.sheets
    whole = window_for(c.stage, _rows(c.stage))
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
        "stage": c.stage.as_dict(),
        "photo": isinstance(c.scenery, PhotoScenery),
        "scenery": scenery_data(c.scenery),
        "card": card_data(c.stage, c.scenery),
        "whole": _window(whole),
        "near": _window(near_window(c.stage, whole.size)),
        "lit": c.lit,
        "room_lux": ROOM_LUX,
        "may_play": c.may_play,
    }


def _rows(stage: Stage) -> int:
    """Return how high the view may be so that a browser follows the eye without a wait."""
    columns, rows = window_for(stage, _TALLEST_PX).size
    return max(round(rows * min(1.0, math.sqrt(_MOST_PX / (columns * rows)))), 40)


def _window(window: Window) -> dict[str, object]:
    return {
        "left": window.left,
        "top": window.top,
        "scale": window.scale,
        "columns": window.size[0],
        "rows": window.size[1],
    }


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


def _strip(frames: int) -> list[dict[str, object]]:
    reach = min(_STRIP, frames // 2)
    around = [*range(frames - reach, frames), *range(reach)] if reach else [0]
    return [{"frame": frame, "first": place == reach and reach > 0} for place, frame in enumerate(around)]


def _value(proof: Proof) -> str:
    value = proof.value if isinstance(proof.value, str) else f"{proof.value:.4g}"
    return f"{value} {proof.unit}".strip()


def _sorted(findings: Sequence[Finding]) -> list[Finding]:
    order = ("fault", "caution", "note")
    return sorted(findings, key=lambda finding: order.index(finding.level))
