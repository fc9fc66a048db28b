"""Searches what a scene leaves open (screen, pane, dividers, doorway) for the best layouts."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Final, get_args

import numpy as np

from ghostprep.errors import InputError
from ghostprep.optics.advice.collect import found_in
from ghostprep.optics.plan import Plan
from ghostprep.optics.planning import make_plan, measure
from ghostprep.optics.trial import Trial, given, rough_cost, scene_of
from ghostprep.scene import Scene
from ghostprep.scene.model import TOPS, Wall

FREE: Final = (
    "screen.wall",
    "screen.top",
    "screen.centre",
    "screen.swivel",
    "pane.angle",
    "pane.through",
    "pane.size",
    "ghost.at",
    "divider",
    "doorways",
)
"""What can be looked for; what the file gives of it stays unless it is set free."""
_DEPTHS: Final = 7
_ANGLES: Final = (45.0, 40.0, 50.0)
_OUTS_MM: Final = (0.0, 6.0)
"""The grid: depths of the ghost, angles of the pane, and how far the player stands off its wall."""
_MEASURED: Final = 18
_REFINED: Final = 3
_ROUNDS: Final = 3
"""Layouts that are planned whole, those of them that are bettered, and steps of each."""
_GRID_MM: Final = 0.5
"""Depths are whole multiples of it, as one measures."""
_APART_MM: Final = 12.0
_APART_DEG: Final = 3.0
"""Layouts that differ by less are the same to a builder."""
_AROUND: Final = 0.12
"""Share of the box's depth that is wanted behind the ghost."""


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """One layout found."""

    scene: Scene
    """The scene with what was found."""
    plan: Plan
    cost: float
    """Area of pane and baffle over the area of the box's front, with a charge for each caution, for trims,
    for what the opening cuts off and for a ghost close to the back wall, and a large one for each fault."""

    @property
    def faults(self) -> int:
        """How many faults remain."""
        return self.plan.faults


def solve(scene: Scene, count: int = 3, free: Iterable[str] = ()) -> list[Solution]:
    """Return the best layouts that keep what the scene gives, best first.

    Of what the scene leaves open or `free` names, the screen may hang on any of the four sides, its
    picture lying or standing, at any depth, with the pane between 35 and 55 degrees and the screen
    swivelled to match, so that the ghost stands square to the eye. Where the scene says nothing on the
    ghost's place, it stands in the middle of the width with its feet on its ground. Dividers that are
    set free are moved along the box's depth, or one is set before the player where there is none, and
    free doorways are cut as the ghost's light needs them.

    Each layout returned has been planned whole; one with a fault comes only where none is without.

    Parameters
    ----------
    count : int
        How many layouts to return at most; they differ in side or orientation where that many work,
        else in depth or angle.
    free : iterable of str
        Keys of `FREE` that are looked for though the scene gives them.

    Raises
    ------
    InputError
        The scene gives all that could be looked for, or `free` names what cannot be.
    """
    wanted = frozenset(free)
    if wrong := sorted(wanted - set(FREE)):
        raise InputError(
            f"{wrong[0]!r} cannot be looked for", where="--free", remedy=f"what can be: {', '.join(FREE)}"
        )
    search = _Search(scene, wanted)
    if not search.open:
        raise InputError(
            "the scene gives all that could be looked for",
            where="--solve",
            remedy="leave keys out of the file, or name what may change, such as --free "
            "screen.wall,screen.centre,screen.top,pane.angle",
        )
    best = search.run()
    clean = [t for t in best if search.faults[t] == 0]
    # layouts with faults are offered only where none is without
    chosen = _distinct(clean or best, count)
    return [Solution(s, make_plan(s), search.costs[t]) for t in chosen if (s := search.scenes[t])]


class _Search:
    """The trials made so far, with their scenes and costs."""

    def __init__(self, scene: Scene, free: frozenset[str]) -> None:
        self.scene = scene
        self.free = free
        self.pinned = frozenset(key for key in FREE if key not in free and given(scene, key))
        # a doorway or a divider is only looked for where that is asked for
        self.open = (set(FREE) - {"divider", "doorways", "pane.size", "ghost.at"} - self.pinned) | free
        if self.pinned >= {"screen.centre", "pane.through"}:
            self.open -= {"screen.wall"} - free
        self.scenes: dict[Trial, Scene | None] = {}
        self.costs: dict[Trial, float] = {}
        self.faults: dict[Trial, int] = {}

    def run(self) -> list[Trial]:
        """Return the trials that could be planned, the best first."""
        rough = {trial: self._rough(trial) for trial in self._grid()}
        ranked = sorted((t for t in rough if rough[t] < math.inf), key=lambda t: rough[t])
        for trial in _distinct(ranked, _MEASURED):
            self._judge(trial)
        for trial in _distinct(self._best(), _REFINED):
            self._refine(trial)
        return self._best()

    def _best(self) -> list[Trial]:
        return sorted((t for t in self.costs if self.costs[t] < math.inf), key=lambda t: self.costs[t])

    def _grid(self) -> Iterator[Trial]:
        s, deep, pane = self.scene.screen, self.scene.box.depth, self.scene.pane
        # with the screen's place kept, or ghost or pane, the depth follows
        follows = self.pinned & {"screen.centre", "ghost.at", "pane.through"}
        depths = [0.0] if follows else [float(d) for d in np.linspace(deep * 0.3, deep - 2, _DEPTHS)]
        kept = self.pinned & {"screen.wall", "screen.top", "screen.centre", "screen.swivel", "pane.through"}
        walls: tuple[Wall, ...] = (s.wall,) if kept else get_args(Wall)
        angles = (pane.angle,) if "pane.angle" in self.pinned else _ANGLES
        if "screen.swivel" in self.pinned and "pane.angle" not in self.pinned:
            angles = ((90 + s.swivel) / 2,)
        outs = (0.0,) if "screen.centre" in self.pinned else _OUTS_MM
        shifts = np.linspace(-0.3, 0.3, 7) if self.scene.divider else np.linspace(-0.2, 0, 3)
        moves = [float(d) * deep for d in shifts] if "divider" in self.free else [0.0]
        for wall in walls:
            tops = (s.top,) if "screen.top" in self.pinned else TOPS[wall][::2]
            for top, out, angle, depth, move in itertools.product(tops, outs, angles, depths, moves):
                yield Trial(wall, top, out, angle, round(depth / _GRID_MM) * _GRID_MM, move)

    def _scene_of(self, trial: Trial) -> Scene | None:
        if trial not in self.scenes:
            self.scenes[trial] = scene_of(self.scene, trial, self.pinned, self.free)
        return self.scenes[trial]

    def _rough(self, trial: Trial) -> float:
        scene = self._scene_of(trial)
        try:
            return math.inf if scene is None else rough_cost(scene)
        except InputError:
            return math.inf

    def _judge(self, trial: Trial) -> float:
        if trial not in self.costs:
            self.costs[trial] = math.inf
            if (scene := self._scene_of(trial)) is not None:
                try:
                    plan = measure(scene)
                except InputError:
                    return math.inf
                self.costs[trial], self.faults[trial] = _cost(plan)
        return self.costs[trial]

    def _refine(self, trial: Trial) -> None:
        """Walk downhill from a trial with ever smaller steps."""
        depth, angle, out = self.scene.box.depth / _DEPTHS / 2, 2.5, 2.0
        for _ in range(_ROUNDS):
            moves: list[Trial] = []
            if not self.pinned & {"pane.angle", "screen.swivel"}:
                moves += [replace(trial, angle_deg=trial.angle_deg + d) for d in (-angle, angle)]
            if "screen.centre" not in self.pinned:
                moves += [replace(trial, out_mm=max(trial.out_mm + d, 0.0)) for d in (-out, out)]
            if not self.pinned & {"screen.centre", "ghost.at", "pane.through"}:
                steps = (round(d / _GRID_MM) * _GRID_MM for d in (-depth, depth))
                moves += [replace(trial, depth_mm=trial.depth_mm + d) for d in steps]
            if not moves:
                return
            better = min(moves, key=self._judge)
            if self._judge(better) < self.costs[trial]:
                trial = better
            else:
                depth, angle, out = depth / 2, angle / 2, out / 2


def _distinct(best: list[Trial], count: int) -> list[Trial]:
    """Return the first trials that differ: in side or orientation first, else in depth, angle or divider."""
    kept: list[Trial] = []
    for trial in best:
        if all((trial.wall, trial.top) != (k.wall, k.top) for k in kept):
            kept.append(trial)
    for trial in best:
        if len(kept) >= count:
            break
        if all(_differ(trial, k) for k in kept):
            kept.append(trial)
    order = {trial: place for place, trial in enumerate(best)}
    return sorted(kept[:count], key=lambda t: order[t])


def _differ(a: Trial, b: Trial) -> bool:
    return (
        (a.wall, a.top) != (b.wall, b.top)
        or abs(a.depth_mm - b.depth_mm) > _APART_MM
        or abs(a.angle_deg - b.angle_deg) > _APART_DEG
        or abs(a.divider_mm - b.divider_mm) > _APART_MM
    )


def _cost(plan: Plan) -> tuple[float, int]:
    """Return what a layout costs, and how many faults it has."""
    box, baffle, found = plan.scene.box, plan.sight.baffle, list(found_in(plan))
    area = plan.pane.cut[0] * plan.pane.cut[1]
    if baffle is not None:
        area += baffle.size[0] * baffle.size[1]
    faults = sum(f.level == "fault" for f in found)
    cautions = sum(f.level == "caution" and f.subject != "safety" for f in found)
    lost = max(plan.sight.cut_off.values()) / min(box.width, box.height)
    slanted = abs(plan.layout.angle_deg - 45) * 0.004
    # a ghost flat against the back wall has no scenery around it
    shallow = max(1 + plan.sight.behind_back_mm / (_AROUND * box.depth), 0.0)
    opening = box.opening
    trimmed = sum(
        width / (opening.width if side in {"left", "right"} else opening.height)
        for side, width in plan.sight.trims().items()
    )
    # how far a fault is from being none, so that a walk downhill finds its way out of it
    cut = 0.0 if baffle is None else max(-baffle.clearance_mm, 0.0)
    cut += sum(pair.overlap_mm for pair in (*plan.collisions, *plan.reaches))
    charges = 0.2 * cautions + 0.5 * shallow + trimmed + 2 * lost + slanted + cut
    return 100 * faults + area / (box.width * box.height) + charges, faults
