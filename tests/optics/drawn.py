"""Boxes drawn at odd measures, and all that is measured in them as plain figures."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from itertools import islice
from random import Random
from typing import Any
from zlib import crc32

import numpy as np

from ghostprep.errors import InputError
from ghostprep.optics.advice.collect import found_in
from ghostprep.optics.advice.draft import Draft, trouble
from ghostprep.optics.cost import cost_of
from ghostprep.optics.plan import Plan
from ghostprep.optics.planning import measure
from ghostprep.optics.solve import FREE, _Search
from ghostprep.optics.trial import Trial, given, rough_cost, scene_of
from ghostprep.optics.visible import Lines
from ghostprep.optics.world import World
from ghostprep.scene import Scene
from ghostprep.scene.model import TOPS

_NUMBER = re.compile(r"-?\d+(?:[.]\d+)?(?:e-?\d+)?")
PLAIN = 20
"""From this seed on, boxes are fuller and the scene gives some of the places."""
WALLS = ("left", "right", "floor", "ceiling")


class Dice:
    """Draws that stay the same in every version of Python: of `random` alone that is promised."""

    def __init__(self, seed: int) -> None:
        self._random = Random(seed).random

    def among(self, low: float, high: float) -> float:
        return round(low + (high - low) * self._random(), 2)

    def one(self, of: Any) -> Any:
        return of[int(self._random() * len(of))]


def drawn_tables(seed: int) -> dict[str, Any]:
    """Return the tables of a box; every fourth has its screen on the same side."""
    dice, wall = Dice(seed), WALLS[seed % 4]
    width, height, depth = dice.among(130, 300), dice.among(110, 260), dice.among(180, 400)
    lit = dice.among(0.15, 0.35) * min(width, height, depth)
    door = {"at": width * dice.among(0.4, 0.6), "width": width * dice.among(0.3, 0.7), "height": height * 0.7}
    tables: dict[str, Any] = {
        "units": dice.one(["mm", "mm", "cm", "in"]),
        "box": {
            "width": width,
            "height": height,
            "depth": depth,
            "wall": dice.among(3, 9),
            "opening": {
                "width": dice.among(0.6, 1) * width,
                "height": dice.among(0.6, 0.9) * height,
                "sill": 7.3,
            },
        },
        "viewer": {
            "distance": dice.among(300, 900),
            "across": dice.one([0, 21.3]),
            "sway": [dice.among(0, 90), 13],
        },
        "screen": {
            "wall": wall,
            "top": dice.one(TOPS[wall]),
            "swivel": dice.one([0, 0, 7.1, -5.2]),
            "mirrored": dice.one([False, False, True]),
            "raster": [320, 240],
            "active": [lit, lit * 0.75],
            "polarisation": dice.one(["unknown", "none", "width", "height", "diagonal"]),
            "contrast": dice.one([60, 700]),
        },
        "pane": {"angle": dice.one([45, 45, 42.3, 49.1]), "thickness": dice.among(0.2, 4)},
        "ghost": {"feet": dice.one([0, 3.3, 12.1])},
        "holder": {"slack": dice.among(0, 1), "sheet": dice.among(1, 4)},
        "thing": [
            {
                "name": "counter",
                "at": [dice.among(-0.4, 0.4) * width, 0, dice.among(0.2, 0.9) * depth],
                "size": [20.2, dice.among(20, 90), 12.7],
                "turn": dice.one([0, 15, -31]),
                "real": dice.one([900, 1900]),
            }
        ],
        "light": {"reflectance": dice.among(0.1, 0.8)},
    }
    if dice.one([True, True, False]):
        lamp = {"at": [0.21 * width, 0.9 * height, dice.among(0.3, 0.9) * depth], "lumens": dice.among(1, 30)}
        strip = {"from": [-21, height - 4, depth - 31], "to": [31, height - 4, depth - 29], "lumens": 9}
        tables["light"] |= {
            "lamps": [lamp],
            "strips": [strip | {"faces": dice.one(["down", "left", "front"])}],
        }
    if dice.one([True, False]):
        line = {"from": [-width / 2, dice.among(30, 60)], "to": [width / 2, dice.among(30, 60)]}
        tables["divider"] = [line | {"doorways": dice.one([[], [door]]), "thickness": dice.among(1, 5)}]
    if dice.one([True, False]):
        tables["mirror"] = [
            {"from": [10.1, depth - 2.2], "to": [51, depth - dice.among(3, 30)], "height": 61}
        ]
    if dice.one([True, False]):
        tables["shelf"] = {
            "depth": depth + dice.among(-20, 60),
            "width": width + 20,
            "cord": dice.among(5, 40),
        }
    if dice.one([True, False, False]):
        tables["pane"]["size"] = [dice.among(60, 160), dice.among(60, 120)]
    return _placed(tables, dice) if seed >= PLAIN else tables


def _placed(tables: dict[str, Any], dice: Dice) -> dict[str, Any]:
    """Return the tables with some places given, things by the walls, and mirrors at the sides."""
    box, wall = tables["box"], tables["screen"]["wall"]
    width, height, depth = box["width"], box["height"], box["depth"]
    side = {"left": -1, "right": 1}.get(wall, 0)
    lying = {"floor": 13, "ceiling": height - 13}.get(wall, height * dice.among(0.35, 0.6))
    tables["screen"]["swivel"] = 0
    if dice.one([True, True, False]):
        tables["screen"]["centre"] = [side * (width / 2 - 13) + 2, lying, depth * dice.among(0.2, 0.5)]
    if (places := dice.one(["through", "at", "both", "neither"])) in {"through", "both"}:
        tables["pane"]["through"] = [side * 11, height * 0.41, depth * dice.among(0.4, 0.6)]
    if places in {"at", "both"}:
        del tables["pane"]["angle"]
        tables["ghost"]["at"] = [
            dice.among(-9, 9),
            height * dice.among(0.4, 0.5),
            depth * dice.among(0.7, 0.9),
        ]
    tables["viewer"]["sway"] = dice.one([[0, 0], [60.1, 0], [0, 33.3], [120, 41]])
    far, near = dice.among(0.5, 0.9) * depth, dice.among(0.1, 0.4) * depth
    one = {"from": [-width / 2 + 1, near], "to": [-width / 2 + dice.among(1, 20), far], "sill": 4.4}
    tables["mirror"] = [
        one,
        {"from": [width / 2 - 1, far], "to": [width / 2 - 9, near], "height": height / 2},
    ]
    tables["thing"] += [
        {
            "name": "bench",
            "at": [dice.among(-60, 60), 0, far],
            "size": [30.3, 17, 9],
            "seems": 30_000,
            "real": 450,
        },
        {"name": "beam", "at": [0, height - 12, near], "size": [width, 12, 5]},
    ]
    tables["divider"] = [
        {
            "from": [dice.among(-60, 0), near],
            "to": [width / 2, near + dice.among(-9, 30)],
            "height": dice.among(0.5, 1) * height,
            "doorways": dice.one([[], [{"at": 30.2, "width": 22, "height": 61, "sill": 7}]]),
        }
    ]
    tables["light"] = dice.one([{"scene": 4.2}, tables["light"]])
    return tables


def figures(value: Any) -> Any:
    """Return a part of a plan as plain figures: long arrays by two sums, lines by number and bounds."""
    if isinstance(value, World):
        return {
            "bodies": [[b.name, b.part, b.role, figures(b.block.corners())] for b in value.bodies],
            "sheets": [[s.name, figures(s.corners), figures(s.normal)] for s in (value.pane, *value.mirrors)],
        }
    if isinstance(value, Lines):
        ends = np.hstack([value.eyes, value.points])
        return [len(ends), *figures(ends.min(axis=0)), *figures(ends.max(axis=0))] if len(ends) else 0
    if is_dataclass(value):
        return {
            f.name: figures(getattr(value, f.name))
            for f in fields(value)
            if f.name not in {"scene", "findings"}
        }
    if isinstance(value, np.ndarray):
        flat = value.astype(float).ravel()
        return (
            flat.tolist()
            if len(flat) < 5
            else [float(flat.sum()), float(flat @ np.arange(1, len(flat) + 1) ** 1.1)]
        )
    if isinstance(value, Mapping):
        return {key: figures(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [figures(one) for one in value]
    return value.item() if isinstance(value, np.generic) else value


def measured(seed: int) -> dict[str, Any]:
    """Return all that is measured in a drawn box, or what is wrong with it, and the layouts of trials."""
    scene = Scene.model_validate(drawn_tables(seed))
    try:
        plan = measure(scene)
    except InputError as error:
        return {"wrong": str(error), "trials": trials(scene, seed)}
    return {
        **figures(plan),
        "said": [said(draft, plan) for draft in found_in(plan)],
        "costs": [rough_cost(scene), *cost_of(plan)],
        "rays": rays(plan, seed),
        "trials": trials(scene, seed),
    }


def said(draft: Draft, plan: Plan) -> Any:
    """Return a finding by its subject, figures and a sum of its words, and what its remedies would change."""
    before = plan.scene.model_dump()
    words = f"{draft.text} {draft.remedy}"
    told = [f"{draft.level} {trouble(draft)} {' '.join(_NUMBER.findall(words))} {crc32(words.encode()):x}"]
    for offer in islice(draft.offers, 3):
        after = offer.scene.model_dump()
        changed = {key: after[key] for key in after if after[key] != before[key]}
        told.append(" ".join([*changed, *(f"{float(n):.4g}" for n in _NUMBER.findall(str(changed)))]))
        told.append(f"{crc32(offer.said(plan).encode()):x}")
    return told


def rays(plan: Plan, seed: int) -> Any:
    """Return where drawn lines of sight end, and over what."""
    dice, box = Dice(seed + 1000), plan.scene.box
    ends = np.array(
        [(dice.among(-0.5, 0.5) * box.width, dice.among(0, 1) * box.height, box.depth) for _ in range(60)]
    )
    starts = np.tile(plan.layout.eye + np.array([dice.among(-40, 40), 0, 0]), (len(ends), 1))
    traced = [plan.world.trace(starts, ends - starts, turns) for turns in ((False,), (True,))]
    names = [[plan.world.name_of(int(end)) for end in one.end] for one in traced]
    return [
        [{name: mine.count(name) for name in sorted(set(mine))}, figures(one.point), figures(one.length)]
        for mine, one in zip(names, traced, strict=True)
    ]


def trials(scene: Scene, seed: int) -> Any:
    """Return screen, pane and dividers of some trials of a search, with different keys kept."""
    dice, found = Dice(seed + 2000), []
    for pinned, free in (
        (set(), {"divider", "doorways", "ghost.at"}),
        ({"screen.swivel", "pane.size"}, {"doorways"}),
        ({"screen.wall", "screen.top"}, {"divider"}),
        ({key for key in FREE if given(scene, key)} - {"divider", "doorways"}, {"divider", "doorways"}),
    ):
        wall = scene.screen.wall if "screen.wall" in pinned else dice.one(WALLS)
        top = scene.screen.top if "screen.top" in pinned else dice.one(TOPS[wall])
        trial = Trial(
            wall,
            top,
            dice.among(0, 9),
            dice.among(36, 54),
            dice.among(0.4, 1) * scene.box.depth,
            dice.among(-20, 20),
        )
        made = scene_of(scene, trial, frozenset(pinned), frozenset(free))
        found.append(
            made and [made.screen.centre, made.screen.swivel, made.pane.through, made.pane.size, cut(made)]
        )
        if made:
            try:
                found.append(rough_cost(made))
            except InputError as error:
                found.append(str(error))
    search = _Search(scene, frozenset({"divider", "pane.angle", "screen.wall"} if seed % 3 else ()))
    grid = list(search._grid())
    steps = np.array([(t.out_mm, t.angle_deg, t.depth_mm, t.divider_mm) for t in grid]).reshape(-1, 4)
    found += [sorted(search.open), len(grid), sorted({f"{t.wall} {t.top}" for t in grid}), *steps.sum(axis=0)]
    return figures(found)


def cut(scene: Scene) -> list[Any]:
    """Return where dividers stand, and their doorways."""
    return [
        [*d.start, *d.end, *[[door.at, door.width, door.height, door.sill] for door in d.doorways]]
        for d in scene.divider
    ]
