"""Searches what a scene leaves open (screen, pane, dividers, doorway) for the best layouts."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any, Final, get_args

import numpy as np

from ghostprep.errors import InputError
from ghostprep.optics.advice.collect import faults_of, found_in
from ghostprep.optics.changes import with_keys
from ghostprep.optics.cost import cost_of
from ghostprep.optics.plan import Plan
from ghostprep.optics.planning import make_plan, measure
from ghostprep.optics.trial import Trial, given, on_marks, rough_cost, scene_of
from ghostprep.optics.wishes import SIDES, YIELDING, larger, on_its_ground, with_less_sway, with_most_sway
from ghostprep.scene import Scene
from ghostprep.scene.model import TOPS, Top, Wall, standing_side
from ghostprep.words import did_you_mean

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
    *YIELDING,
    *SIDES,
)
"""What can be looked for; what the file gives of it stays unless it is set free."""
_ON_DEMAND: Final = frozenset({"divider", "doorways", "pane.size", "ghost.at", *YIELDING, *SIDES})
"""Of those, what is only looked for where that is asked for."""
_WISHES: Final = frozenset({*YIELDING, *SIDES})
"""What is no part of a layout, and gives way where no layout keeps it."""
_LET_GO: Final = (
    frozenset({"screen.centre", "pane.angle", "pane.through", "pane.size", "ghost.at"}),
    frozenset({"screen.top", "divider", "doorways"}),
    frozenset({"screen.wall"}),
)
"""What a builder lets go of, step by step, before any wish: places first, then how it is mounted."""
_FOLLOW: Final = {
    "screen.wall": ("screen.centre", "screen.top", "screen.swivel", "pane.through"),
    "pane.angle": ("screen.swivel",),
    "screen.swivel": ("pane.angle",),
}
"""What cannot stay as the file gives it where another key may change: a place on another side, a swivel with
another pane."""
_DEPTHS: Final = 7
_ANGLES: Final = (45.0, 40.0, 50.0)
_OUTS_MM: Final = (0.0, 6.0)
_THROWS: Final = (1.2, 1.6, 2.2, 3.0, 4.0, 5.5)
"""The grid: depths of the ghost, angles of the pane, how far the player stands off its wall; and how far the
ghost stands from the screen, in breadths of its picture, where that is less than from wall to ghost."""
_MEASURED: Final = 18
_REFINED: Final = 3
_ROUNDS: Final = 3
"""Layouts that are planned whole, those of them that are bettered, and steps of each."""
_GRID_MM: Final = 0.5
"""Depths are whole multiples of it, as one measures."""
_ASIDE_MM: Final = 8.0
"""The first step across."""
_APART_MM: Final = 12.0
_APART_DEG: Final = 3.0
"""Layouts that differ by less are the same to a builder."""


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
    ghost's place, it stands with its feet on its ground, in the middle of the width or towards the wall on
    which the screen hangs, where a shorter throw wants a smaller pane; for the same reason a screen may hang
    below the ceiling, as far as the front hides it. Dividers that are
    set free are moved along the box's depth, or one is set before the player where there is none, and
    free doorways are cut as the ghost's light needs them. Wishes that are free give way first, if they must;
    all layouts keep what is left of them.

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
            f"{wrong[0]!r} cannot be looked for",
            where="--free",
            remedy=did_you_mean(wrong[0], FREE, f"what can be: {', '.join(FREE)}"),
        )
    search = _Search(scene, with_followers(wanted))
    if not search.open:
        raise InputError(
            "the scene gives all that could be looked for",
            where="--solve",
            remedy="leave keys out of the file, or name what may change, such as --free "
            "screen.wall,screen.centre,screen.top,pane.angle",
        )
    given_up = _giving(scene, wanted) if wanted & _WISHES else None
    if given_up is not None:
        # what gives is settled by one layout; others may serve those wishes better
        settled = with_keys(scene, "ghost", figure=given_up.ghost.figure, feet=given_up.ghost.feet)
        settled = settled.model_copy(update={"box": given_up.box, "viewer": given_up.viewer})
        search = _Search(settled, with_followers(wanted - _WISHES))
    best = search.run() if search.open else []
    clean = [t for t in best if search.faults[t] == 0]
    if given_up is not None and not clean:
        return [_solution(given_up)]
    # layouts with faults are offered only where none is without
    chosen = _distinct(clean or best, count)
    return [_solution(_on_marks(s, search.pinned)) for t in chosen if (s := search.scenes[t])]


def _on_marks(scene: Scene, pinned: frozenset[str]) -> Scene:
    """Return the layout with its screen at marks on the ruler, where that brings no fault."""
    faults = len(faults_of(measure(scene)))
    for made in on_marks(scene, pinned):
        if len(faults_of(measure(made))) <= faults:
            return made
    return scene


def _solution(scene: Scene) -> Solution:
    """Return a layout with its plan; of one with faults no remedies are tried: what has to give is."""
    plan = measure(scene)
    cost, faults = cost_of(plan)
    told = tuple(draft.settled(draft.remedy) for draft in found_in(plan)) if faults else ()
    return Solution(scene, replace(plan, findings=told) if faults else make_plan(scene), cost)


def _giving(scene: Scene, free: frozenset[str]) -> Scene | None:
    """Return a layout that is without faults once the wishes that are free give way; None if none is."""
    for wider in larger(scene, free):
        for calmer in with_less_sway(wider, free):
            search = _Search(calmer, with_followers(free))
            if (one := search.quick()) is not None:
                return with_most_sway(_on_marks(one, search.pinned), scene)
    return None


def let_go(scene: Scene, free: Iterable[str] = ()) -> list[tuple[tuple[str, ...], Scene]]:
    """Return what a scene may let go of for a layout without faults, the least first.

    What else it gives of the layout is looked for; and where that is the side on which the screen hangs,
    or not enough, wishes give way too: the ground under the feet, the figure's height, the viewer's sway, and
    last the box's size.

    Returns
    -------
    list of tuple
        At most two ways: the keys to set free, of `FREE`, with those that were, and the layout found.
    """
    asked, tried, found = frozenset(free), set[frozenset[str]](), list[Scene]()
    for steps in range(len(_LET_GO) + 1):
        wanted = asked.union(key for part in _LET_GO[:steps] for key in part if given(scene, key))
        if wanted in tried:
            continue
        tried.add(wanted)
        search = _Search(scene, with_followers(wanted))
        if (one := search.quick()) is not None:
            found.append(_on_marks(one, search.pinned))
            break
    if not found or found[0].screen.wall != scene.screen.wall:
        kept = asked.union(key for part in _LET_GO[:2] for key in part if given(scene, key))
        one = _giving(scene, kept.union(YIELDING))
        if one is None and not found:
            one = _giving(scene, kept | {"screen.wall", *YIELDING, *SIDES})
        found += [] if one is None else [one]
    return [(tuple(key for key in FREE if key in _changed(scene, one) | asked), one) for one in found]


def _changed(scene: Scene, found: Scene) -> frozenset[str]:
    """Return the keys in which a layout differs from what the scene gives or wishes."""
    return frozenset(
        key
        for key in FREE
        if (key in _WISHES or given(scene, key)) and value_at(scene, key) != value_at(found, key)
    )


def value_at(scene: Scene, key: str) -> Any:
    """Return what a scene gives for a key of `FREE`; lengths in mm, angles in degrees."""
    if key == "divider":
        return [(d.start, d.end) for d in scene.divider]
    if key == "doorways":
        return [d.doorways for d in scene.divider]
    table, name = key.split(".")
    return getattr(getattr(scene, table), name)


def with_followers(free: frozenset[str]) -> frozenset[str]:
    """Return the keys that are free, with those that change with them."""
    return free.union(*(_FOLLOW.get(key, ()) for key in free))


class _Search:
    """The trials made so far, with their scenes and costs."""

    def __init__(self, scene: Scene, free: frozenset[str]) -> None:
        self.scene = scene
        self.free = free
        self.pinned = frozenset(key for key in FREE if key not in free and given(scene, key))
        # a doorway or a divider is only looked for where that is asked for
        self.open = (set(FREE) - _ON_DEMAND - self.pinned) | free
        if self._is_placed():
            self.open -= {"screen.wall"} - free
        self.scenes: dict[Trial, Scene | None] = {}
        self.costs: dict[Trial, float] = {}
        self.faults: dict[Trial, int] = {}

    def _is_placed(self) -> bool:
        """Return whether the scene sets both screen and pane."""
        return self.pinned >= {"screen.centre", "pane.through"}

    def run(self, measured: int = _MEASURED, refined: int = _REFINED) -> list[Trial]:
        """Return the trials that could be planned, the best first; how many are planned, and bettered."""
        rough = {trial: self._rough(trial) for trial in self._grid()}
        ranked = sorted((t for t in rough if rough[t] < math.inf), key=lambda t: rough[t])
        for trial in _distinct(ranked, measured):
            self._judge(trial)
        for trial in _distinct(self._best(), refined):
            self._refine(trial)
        return self._best()

    def quick(self) -> Scene | None:
        """Return a layout without faults that changes least, if a short search finds one."""
        best = self.run(_MEASURED // 2, 0)
        if best and self.faults[best[0]] > 0:
            self._refine(best[0])
            best = self._best()
        clean = [s for t in best if self.faults[t] == 0 and (s := self.scenes[t])]
        return min(clean, key=lambda s: (len(_changed(self.scene, s)), -s.ghost.figure), default=None)

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
        shifts = np.linspace(-0.3, 0.3, 7) if self.scene.divider else np.linspace(-0.2, 0, 3)
        moves = [float(d) * deep for d in shifts] if "divider" in self.free else [0.0]
        for wall in walls:
            tops = (s.top,) if "screen.top" in self.pinned else TOPS[wall][::2]
            for top in tops:
                places = itertools.product(angles, depths, moves, self._throws(wall, top))
                for angle, depth, move, (out, aside) in places:
                    yield Trial(wall, top, out, angle, round(depth / _GRID_MM) * _GRID_MM, move, aside)

    def _throws(self, wall: Wall, top: Top) -> list[tuple[float, float]]:
        """Return how far the player is tried off its wall, with how far the ghost is off the middle.

        A short throw wants a small pane: the ghost goes to a screen on a side wall, and one on the ceiling
        comes down to the ghost, as far as the front hides it.
        """
        s, box, tall = self.scene.screen, self.scene.box, standing_side(wall, top)
        outs = [0.0] if "screen.centre" in self.pinned else list(_OUTS_MM)
        if wall in {"left", "right"}:
            reach = abs(s.centre[0]) if s.centre and outs == [0.0] else box.width / 2 - s.body[2]
            side = s.active[1 - tall]
        else:
            side, at = s.active[tall], self.scene.ghost.at
            reach = box.height - s.body[2] - (at[1] if at else self.scene.ghost.feet + side / 2)
        tried = (round((reach - throw * side) / _GRID_MM) * _GRID_MM for throw in _THROWS)
        shorter = [far for far in tried if far > 0]
        if wall == "ceiling" and "screen.centre" not in self.pinned:
            hidden = box.height - box.opening.sill - box.opening.height + _OUTS_MM[-1]
            outs += [far for far in shorter if far <= hidden]
        if wall in {"floor", "ceiling"} or "ghost.at" in self.pinned or self._is_placed():
            shorter = []
        return list(itertools.product(outs, [0.0, *shorter]))

    def _scene_of(self, trial: Trial) -> Scene | None:
        if trial not in self.scenes:
            made = scene_of(self.scene, trial, self.pinned, self.free)
            if made is not None and self.free.intersection(YIELDING):
                try:
                    made = on_its_ground(made, self.free)
                except InputError:
                    made = None
            self.scenes[trial] = made
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
                self.costs[trial], self.faults[trial] = cost_of(plan)
        return self.costs[trial]

    def _refine(self, trial: Trial) -> None:
        """Walk downhill from a trial with ever smaller steps."""
        depth, angle, out, aside = self.scene.box.depth / _DEPTHS / 2, 2.5, 2.0, _ASIDE_MM
        for _ in range(_ROUNDS):
            moves: list[Trial] = []
            if not self.pinned & {"pane.angle", "screen.swivel"}:
                moves += [replace(trial, angle_deg=trial.angle_deg + d) for d in (-angle, angle)]
            if "screen.centre" not in self.pinned:
                moves += [replace(trial, out_mm=max(trial.out_mm + d, 0.0)) for d in (-out, out)]
            if not self.pinned & {"screen.centre", "ghost.at", "pane.through"}:
                steps = (round(d / _GRID_MM) * _GRID_MM for d in (-depth, depth))
                moves += [replace(trial, depth_mm=trial.depth_mm + d) for d in steps]
            if trial.aside_mm > 0:
                asides = (round(d / _GRID_MM) * _GRID_MM for d in (-aside, aside))
                moves += [replace(trial, aside_mm=max(trial.aside_mm + d, 0.0)) for d in asides]
            if not moves:
                return
            better = min(moves, key=self._judge)
            if self._judge(better) < self.costs[trial]:
                trial = better
            else:
                depth, angle, out, aside = depth / 2, angle / 2, out / 2, aside / 2


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
        or abs(a.aside_mm - b.aside_mm) > _APART_MM
    )
