"""What is said for and against each layout follows from its own figures beside the others'."""

from __future__ import annotations

from types import SimpleNamespace as Some

from ghostprep.optics.baffle import Baffle
from ghostprep.optics.compare import trade_offs
from ghostprep.optics.edges import Trim


def plan(
    *,
    cut=(100.0, 80.0),
    baffle=None,
    board=None,
    contrast=5.0,
    behind=-40.0,
    room=10.0,
    ways=(True,),
    **sight,
):
    if baffle is not None:
        board = Baffle("left", 50.0, 3.0, baffle, 10.0, 60.0, 1.0)
    seen = {"seen_from_everywhere": True, "trims": dict, "patches": ()} | sight
    return Some(
        scene=Some(box=Some(opening=Some(width=100.0, height=100.0, sill=0.0))),
        pane=Some(cut=cut),
        light=Some(contrast=contrast),
        room=Some(body_to_pane_mm=room, ways_out=tuple(Some(clear=way) for way in ways)),
        reaches=seen.pop("reaches", ()),
        sight=Some(baffle=board, behind_back_mm=behind, **seen),
    )


def test_each_measure_is_told_for_its_best_and_against_its_worst():
    small = plan(cut=(90, 80), contrast=4.0, behind=-60.0, room=20.0)
    large = plan(cut=(120, 80), baffle=20.0, contrast=8.0, behind=-30.0, room=5.0, ways=(False, False))
    middle = plan(cut=(100, 80), baffle=10.0, contrast=6.0, behind=-45.0, room=10.0)
    reasons = trade_offs([small, large, middle])
    assert reasons["for it"] == [
        [
            "smallest pane",
            "smallest baffle",
            "most scenery behind the ghost",
            "most room at the player",
            "player can be drawn out",
        ],
        ["brightest"],
        ["player can be drawn out"],
    ]
    assert reasons["against it"] == [
        ["faintest"],
        [
            "largest pane",
            "largest baffle",
            "least scenery behind the ghost",
            "least room at the player",
            "player is shut in",
        ],
        [],
    ]


def test_what_is_alike_within_three_per_cent_is_no_reason():
    assert trade_offs([plan(contrast=5.0), plan(contrast=5.14)]) == {
        "for it": [[], []],
        "against it": [[], []],
    }
    assert trade_offs([plan(contrast=5.0), plan(contrast=5.2)])["for it"] == [[], ["brightest"]]


def test_what_is_wrong_with_one_is_told_of_it_alone():
    shut = plan(
        seen_from_everywhere=False,
        trims=lambda: [Trim("left", 11.0, True), Trim("top", 9.0, True), Trim("right", 3.0, True, 40.0)],
        patches=(Some(surface="floor"), Some(surface="opening")),
        reaches=(Some(first="pane"), Some(first="player")),
    )
    assert trade_offs([shut, plan(patches=(Some(surface="floor"),))])["against it"] == [
        [
            "cut off from the outermost eyes",
            "the player's body reaches into a wall",
            "a trim at the left that shuts 11 % of the opening",
            "a trim at the top",
            "a post at the right",
            "mirrors the room before the box",
        ],
        [],
    ]


def test_of_two_baffles_the_smaller_is_that_of_less_board():
    """20 x 50 mm and 18 x 60 mm, wherever they begin."""
    short = plan(board=Baffle("left", 50.0, 3.0, 20.0, 100.0, 150.0, 1.0))
    tall = plan(board=Baffle("left", 50.0, 3.0, 18.0, 10.0, 70.0, 1.0))
    assert trade_offs([short, tall])["for it"] == [["smallest baffle"], []]
