"""The moves that findings on bodies offer: just far enough, the shortest first, said as they are."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from ghostprep.optics.advice.bodies import _doorway_offers, _less_of, _out_of_light, _reach
from ghostprep.optics.advice.moves import moves
from ghostprep.optics.collisions import Collision
from ghostprep.optics.planning import measure
from ghostprep.scene import Scene
from ghostprep.scene.furniture import Mirror

from .boxes import mirror_box

STEP = {
    "to the left": (-1, 0, 0),
    "to the right": (1, 0, 0),
    "deeper": (0, 0, 1),
    "nearer to the opening": (0, 0, -1),
    "down": (0, -1, 0),
    "up": (0, 1, 0),
}


def told(offers, plan):
    """Each offer's amount and direction, as its words say, and how far it moves the thing in truth."""
    found = []
    for offer in offers:
        words = offer.said(plan)
        amount, way = re.search(r"([\d.]+) mm (.*)$", words).groups()
        found.append((float(amount), STEP[way], offer.scene, words))
    return found


def place_of(scene: Scene, name: str):
    return np.array(next(t.at for t in scene.thing if t.name == name))


def crates(*, gap_x: float, second=(30, 30, 30)):
    things = [
        {"name": "crate", "at": [50, 0, 200], "size": [30, 30, 30]},
        {"name": "counter", "at": [50 - gap_x, 0, 205], "size": list(second)},
    ]
    return measure(mirror_box(thing=things))


def test_two_crates_are_moved_apart_by_their_overlap_and_a_millimetre():
    """30 mm wide and 10 mm apart they overlap 20 mm across and 25 mm deep; over it, it is 30 mm high."""
    plan = crates(gap_x=10)
    offers = told(moves(plan, "counter", "crate"), plan)
    assert [(amount, way) for amount, way, *_ in offers] == [
        (21, (-1, 0, 0)),
        (26, (0, 0, 1)),
        (31, (0, -1, 0)),
    ]
    for amount, way, scene, words in offers:
        assert words.startswith("move the counter ")
        assert place_of(scene, "counter") - place_of(plan.scene, "counter") == pytest.approx(
            amount * np.array(way)
        )
        assert measure(scene).as_dict()["collisions"] == []


def test_no_move_is_farther_than_six_centimetres():
    plan = crates(gap_x=10, second=(30, 70, 100))
    # across 21 mm; deep it would be 10 + 50 + 15 = 60 and one more, up 70
    offers = [offer[:2] for offer in told(moves(plan, "crate", "counter"), plan)]
    assert offers[0] == (21, (1, 0, 0))
    assert all(amount <= 61 for amount, _ in offers)


@pytest.mark.parametrize("at", [(0.0, 0.0, 60.0), (-10.0, 20.0, 80.0), (10.0, 0.0, 90.0)])
def test_what_stands_in_the_light_is_moved_just_out_of_it(at):
    """A move told leaves the light free; two millimetres less do not."""
    plan = measure(mirror_box(thing=[{"name": "post", "at": at, "size": [6, 70, 6]}]))
    blocked = [b for b in plan.sight.blocked if b.name == "post"]
    assert blocked
    offers = told(_out_of_light(plan, blocked[0]), plan)
    assert 1 <= len(offers) <= 3
    assert [amount for amount, *_ in offers] == sorted(amount for amount, *_ in offers)
    for _, way, scene, words in offers:
        assert words.startswith("move the post ")
        step = place_of(scene, "post") - np.array(at)
        far = float(step @ np.array(way))
        assert far == pytest.approx(np.linalg.norm(step))
        assert not [b for b in measure(scene).sight.blocked if b.name == "post"]
        short = [{"name": "post", "at": (at + (far - 2) * np.array(way)).tolist(), "size": [6, 70, 6]}]
        assert [b for b in measure(mirror_box(thing=short)).sight.blocked if b.name == "post"]


@pytest.mark.parametrize(
    "doors",
    [
        [],
        [{"at": 75, "width": 20, "height": 60}],
        [{"at": 20, "width": 10, "height": 60}, {"at": 60, "width": 40, "height": 125, "sill": 3}],
    ],
)
def test_a_doorway_is_offered_that_lets_all_of_the_light_through(doors):
    def box(doorways):
        return mirror_box(divider=[{"from": [-75, 60], "to": [75, 60], "thickness": 2, "doorways": doorways}])

    plan = measure(box(doors))
    assert "divider 1" in {blocked.name for blocked in plan.sight.blocked}
    (offer,) = _doorway_offers(plan, 1)
    made = offer.scene.divider[0].doorways
    assert len(made) == max(len(doors), 1)
    assert "divider 1" not in {blocked.name for blocked in measure(offer.scene).sight.blocked}
    door = made[-1]
    # what was open stays open
    if doors:
        old = doors[-1]
        assert door.at - door.width / 2 <= old["at"] - old["width"] / 2 + 1e-9
        assert door.at + door.width / 2 >= old["at"] + old["width"] / 2 - 1e-9
        assert door.sill <= old.get("sill", 0)
        assert door.sill + door.height >= old.get("sill", 0) + old["height"] - 1e-9
    else:
        # on each side a millimetre to spare, and no more: 2 mm narrower it cuts the light
        narrow = {"at": door.at, "width": door.width - 3, "height": door.height, "sill": door.sill}
        low = {"at": door.at, "width": door.width, "height": door.height - 2, "sill": door.sill}
        for less in (narrow, low):
            assert "divider 1" in {blocked.name for blocked in measure(box([less])).sight.blocked}
    words = offer.said(plan)
    assert words.startswith("enlarge divider 1's doorway" if doors else "cut a doorway")
    assert f"its middle at {door.at:.1f}".rstrip("0").rstrip(".") in words


@pytest.mark.parametrize("name", ["counter 2", "divider shelf", "crate"])
def test_a_thing_in_the_light_is_moved_whatever_it_is_called(name):
    plan = measure(mirror_box(thing=[{"name": name, "at": [0, 0, 60], "size": [20, 90, 10]}]))
    (blocked,) = (one for one in plan.sight.blocked if one.name == name)
    offers = list(_out_of_light(plan, blocked))
    assert offers
    for offer in offers:
        assert offer.said(plan).startswith(f"move the {name} ")
        assert name not in {one.name for one in measure(offer.scene).sight.blocked}


def test_no_doorway_is_offered_that_the_divider_cannot_hold():
    low = {"from": [-75, 60], "to": [75, 60], "thickness": 2, "height": 60}
    assert list(_doorway_offers(measure(mirror_box(divider=[low])), 1)) == []
    short = {"from": [-75, 60], "to": [10, 60], "thickness": 2}
    assert list(_doorway_offers(measure(mirror_box(divider=[short])), 1)) == []


@pytest.mark.parametrize(
    ("face", "way"),
    [
        ("left wall", (1, 0, 0)),
        ("right wall", (-1, 0, 0)),
        ("floor", (0, 1, 0)),
        ("ceiling", (0, -1, 0)),
        ("opening", (0, 0, 1)),
        ("back wall", (0, 0, -1)),
    ],
)
@pytest.mark.parametrize("name", ["crate", "player"])
def test_what_reaches_through_a_wall_is_moved_back_from_it(face, way, name):
    plan = measure(mirror_box(thing=[{"name": "crate", "at": [40, 10, 200], "size": [10, 10, 10]}]))
    draft = _reach(plan, Collision(name, face, 7.5))
    assert "7.5 mm" in draft.text
    if name == "player" and face != "opening":
        # a wall can be cut out as well
        assert list(draft.offers) == []
        assert draft.remedy == f"cut the {face} out there, or move the screen 8 mm away from it"
        assert ("1.5 mm out of it" in draft.text) is (plan.scene.box.wall == 6)
        return
    ((amount, told_way, scene, words),) = told(draft.offers, plan)
    assert (amount, told_way) == (8, way)
    what = "screen with its player" if name == "player" else "crate"
    assert words.startswith(f"move the {what} ")
    before, after = (
        (place_of(s, "crate") if name == "crate" else np.array(s.screen.centre)) for s in (plan.scene, scene)
    )
    # what is tried is what is told: the next whole millimetre
    assert after - before == pytest.approx(8 * np.array(way))


@pytest.mark.parametrize("first", [0, 1])
def test_doorways_that_both_lie_in_the_light_become_one(first):
    def box(doorways):
        return mirror_box(divider=[{"from": [-75, 60], "to": [75, 60], "thickness": 2, "doorways": doorways}])

    (whole,) = _doorway_offers(measure(box([])), 1)
    need = whole.scene.divider[0].doorways[0]
    inside = {"at": need.at + 4, "width": 10, "height": 50}
    across = {"at": need.at - need.width / 2 - 2, "width": 8, "height": 50}
    apart = {"at": 5, "width": 6, "height": 50}
    doors = [inside, across][:: 1 - 2 * first]
    (offer,) = _doorway_offers(measure(box([*doors, apart])), 1)
    kept, made = offer.scene.divider[0].doorways
    assert kept.at == 5
    assert made.width == pytest.approx(need.width + 6, abs=1)
    assert made.at - made.width / 2 <= across["at"] - 4 + 0.5
    assert "doorways of divider 1 at" in offer.text


def test_a_mirror_is_shortened_by_where_the_screen_shows_in_it_and_a_little() -> None:
    """An eighth of what is seen, and two millimetres; what is left of less than ten is none."""
    wall = Mirror.model_validate({"from": (0, 100), "to": (200, 100), "sill": 5, "height": 90})
    plan = measure(mirror_box())
    plan = replace(plan, scene=plan.scene.model_copy(update={"mirror": (wall,)}))

    def shortened(left: float, right: float, low: float, high: float):
        places = np.array([(left, low, 100.0), (right, high, 100.0)])
        made = [o.scene.mirror[0] for o in _less_of(plan, SimpleNamespace(mirror="mirror 1", places=places))]
        before = wall.model_dump()
        return [{k: v for k, v in one.model_dump().items() if v != before[k]} for one in made]

    aside, above = 80 / 8 + 2, 36 / 8 + 2
    assert shortened(100, 180, 30, 66) == [
        {"end": (pytest.approx(100 - aside), 100)},
        # to whole millimetres within what is left
        {"sill": math.ceil(66 + above), "height": math.floor(95 - math.ceil(66 + above))},
        {"height": math.floor(30 - above - 5)},
    ]  # to the right there are eight millimetres
