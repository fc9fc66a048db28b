"""Searches screen position, top and pane for the best layouts in a given box."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final, get_args

import numpy as np

from ghostprep.errors import InputError
from ghostprep.optics.plan import Plan
from ghostprep.optics.planning import make_plan
from ghostprep.optics.vectors import AXES, vector
from ghostprep.scene import Scene
from ghostprep.scene.model import TOPS, Top, Wall

_DEPTHS: Final = 8
_ANGLES: Final = (45.0, 40.0, 50.0)
_OUTS_MM: Final = (0.0, 6.0)
_REFINED: Final = 6
_ROUNDS: Final = 3
_SPARE_MM: Final = 1.0
_GRID_MM: Final = 0.5
_APART_MM: Final = 12.0
_AROUND: Final = 0.12


@dataclass(frozen=True, slots=True)
class _Trial:
    """One layout to be judged: where the screen hangs and where its ghost stands."""

    wall: Wall
    top: Top
    out_mm: float
    angle_deg: float
    depth_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """One layout found.

    Attributes
    ----------
    scene : Scene
        The scene with screen and pane of this layout.
    plan : Plan
    cost : float
        Area of pane and baffle over the area of the box's front, with a charge for each caution,
        for trims, for what the opening cuts off and for a ghost close to the back wall, and a
        large one for each fault.
    """

    scene: Scene
    plan: Plan
    cost: float

    @property
    def faults(self) -> int:
        """Faults that the layout could have avoided."""
        return _layout_faults(self.plan)


def solve(scene: Scene, count: int = 3) -> list[Solution]:
    """Return the best layouts for a box, a player, a viewer and a wanted ghost, best first.

    The screen may hang on any of the four sides, its picture lying or standing, at any depth, with
    the pane between 35 and 55 degrees and the screen swivelled to match, so that the ghost always
    stands square to the eye. Where the scene says nothing on the ghost's place, it stands in the
    middle of the width with its feet on its ground. The layouts returned differ in side or
    orientation where that many work, else in depth.

    Parameters
    ----------
    scene : Scene
        Its ``screen.wall``, ``top``, ``centre``, ``swivel`` and its pane's place and size are what
        is sought; all else is kept.
    count : int
        How many layouts to return at most.
    """
    found: dict[_Trial, Solution] = {}
    for trial in _grid(scene):
        _judge(scene, trial, found)
    best = sorted(found, key=lambda t: found[t].cost)
    for trial in _distinct(best, _REFINED):
        _refine(scene, trial, found)
    best = sorted(found, key=lambda t: found[t].cost)
    return [found[trial] for trial in _distinct(best, count)]


def _grid(scene: Scene) -> Iterator[_Trial]:
    at, deep = scene.ghost.at, scene.box.depth
    depths = [at[2]] if at else [float(d) for d in np.linspace(deep * 0.35, deep - 2, _DEPTHS)]
    walls: tuple[Wall, ...] = get_args(Wall)
    for wall in walls:
        for top, out, angle, depth in itertools.product(TOPS[wall][::2], _OUTS_MM, _ANGLES, depths):
            yield _Trial(wall, top, out, angle, round(depth / _GRID_MM) * _GRID_MM)


def _judge(scene: Scene, trial: _Trial, found: dict[_Trial, Solution]) -> float:
    if trial in found:
        return found[trial].cost
    made = _scene_of(scene, trial)
    if made is None:
        return math.inf
    try:
        plan = make_plan(made)
    except InputError:
        return math.inf
    found[trial] = Solution(made, plan, _cost(plan))
    return found[trial].cost


def _refine(scene: Scene, trial: _Trial, found: dict[_Trial, Solution]) -> None:
    """Walk downhill from a trial with ever smaller steps."""
    fixed = scene.ghost.at is not None
    depth, angle, out = scene.box.depth / _DEPTHS / 2, 2.5, 2.0
    for _ in range(_ROUNDS):
        moves = [replace(trial, angle_deg=trial.angle_deg + d) for d in (-angle, angle)]
        moves += [replace(trial, out_mm=max(trial.out_mm + d, 0.0)) for d in (-out, out)]
        if not fixed:
            steps = (round(d / _GRID_MM) * _GRID_MM for d in (-depth, depth))
            moves += [replace(trial, depth_mm=trial.depth_mm + d) for d in steps]
        better = min(moves, key=lambda t: _judge(scene, t, found))
        if _judge(scene, better, found) < found[trial].cost:
            trial = better
        else:
            depth, angle, out = depth / 2, angle / 2, out / 2


def _distinct(best: list[_Trial], count: int) -> list[_Trial]:
    """Return the first trials that differ: in side or orientation first, in depth if too few do."""
    kept: list[_Trial] = []
    for trial in best:
        if all((trial.wall, trial.top) != (k.wall, k.top) for k in kept):
            kept.append(trial)
    for trial in best:
        if len(kept) >= count:
            break
        if all(
            (trial.wall, trial.top) != (k.wall, k.top) or abs(trial.depth_mm - k.depth_mm) > _APART_MM
            for k in kept
        ):
            kept.append(trial)
    order = {trial: place for place, trial in enumerate(best)}
    return sorted(kept[:count], key=lambda t: order[t])


def _scene_of(scene: Scene, trial: _Trial) -> Scene | None:
    """Return the scene with a trial's screen and pane, or None where the player has no room for it."""
    s, box = scene.screen, scene.box
    if not 35 <= trial.angle_deg <= 55:
        return None
    upright = trial.top in {"up", "down", "front", "back"} if trial.wall in {"floor", "ceiling"} else False
    tall = 1 if upright or trial.top in {"up", "down"} else 0
    ghost = vector(scene.ghost.at or (0.0, _ghost_height(scene, trial, tall), trial.depth_mm))
    swivel = 2 * trial.angle_deg - 90
    half_deep = s.body[tall if trial.wall in {"floor", "ceiling"} else 1 - tall] / 2
    # a swivelled player's back corner must still clear its wall
    turned = math.radians(abs(swivel))
    out = s.body[2] * math.cos(turned) + half_deep * math.sin(turned) + trial.out_mm
    a = math.radians(trial.angle_deg)
    away = vector(AXES[{"left": "left", "right": "right", "floor": "down", "ceiling": "up"}[trial.wall]])
    normal = math.sin(a) * away + math.cos(a) * vector(AXES["front"])
    face = {"left": box.width / 2, "right": box.width / 2, "floor": 0.0, "ceiling": box.height}[trial.wall]
    way = (face - out - float(ghost @ away)) / math.sin(a)
    if way <= 2 * _SPARE_MM:
        return None
    screen = ghost + way * normal
    if screen[2] - half_deep < _SPARE_MM or screen[2] + half_deep > box.depth:
        return None
    through = (screen + ghost) / 2
    return scene.model_copy(
        update={
            "screen": s.model_copy(
                update={
                    "wall": trial.wall,
                    "top": trial.top,
                    "centre": _point(screen),
                    "swivel": swivel,
                }
            ),
            "pane": scene.pane.model_copy(
                update={"angle": trial.angle_deg, "through": _point(through), "size": None}
            ),
        }
    )


def _ghost_height(scene: Scene, trial: _Trial, tall: int) -> float:
    """Return the height of the ghost's middle that puts its feet on the ground, if the player has room."""
    s = scene.screen
    stands = scene.ghost.feet - _SPARE_MM + s.active[tall] / 2
    if trial.wall in {"floor", "ceiling"}:
        return stands
    return min(max(stands, s.body[tall] / 2), max(scene.box.height - s.body[tall] / 2, s.body[tall] / 2))


def _point(p: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> tuple[float, float, float]:
    return (round(float(p[0]), 3), round(float(p[1]), 3), round(float(p[2]), 3))


def _layout_faults(plan: Plan) -> int:
    # what box and shelf bring about is no layout's doing
    return sum(f.level == "fault" and f.subject != "cords" for f in plan.findings)


def _cost(plan: Plan) -> float:
    box = plan.scene.box
    front = box.width * box.height
    baffle = plan.sight.baffle
    area = plan.pane.cut[0] * plan.pane.cut[1]
    if baffle is not None:
        area += baffle.reach_mm * (baffle.high_mm - baffle.low_mm)
    cautions = sum(f.level == "caution" and f.subject != "safety" for f in plan.findings)
    lost = max(plan.sight.cut_off.values()) / min(box.width, box.height)
    slanted = abs(plan.layout.angle_deg - 45) * 0.004
    # a ghost flat against the back wall has no scenery around it
    shallow = max(1 + plan.sight.behind_back_mm / (_AROUND * box.depth), 0.0)
    opening = box.opening
    trimmed = sum(
        width / (opening.width if side in {"left", "right"} else opening.height)
        for side, width in plan.sight.trims().items()
    )
    charges = 0.2 * cautions + 0.5 * shallow + trimmed + 2 * lost + slanted
    return 100 * _layout_faults(plan) + area / front + charges
