"""A figure that is not on the screen all the time, or not whole."""

import re
from pathlib import Path

import numpy as np
import pytest

from ghostprep.box import Box
from ghostprep.errors import InputError
from ghostprep.prepare.appear import make_appearances
from ghostprep.prepare.batch import make_all
from ghostprep.prepare.make import make
from ghostprep.prepare.presence import Presence, presence_findings, presence_of
from ghostprep.prepare.recipe import Recipe

SOURCE = (640, 480)


def walking(begin: float, end: float, count: int, *, in_sight: bool = True) -> np.ndarray:
    """The box of a figure 60 wide that walks across; beyond the clip's border it is not seen."""
    left = np.linspace(begin, end, count)
    reach = np.stack([left, np.full(count, 100.0), left + 60, np.full(count, 400.0)], axis=1)
    if in_sight:
        reach[(reach[:, 2] <= 0) | (reach[:, 0] >= SOURCE[0])] = np.nan
        reach[:, [0, 2]] = np.clip(reach[:, [0, 2]], 0, SOURCE[0])
    return reach.astype(np.float32)


def test_a_figure_that_stays_is_no_finding() -> None:
    found = presence_of(walking(100, 400, 50), Box(60, 60, 480, 380), SOURCE)
    assert found == Presence(50, 50, 0, (), (), screen=False)
    assert presence_findings(found, remedy="") == []


def test_a_figure_that_leaves_the_raster() -> None:
    found = presence_of(walking(-60 + 1, 1430, 180), Box(0, 85, 150, 330), SOURCE)  # 15 px above and below it
    assert 24 <= found.seen <= 26
    assert found.screen
    assert found.comes == ("left", "right")
    finding = presence_findings(found, remedy="move the ghost")[0]
    assert f"seen in {found.seen} of 180 frames" in finding.text
    assert "screen's left and right edges" in finding.text
    assert "move the ghost" in finding.remedy


def test_a_figure_that_walks_out_of_the_clips_own_picture() -> None:
    found = presence_of(walking(300, 900, 100), Box(0, 0, *SOURCE), SOURCE)
    assert (found.comes, found.screen) == (("right",), False)
    assert 55 <= found.seen <= 58  # its left edge passes x = 640 in frame 57
    assert "picture's right edge" in presence_findings(found, remedy="")[0].text


def test_a_figure_that_fades_away_is_no_finding() -> None:
    reach = walking(300, 310, 60)
    reach[40:] = np.nan
    found = presence_of(reach, Box(200, 50, 300, 400), SOURCE)
    assert (found.seen, found.comes) == (40, ())
    assert presence_findings(found, remedy="") == []


def test_a_figure_whose_feet_are_cut_off() -> None:
    found = presence_of(walking(300, 310, 60), Box(200, 50, 300, 300), SOURCE)
    assert (found.cut, found.sides) == (60, ("bottom",))
    assert "in 60 of 60 frames" in presence_findings(found, remedy="")[0].text


def test_a_figure_that_is_never_on_the_screen_is_a_fault() -> None:
    found = presence_of(walking(300, 310, 60), Box(0, 50, 100, 300), SOURCE)
    assert [f.level for f in presence_findings(found, remedy="")] == ["fault"]


def test_a_part_without_the_figure_is_refused(green_clip: Path, tmp_path: Path) -> None:
    out = tmp_path / "nothing.mp4"
    with pytest.raises(InputError, match=r"8x8\+0\+0 holds nothing of the figure; the figure lies in"):
        make(green_clip, out, Recipe(crop=Box(0, 0, 8, 8), join="none"))
    assert not out.exists()


@pytest.mark.parametrize("crop", [Box(200, 0, 200, 100), Box(0, 0, 8, 4000), Box(5000, 0, 8, 8)])
def test_a_crop_that_reaches_past_the_clip_is_refused(green_clip: Path, tmp_path: Path, crop: Box) -> None:
    out = tmp_path / "loop.mp4"
    with pytest.raises(InputError, match=r"--crop: .* reaches past the clip, which is 320x240"):
        make(green_clip, out, Recipe(crop=crop, join="none"))
    told = make_all([green_clip], tmp_path, Recipe(crop=crop, join="none"))[0].error
    assert told is not None
    assert str(told).startswith(f"{green_clip}: --crop: ")
    again = Recipe(crop=crop, repeat_for=60)
    with pytest.raises(InputError, match=f"^{re.escape(str(green_clip))}: --crop: "):
        make_appearances([green_clip, green_clip], out, again, (9.0, 9.0))
    assert list(tmp_path.iterdir()) == []
