"""Where a figure is, to a fraction of a pixel, and what is said of it; closed forms throughout."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from types import MethodType, SimpleNamespace
from typing import Any

import numpy as np
import pytest

from ghostprep.box import Box
from ghostprep.clip import FrameStore
from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.loop import LoopCandidate
from ghostprep.picture import Backing, Keyed
from ghostprep.picture.place import Orientation, Placement
from ghostprep.picture.tone import MAX_GAIN
from ghostprep.prepare.choose import drift_of, picked
from ghostprep.prepare.figure import FigureExtent, Measures, measured, whole_picture
from ghostprep.prepare.fit import Fit, tone_for
from ghostprep.prepare.recipe import Recipe
from ghostprep.prepare.remarks import figure_findings, fit_findings
from ghostprep.prepare.render import Stretch, _told_from_backing, calmed, enlarged
from ghostprep.prepare.repeats import dark_between
from ghostprep.prepare.survey import Survey
from ghostprep.proof.flash import FlashProof


def keyed(matte: np.ndarray, light: int = 200) -> Keyed:
    """A figure of one grey within a matte, 257 to a code."""
    figure = np.repeat((matte > 0)[..., None] * np.uint16(light * 257), 3, axis=2)
    return Keyed(figure.astype(np.uint16), matte)


def ramp(*row: int) -> np.ndarray:
    """A matte of 12 rows, 3 to 8 of them covered, whose columns cover so much."""
    matte = np.zeros((12, len(row)), np.uint8)
    matte[3:9] = row
    return matte


@pytest.mark.parametrize(
    ("row", "left", "right"),
    [
        # whole pixels from 2 to 5: their edges, where coverage falls from 255 to 0 half a pixel out
        ((0, 0, 255, 255, 255, 0, 0), 2.5 - 127 / 255, 4.5 + 127 / 255),
        # a pixel covered by half and a code: the edge runs through its middle
        ((0, 0, 128, 255, 128, 0, 0), 2.5, 4.5),
        # the level of 128 lies 30 of 60 codes from 158 down to 98
        ((0, 98, 158, 255, 158, 98, 0), 2.5 - 0.5, 4.5 + 0.5),
        # at the picture's border the pixel is whole
        ((255, 255, 0, 0, 0, 255, 255), 0, 7),
    ],
)
def test_edges_lie_where_coverage_crosses_a_half(row: tuple[int, ...], left: float, right: float) -> None:
    found = measured(keyed(ramp(*row), light=0), (7, 12))
    assert found[4:8] == pytest.approx([left, 3.5 - 127 / (max(row)), right, 8.5 + 127 / max(row)], abs=1e-5)
    # of a source three times as wide and twice as high
    larger = measured(keyed(ramp(*row), light=0), (21, 24))
    assert larger[4:8] == pytest.approx(found[4:8] * [3, 2, 3, 2], abs=1e-5)


def test_light_without_coverage_is_reached_but_is_not_solid() -> None:
    matte = ramp(0, 0, 0, 0, 255, 255, 0, 0)
    figure = np.zeros((12, 8, 3), np.uint16)
    figure[5, 1] = (0, 16 * 257, 0)
    found = measured(Keyed(figure, matte), (8, 12))
    assert found[0] == pytest.approx(1.5, abs=0.51)
    assert found[4] == pytest.approx(4, abs=0.01)
    figure[5, 1] = (0, 15 * 257, 0)
    assert measured(Keyed(figure, matte), (8, 12))[0] > 3


@pytest.mark.parametrize(("lamp", "left"), [(110, 4), (150, 10)])
def test_what_is_lit_faintly_is_reached_where_a_dim_figure_is_made_brighter(lamp: int, left: int) -> None:
    """A lamp beside a coat of 6 codes on black: four times as light the coat is seen, else it is not."""
    matte = np.zeros((24, 32), np.uint8)
    figure = np.zeros((24, 32, 3), np.uint16)
    figure[4:20, 4:10] = 6 * 257
    matte[10:14, 10:14] = 255
    figure[10:14, 10:14] = lamp * 257
    figure[1, 30] = 12 * 257  # noise
    row = measured(Keyed(figure, matte), (32, 24), on_black=True)
    body = Measures.of([row]).body((32, 24))
    assert body is not None
    assert body.reach.x == pytest.approx(left, abs=1)
    assert body.reach.right == pytest.approx(15, abs=1)  # the lamp, and not the noise at 30
    plain = Measures.of([measured(Keyed(figure, matte), (32, 24))]).body((32, 24))
    assert plain is not None
    assert plain.reach.x == pytest.approx(10, abs=1)


@pytest.mark.parametrize("dusk", [0, 20, 90, 200, 255])
def test_a_backing_that_has_gone_dark_is_no_figure(dusk: int) -> None:
    """In a fade the backing is covered by black, more or less; what is lit tells where the figure is."""
    matte = np.full((12, 16), dusk, np.uint8)
    matte[3:9, 5:11] = 255
    figure = np.zeros((12, 16, 3), np.uint16)
    figure[3:9, 5:11] = 40 * 257
    found = measured(Keyed(figure, matte), (16, 12))
    assert found[:4] == pytest.approx([5, 3, 11, 9], abs=0.5)
    assert found[4:8] == pytest.approx([5, 3, 11, 9], abs=0.5)
    # with the light out altogether there is none
    if dusk == 255:
        assert np.isnan(measured(Keyed(figure // 8, matte), (16, 12))[:8]).all()


@pytest.mark.parametrize(("area", "top"), [(3, 4), (4, 0)])
def test_a_speck_at_the_pictures_edge_is_no_figure_that_leaves_it(area: int, top: int) -> None:
    matte = np.zeros((12, 16), np.uint8)
    matte[4:9, 5:11] = 255
    matte[0, 12 : 12 + area] = 255
    assert measured(keyed(matte), (16, 12))[1] == pytest.approx(top, abs=0.5)
    # inside the picture it may be a spark
    assert measured(keyed(np.roll(matte, 1, axis=0)), (16, 12))[1] == pytest.approx(1, abs=0.5)


def test_a_black_coat_is_the_figure_though_it_gives_no_light() -> None:
    matte = ramp(0, 0, 255, 255, 255, 0, 0)
    assert measured(keyed(matte, light=3), (7, 12))[:4] == pytest.approx([2, 3, 5, 9], abs=0.5)


def test_the_bright_part_is_what_a_hundredth_of_the_solid_figure_outshines() -> None:
    matte = np.full((10, 40), 255, np.uint8)
    figure = np.full((10, 40, 3), 100 * 257, np.uint16)
    for bright, code in ((4, 100), (5, 240)):
        figure.reshape(-1, 3)[:bright] = (30 * 257, 240 * 257, 9 * 257)
        assert measured(Keyed(figure, matte), (40, 10))[8] == pytest.approx(code / 255)
    thin = np.full_like(matte, 127)
    assert measured(Keyed(figure, thin), (40, 10))[8] == 0
    thin[0, 0] = 128
    assert measured(Keyed(figure, thin), (40, 10))[8] == pytest.approx(240 / 255)


def test_a_body_stands_on_its_lowest_feet_and_has_its_usual_height() -> None:
    """Of 21 frames with feet from 100 to 120: nineteen of twenty stand at 119 or above."""
    none = np.full(13, np.nan, np.float32)
    none[8] = 0
    rows = [none] * 3
    for n in range(21):
        reach = 9.5, 4.2, 41.1, 121.7
        rows.append(np.array([*reach, 10, 20, 40 + 2 * n, 100 + n, 0.5, *reach], np.float32))
    seen = Measures.of(rows)
    body = seen.body((50, 125))
    assert body == FigureExtent(Box(9, 4, 33, 118), 90.0, (pytest.approx(35.0), pytest.approx(119.0)))
    assert seen.at(np.array([0, 1, 2])).body((50, 125)) is None
    assert seen.at(np.array([0, 23])).body((50, 125)) == FigureExtent(
        Box(9, 4, 33, 118), 100.0, (45.0, 120.0)
    )
    assert whole_picture((64, 48)) == FigureExtent(Box(0, 0, 64, 48), 48.0, (32.0, 48.0))


LOOPS = [LoopCandidate(10 * n, 10 * n + 60, 0, "cut", score=0.5) for n in range(3)]


def survey(source: Sequence[int]) -> Any:
    """Return what `picked` asks of a survey: the clip's frame at each tick."""
    seen = SimpleNamespace(fetch=None, source=np.array(source), times=range(source[-1] + 2))
    seen.ticks = MethodType(Survey.ticks, seen)
    return seen


def test_a_loop_is_picked_by_its_letter_or_its_frames() -> None:
    seen = survey(range(100))
    assert picked("best", LOOPS, seen) == LOOPS[0]
    assert picked("best", [], seen) is None
    assert [picked(letter, LOOPS, seen) for letter in "AbC"] == LOOPS
    asked = LoopCandidate(7, 99, 0, "cut", score=float("inf"))
    assert picked("7-99", LOOPS, seen) == asked
    for wrong, loops, offered in (("D", LOOPS, "A, B, C"), ("a", [], "none found"), ("AB", LOOPS, "A, B, C")):
        with pytest.raises(InputError, match=f"is no loop of this clip; use best, one of {offered}, or"):
            picked(wrong, loops, seen)


def test_frames_are_named_as_the_clip_counts_them() -> None:
    """From 3 s on, every second frame of 60 a second; and a slow clip, each frame of which shows twice."""
    fewer, twice = survey(range(180, 240, 2)), survey([n // 2 for n in range(40)])
    for seen, name, ticks in ((fewer, "190-239", (5, 29)), (twice, "3-9", (6, 19))):
        one = picked(name, [], seen)
        assert one is not None
        assert (one.first, one.last) == ticks
    for wrong in ("100-200", "190-240", "200-190", "190-193", "0-9"):
        with pytest.raises(
            InputError, match=f"frames {wrong.replace('-', ' to ')} are no loop.* within 180 to 239"
        ):
            picked(wrong, [], fewer)


def test_a_still_drifts_by_a_fiftieth_of_the_figures_height_unless_told() -> None:
    assert drift_of(Recipe()) == pytest.approx(0.02)
    assert drift_of(Recipe(drift=0.0)) == 0
    assert drift_of(Recipe(drift=5.0)) == pytest.approx(0.05)


def seen_as(code: int, *findings: Finding, kind: str = "green", damage: str | None = None) -> Any:
    bright = np.array([0, code / 255, code / 255], np.float32)
    key = SimpleNamespace(backing=Backing(kind, None, 1.0, ""), remarks=findings)
    return SimpleNamespace(
        damage=damage,
        times=(0,) * 7,
        key=key,
        facts=SimpleNamespace(size=(100, 80)),
        figure=SimpleNamespace(bright=bright),
    )


BODY = FigureExtent(Box(10, 10, 60, 60), 60.0, (40.0, 70.0))


@pytest.mark.parametrize(
    ("code", "level"),
    # IEC 61966-2-1: codes 25 and 26 are 0.97 % and 1.03 % of white, 56 and 57 are 3.96 % and 4.09 %
    [(25, ["fault"]), (26, ["caution"]), (56, ["caution"]), (57, [])],
)
def test_a_dark_figure_is_told_once(code: int, level: list[str]) -> None:
    assert [finding.level for finding in figure_findings(seen_as(code), BODY)] == level
    key_says = Finding("caution", "brightness", "it is dark")
    assert figure_findings(seen_as(code, key_says), BODY) == []
    note = Finding("note", "brightness", "dark in places")
    assert [finding.level for finding in figure_findings(seen_as(code, note), BODY)] == level


def test_what_is_left_of_a_clip_and_where_it_touches_the_picture_is_told() -> None:
    (gone,) = figure_findings(seen_as(200), None)
    assert (gone.level, gone.subject) == ("fault", "figure")
    assert figure_findings(seen_as(200, kind="none"), None) == []
    (damaged,) = figure_findings(seen_as(200, damage="cut short"), BODY)
    assert damaged.text == "it is damaged, 7 frames could be used: cut short"
    for box, sides in (
        (Box(0, 10, 60, 60), "(left)"),
        (Box(41, 10, 59, 60), "(right)"),
        (Box(1, 0, 98, 80), "(top, bottom)"),
    ):
        body = FigureExtent(box, 60.0, (40.0, 70.0))
        (touches,) = figure_findings(seen_as(200), body)
        assert sides in touches.text
        assert figure_findings(seen_as(200), body, all_the_time=False) == []
        assert figure_findings(seen_as(200, kind="none"), body) == []
    assert figure_findings(seen_as(200), FigureExtent(Box(1, 1, 98, 78), 60.0, (40.0, 70.0))) == []


def fit(scale: float, tall: float) -> Fit:
    return Fit(Box(0, 0, 90, 90), (90, 90), Placement((90, 90), Orientation(False, 0)), scale, tall)


def test_a_small_and_an_enlarged_figure_are_told() -> None:
    assert fit_findings(fit(1.6, 60), keyed=True) == []
    assert fit_findings(fit(1.6, 59.6), keyed=True) == []  # it is told as 60 px
    assert [f.level for f in fit_findings(fit(1.6, 59.4), keyed=True)] == ["caution"]
    assert fit_findings(fit(1.6, 59.4), keyed=False) == []
    assert [f.level for f in fit_findings(fit(1.61, 60), keyed=True)] == ["note"]


@pytest.mark.parametrize(("bright", "gain"), [(0.9, 1), (0.3, 3), (0.01, MAX_GAIN), (0.0, 1)])
def test_a_figure_is_brightened_to_nine_tenths_of_white(bright: float, gain: float) -> None:
    assert tone_for(fit(1, 60), BODY, bright, gain="auto", edge=0, tint=None).gain == pytest.approx(gain)
    assert tone_for(fit(1, 60), BODY, bright, gain=1.5, edge=0, tint=None).gain == 1.5


def player(blank_s: float) -> Any:
    return SimpleNamespace(profile=SimpleNamespace(blank_s=blank_s, name="a player"))


def test_a_player_that_goes_dark_at_each_start_is_told_where_it_shows() -> None:
    reel: Any = SimpleNamespace(frames=range(75), rate=Fraction(25))
    (told,) = dark_between(reel, player(0.5), Recipe())
    assert "dark for up to 0.5 s" in told.text
    assert "every 3" in told.text
    assert dark_between(reel, player(0), Recipe()) == []
    assert dark_between(reel, player(0.5), Recipe(repeat_for=Fraction(600))) == []
    assert dark_between(reel, player(0.5), Recipe(join="fades")) == []


def test_half_covered_pixels_have_a_code_of_light_at_least() -> None:
    matte = np.array([[0, 127, 128, 255]], np.uint8)
    figure = np.zeros((1, 4, 3), np.uint16)
    figure[0, 3] = (0, 3 * 257, 900)
    told = _told_from_backing(Keyed(figure, matte))
    assert told[0].tolist() == [[0, 0, 0], [0, 0, 0], [257] * 3, [257, 771, 900]]


def test_a_figure_that_is_enlarged_keeps_its_black_and_its_one_code() -> None:
    """A cubic dips below its neighbours beside bright light, here below one code."""
    figure = np.full((4, 8, 3), 257, np.uint16)
    figure[:, 4:] = 60_000
    shown = enlarged(figure, (24, 12))
    assert shown.shape == (12, 24, 3)
    assert shown[:, :12].min() == 257
    assert shown[:, -4:].min() >= 60_000
    assert enlarged(figure, (8, 4)) is figure
    with FrameStore((8, 4), 6) as store:
        store.append((figure // 257).view(np.uint8))
        store.append(figure.view(np.uint8))
        stretch = Stretch(store, {3: 0, 5: 1}, np.array([3, 5, 5]))
        np.testing.assert_array_equal(stretch(0), figure // 257)
        np.testing.assert_array_equal(stretch(2), figure)


@pytest.mark.parametrize(("period", "passes"), [(1, False), (50, True)])
def test_only_what_flashes_is_calmed(period: int, passes: bool) -> None:
    """Half the picture, from black to white and back, at 25 a second."""
    figures = [np.zeros((48, 64, 3), np.uint16) for _ in range(100)]
    for n, figure in enumerate(figures):
        figure[:, :40] = 65535 * (n // period % 2)
    flash, again = (FlashProof((64, 48), Fraction(25)) for _ in range(2))
    after = list(calmed(iter(figures), (64, 48), flash, Fraction(25)))
    assert flash.passed() is passes
    assert len(after) == 100
    assert all(np.array_equal(*pair) for pair in zip(figures, after, strict=True)) is passes
    for figure in after:
        again.add(figure)
    assert again.passed()
