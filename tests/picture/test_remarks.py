"""What a builder is told about the backing and the figure, and from where on."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ghostprep.finding import Finding
from ghostprep.picture.key.backing import Backing
from ghostprep.picture.learn.plate_match import Match
from ghostprep.picture.learn.remarks import (
    on_backing,
    on_even,
    on_figure,
    on_found,
    on_given,
    on_glare,
    on_place,
    on_shake,
)

GREEN = Backing("green", "#28a046", 0.9, "an even green", 0.5)
NONE = np.zeros((1, 1, 3), np.float32)


def told(findings: list[Finding]) -> list[tuple[str, str]]:
    return [(finding.level, finding.subject) for finding in findings]


def share(part: float) -> np.ndarray:
    """A picture of 10 000 pixels of which a part is 0, the rest 1."""
    places = np.ones(10_000, np.float32)
    places[: round(part * 10_000)] = 0
    return places.reshape(100, 100)


@pytest.mark.parametrize(("confidence", "coverage"), [(1.1, 0.5), (-0.1, 0.5), (0.5, 1.1), (0.5, -0.1)])
def test_shares_lie_between_none_and_all(confidence: float, coverage: float) -> None:
    with pytest.raises(ValueError, match=r"must lie in 0\.\.1"):
        Backing("green", "#28a046", confidence, "an even green", coverage)


def test_nothing_is_said_of_a_sure_backing() -> None:
    assert on_backing(GREEN) == []
    assert on_backing(replace(GREEN, kind="black", confidence=0.61, coverage=0.031)) == []


@pytest.mark.parametrize(
    ("backing", "word"),
    [
        (replace(GREEN, confidence=0.59), "green was taken"),
        (replace(GREEN, kind="none", confidence=0.3), "nothing is keyed"),
        (replace(GREEN, coverage=0.029), "hardly anything of the green"),
        (replace(GREEN, kind="white"), "cannot be told from white"),
        (replace(GREEN, moving_camera=True), "the camera moves"),
    ],
)
def test_what_makes_a_backing_doubtful_is_said(backing: Backing, word: str) -> None:
    (finding,) = on_backing(backing)
    assert finding.level == "caution"
    assert word in finding.text


@pytest.mark.parametrize("kind", ["plate", "none"])
def test_a_plates_share_and_its_moves_are_told_elsewhere(kind: str) -> None:
    backing = replace(GREEN, kind=kind, coverage=0.0, moving_camera=True)  # type: ignore[arg-type]
    assert on_backing(backing) == []


@pytest.mark.parametrize(
    ("moves", "level"),
    [(0.0009, []), (0.0011, ["caution"]), (0.0024, ["caution"]), (0.0026, ["fault"])],
)
def test_a_shaken_camera_is_told(moves: float, level: list[str]) -> None:
    assert [finding.level for finding in on_shake(moves)] == level


def test_a_place_that_stays_hidden_a_guessed_plate_and_glare_are_told() -> None:
    assert on_place(0.24) == []
    assert told(on_place(0.26)) == [("fault", "plate")]
    assert on_found(share(0.029)) == []
    assert told(on_found(share(0.031))) == [("caution", "plate")]
    assert on_found(np.full((9, 9), 0.11, np.float32)) == []  # seen in one of ten glimpses
    assert told(on_found(np.full((9, 9), 0.09, np.float32))) == [("caution", "plate")]
    assert on_glare(0.014) == []
    assert told(on_glare(0.016)) == [("note", "glare")]


def test_a_given_plate_is_refused_where_most_of_it_is_another_place() -> None:
    as_taken = Match(NONE, 0.0, 1.0)
    assert on_given(as_taken, share(0.39)) == []
    (finding,) = on_given(as_taken, share(0.41))
    assert finding.level == "fault"
    assert "41%" in finding.text
    assert on_given(as_taken, np.full((9, 9), 0.11, np.float32)) == []


def test_what_was_evened_out_of_a_given_plate_is_told() -> None:
    (finding,) = on_given(Match(NONE, 0.02, 1.25), share(0))
    assert finding.level == "note"
    # the clip has 1.25 times the picture's light
    assert "2.0% of the picture's width and with 0.80 times the clip's light" in finding.text


@pytest.mark.parametrize(("bright", "told"), [(185, False), (190, True)])
def test_a_backing_lit_twice_as_much_in_places_is_uneven(bright: int, told: bool) -> None:
    """Codes 137 and 188 are a quarter and a half of white (IEC 61966-2-1: 0.2502 and 0.5029)."""
    plate = np.full((100, 100, 3), 137, np.float32)
    plate[:, :10] = bright
    assert bool(on_even(plate, None)) == told
    plate[:, :] = 137
    plate.reshape(-1, 3)[:150] = 255  # less than the fiftieth part is no place
    plate.reshape(-1, 3)[-150:] = 90
    assert on_even(plate, None) == []


def test_how_uneven_a_backing_is_and_that_darkness_has_no_ratio() -> None:
    plate = np.full((100, 100, 3), 137, np.float32)
    plate[:, :10] = 255
    (finding,) = on_even(plate, None)
    assert "4.0 times" in finding.text
    plate[:, 10:] = 15  # 0.48 % of white
    assert on_even(plate, None) == []


def figure(*codes: tuple[int, float]) -> tuple[list[np.ndarray], list[np.ndarray]]:
    """A grey figure of 1000 pixels, each code on its share of them, and its matte."""
    grey = np.concatenate([np.full(round(part * 1000), code, np.uint8) for code, part in codes])
    return [np.repeat(grey[:, None, None], 3, axis=2)], [np.full((len(grey), 1), 255, np.uint8)]


@pytest.mark.parametrize(
    ("code", "level"),
    # IEC 61966-2-1: codes 25 and 26 are 0.97 % and 1.03 % of white, 56 and 57 are 3.96 % and 4.09 %
    [(25, ["fault"]), (26, ["caution"]), (56, ["caution"]), (57, [])],
)
def test_less_than_a_hundredth_of_white_is_nothing_on_the_pane(code: int, level: list[str]) -> None:
    assert [finding.level for finding in on_figure(*figure((code, 1.0)))] == level
    # its brighter parts are the tenth part of it
    assert [finding.level for finding in on_figure(*figure((8, 0.28), (code, 0.6), (255, 0.09)))] == level
    assert [finding.level for finding in on_figure(*figure((200, 0.12), (code, 0.88)))] != ["caution"]


def test_dark_parts_are_told_from_a_third_of_the_figure_on() -> None:
    assert on_figure(*figure((25, 0.29), (200, 0.71))) == []
    (finding,) = on_figure(*figure((25, 0.31), (200, 0.69)))
    assert (finding.level, finding.text[:3]) == ("note", "31%")
    assert on_figure(*figure((26, 0.31), (200, 0.69))) == []


def test_only_what_is_solid_counts_as_the_figure() -> None:
    frames, mattes = figure((200, 1.0))
    assert on_figure(frames, mattes) == []
    assert on_figure(frames, [np.full_like(mattes[0], 201)]) == []
    for left in (mattes[0][:0], np.full_like(mattes[0], 200)):
        (finding,) = on_figure([frames[0][: len(left)]], [left])
        assert "nothing solid is left" in finding.text
    assert told(on_figure([], [])) == [("fault", "figure")]
    # fifty pixels over all pictures are a figure
    few = [frames[0][:25]] * 2, [mattes[0][:25]] * 2
    assert on_figure(*few) == []
    assert on_figure([few[0][0], frames[0][:24]], [few[1][0], mattes[0][:24]]) != []
