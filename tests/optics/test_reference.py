"""Whole plans beside plans that are kept, so that no figure and no finding changes unnoticed.

What a plan must be is held by the other tests, from outside values; here is held that it stays so, in boxes
that bring all kinds of findings. After a change on purpose, plan them anew and read what has changed:

    python tests/optics/test_reference.py
"""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest

from ghostprep.optics import make_plan
from ghostprep.optics.advice.words import Words
from ghostprep.optics.compare import measures_of, trade_offs
from ghostprep.optics.cost import cost_of
from ghostprep.optics.solve import solve
from ghostprep.optics.trial import rough_cost
from ghostprep.scene import Scene, parse_scene
from ghostprep.scene.starter import starter_text

FOLDER = Path(__file__).parent / "reference"
BOXES = sorted(path.stem for path in FOLDER.glob("*.toml"))
CROWDED = ("muddle", "wanted", "ceiling", "aslant")
"""For each of their findings several remedies are tried, which takes most of the time."""
SEARCHES = {
    "hall": ["screen.wall", "screen.centre", "screen.top"],
    "ceiling": ["pane.angle", "screen.swivel"],
    "shelf": ["screen.wall", "pane.angle"],
    "bare": [],
}


def scene_of(name: str) -> Scene:
    text = starter_text() if name == "hall" else (FOLDER / f"{name}.toml").read_text(encoding="utf-8")
    return parse_scene(text)


def plan_report(name: str) -> dict[str, Any]:
    """Return what is planned for a box: all of its report but the scene itself, and what stands in it."""
    plan = make_plan(scene_of(name))
    told = plan.as_dict()
    del told["scene"]
    told["findings"] = [f"{f.level} {f.subject}: {f.text}; {f.remedy}" for f in plan.findings]
    told["bodies"] = {f"{b.name} {b.part}".strip(): b.block.corners().tolist() for b in plan.world.bodies}
    told["ways out"] = {way.direction: [way.surface, way.clear] for way in plan.room.ways_out}
    told["veils"] = [[v.source, v.surface, v.share] for v in plan.light.veils]
    told["behind"] = plan.light.behind
    told["patches"] = sorted({patch.surface for patch in plan.sight.patches})
    told["costs"] = [rough_cost(plan.scene), *cost_of(plan)]
    return told


COARSE = {"_MEASURED": 5, "_REFINED": 1, "_ROUNDS": 2}
"""All but the starter's are searched with fewer trials, in a quarter of the time."""


def search_report(name: str) -> dict[str, Any]:
    """Return the layouts that a search finds, what they cost, and what speaks for and against each."""
    with pytest.MonkeyPatch.context() as patch:
        for constant, value in COARSE.items() if name != "hall" else ():
            patch.setattr(f"ghostprep.optics.solve.{constant}", value)
        found = solve(scene_of(name), free=SEARCHES[name])
    plans = [one.plan for one in found]
    return {
        "layouts": [measures_of(plan, Words("mm")) for plan in plans],
        "costs": [one.cost for one in found],
        **trade_offs(plans),
    }


def differences(kept: Any, made: Any, where: str = "") -> list[str]:
    """Return where two reports differ; numbers may by a hundred-thousandth."""
    if isinstance(kept, dict) and isinstance(made, dict) and kept.keys() == made.keys():
        return [line for key in kept for line in differences(kept[key], made[key], f"{where}/{key}")]
    if isinstance(kept, list) and isinstance(made, list) and len(kept) == len(made):
        return [
            line
            for n, (a, b) in enumerate(zip(kept, made, strict=True))
            for line in differences(a, b, f"{where}/{n}")
        ]
    if type(kept) is float and isinstance(made, float):
        same = math.isclose(kept, made, rel_tol=1e-5, abs_tol=1e-4)
    else:
        same = kept == made
    return [] if same else [f"{where}: kept {kept!r}, now {made!r}"]


def rounded(value: Any) -> Any:
    """Return a report as it is kept."""
    if isinstance(value, dict):
        return {key: rounded(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [rounded(one) for one in value]
    return float(f"{value:.7g}") if isinstance(value, float) else value


def changed(*names: str) -> list[str]:
    """Return where the plans of some boxes differ from those that are kept."""
    found = []
    for name in names:
        kept = json.loads((FOLDER / f"{name}.plan.json").read_text(encoding="utf-8"))
        found += differences(kept, rounded(plan_report(name)), name)
    return found


def test_plans_are_as_they_were() -> None:
    assert changed("hall", *(name for name in BOXES if name not in CROWDED))[:5] == []


def test_plans_of_crowded_boxes_are_as_they_were() -> None:
    assert changed(*CROWDED)[:5] == []


@pytest.mark.parametrize("name", SEARCHES)
def test_a_search_finds_what_it_found(name: str) -> None:
    kept = json.loads((FOLDER / f"{name}.search.json").read_text(encoding="utf-8"))
    assert differences(kept, rounded(search_report(name)))[:5] == []


if __name__ == "__main__":
    for name in ("hall", *BOXES):
        made = json.dumps(rounded(plan_report(name)), indent=1, ensure_ascii=False)
        (FOLDER / f"{name}.plan.json").write_text(made + "\n", encoding="utf-8", newline="\n")
    for name in SEARCHES:
        made = json.dumps(rounded(search_report(name)), indent=1, ensure_ascii=False)
        (FOLDER / f"{name}.search.json").write_text(made + "\n", encoding="utf-8", newline="\n")
